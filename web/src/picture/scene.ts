/** The picture's content in pixels, ready to be drawn: computed once for drawing and for finding labels their place. Pure. */
import type { History, Mark, Now } from "../api";
import { midnights, ticks, type Tick } from "../zone";
import { currentEnds, frame, linear, nearest, PAST_MS, runs, type Frame, type Scale } from "./frame";
import type { Box } from "./labels";

export interface Point {
  x: number;
  y: number;
}

/** A stretch of band: upper and lower edge of one count, and its centre. */
export interface Ribbon {
  upper: Point[];
  lower: Point[];
  centre: Point[];
}

export interface Scene {
  frame: Frame;
  from: number;
  to: number;
  present: number;
  /** Whether the present lies within the span shown. */
  here: boolean;
  /** Ahead is not where it goes, but where it would go. */
  supposed: boolean;
  x: Scale;
  y: Scale;
  current: Scale;
  ends: { low: number; high: number };
  past: Ribbon[];
  fan: Ribbon | null;
  strip: { x: number; top: number; bottom: number; mean: number }[][];
  meanCurrent: number | null;
  /** The last sample on the trace. */
  dot: Point | null;
  reserve: number;
  /** Where the fan's edges meet the reserve, in pixels; null where they don't, or lie outside. */
  bracket: { a: number; b: number; open: boolean } | null;
  fixes: { mark: Mark; at: Point }[];
  ticks: Tick[];
  midnights: number[];
}

export interface Subject {
  now: Now;
  past: History | null;
  present: number;
  reach: number;
  zone: string;
  /** The sensor is silent: the past stands, nothing is drawn as now or ahead. */
  old: boolean;
  /** How far the span is moved into the past, milliseconds. */
  shift?: number;
  /** `now` holds an outlook that somebody has asked for, in place of the real one. */
  supposed?: boolean;
}

export function scene(subject: Subject, width: number, height: number, rem: number): Scene {
  const { now, past, present, reach, zone, old, shift = 0, supposed = false } = subject;
  const box = frame(width, height, rem);
  const from = present - PAST_MS - shift;
  const to = present + reach - shift;
  const here = to >= present;
  const ahead = here && !old;
  const x = linear(from, to, box.left, box.right);
  const y = linear(0, 1, box.bottom, box.top);
  const currents = past?.channels["current_a"];
  const also = here ? [now.current_a, now.mean_current_a] : [];
  const low = extreme(currents?.min ?? currents?.mean, Math.min, also);
  const high = extreme(currents?.max ?? currents?.mean, Math.max, also);
  const ends = currentEnds(low, high);
  const current = linear(ends.low, ends.high, box.stripBottom, box.stripTop);
  const ribbons = past ? pastRibbons(past, now, present, x, y) : [];
  const places = (box.right - box.left) / (3.3 * rem);
  return {
    frame: box,
    from,
    to,
    present,
    here,
    supposed,
    x,
    y,
    current,
    ends,
    past: ribbons,
    fan: ahead ? fan(now, present, to, x, y) : null,
    strip: past ? strip(past, x, current) : [],
    meanCurrent: ahead ? now.mean_current_a : null,
    dot: here ? dot(now, present, x, y) : null,
    reserve: now.reserve,
    bracket: ahead ? bracket(now, present, to, x) : null,
    fixes: past ? fixes(past, from, to, x, y) : [],
    ticks: ticks(from, to, zone, places),
    midnights: midnights(from, to, zone),
  };
}

function extreme(values: (number | null)[] | undefined, pick: (...v: number[]) => number, also: (number | null)[]): number {
  let found = 0;
  for (const value of [...also, ...(values ?? [])]) if (value !== null) found = pick(found, value);
  return found;
}

function pastRibbons(past: History, now: Now, present: number, x: Scale, y: Scale): Ribbon[] {
  const soc = past.channels["soc"];
  if (!soc) return [];
  const ribbons = runs(soc.mean).map(([a, b]): Ribbon => {
    const ribbon: Ribbon = { upper: [], lower: [], centre: [] };
    for (let i = a; i <= b; i += 1) {
      const px = x(past.time_ms[i]!);
      const mean = soc.mean[i]!;
      ribbon.upper.push({ x: px, y: y(soc.high?.[i] ?? mean) });
      ribbon.lower.push({ x: px, y: y(soc.low?.[i] ?? mean) });
      ribbon.centre.push({ x: px, y: y(mean) });
    }
    return ribbon;
  });
  // The last bin runs on into now, unless something is missing between.
  const lastTime = past.time_ms[runs(soc.mean).at(-1)?.[1] ?? -1];
  const last = ribbons.at(-1);
  const sampled = now.time === null ? null : Date.parse(now.time);
  if (last && lastTime !== undefined && sampled !== null && now.soc !== null && sampled - lastTime < 3 * past.step_ms + 90_000) {
    const px = x(Math.min(sampled, present));
    last.upper.push({ x: px, y: y(now.soc_high ?? now.soc) });
    last.lower.push({ x: px, y: y(now.soc_low ?? now.soc) });
    last.centre.push({ x: px, y: y(now.soc) });
  }
  return ribbons;
}

function fan(now: Now, present: number, to: number, x: Scale, y: Scale): Ribbon | null {
  if (now.ahead.length < 2) return null;
  const ribbon: Ribbon = { upper: [], lower: [], centre: [] };
  for (const point of now.ahead) {
    const at = present + point.t_s * 1000;
    const px = x(at);
    ribbon.upper.push({ x: px, y: y(point.soc_high) });
    ribbon.lower.push({ x: px, y: y(point.soc_low) });
    // The centre ends where it meets empty or full; the edges go on to show the doubt of when.
    const lastCentre = ribbon.centre.at(-1);
    if (!lastCentre || (lastCentre.y !== y(0) && lastCentre.y !== y(1))) ribbon.centre.push({ x: px, y: y(point.soc) });
    if (at > to) break;
  }
  return ribbon;
}

function dot(now: Now, present: number, x: Scale, y: Scale): Point | null {
  if (now.soc === null || now.time === null) return null;
  return { x: x(Math.min(Date.parse(now.time), present)), y: y(now.soc) };
}

function strip(past: History, x: Scale, current: Scale): Scene["strip"] {
  const column = past.channels["current_a"];
  if (!column) return [];
  return runs(column.mean).map(([a, b]) => {
    const stretch: Scene["strip"][number] = [];
    for (let i = a; i <= b; i += 1) {
      const mean = column.mean[i]!;
      stretch.push({
        x: x(past.time_ms[i]!),
        top: current(column.max?.[i] ?? mean),
        bottom: current(column.min?.[i] ?? mean),
        mean: current(mean),
      });
    }
    return stretch;
  });
}

function bracket(now: Now, present: number, to: number, x: Scale): Scene["bracket"] {
  const { reserve_low_s: low, reserve_high_s: high } = now;
  if (low === null || high === null || low <= 0) return null;
  const from = present + low * 1000;
  if (from >= to) return null;
  const end = present + high * 1000;
  return { a: x(from), b: x(Math.min(end, to)), open: end > to };
}

function fixes(past: History, from: number, to: number, x: Scale, y: Scale): Scene["fixes"] {
  const soc = past.channels["soc"]?.mean;
  return past.marks.flatMap((mark) => {
    if (mark.kind !== "fix" || mark.time_ms < from || mark.time_ms > to || !soc) return [];
    const value = soc[nearest(past.time_ms, mark.time_ms)];
    return value === null || value === undefined ? [] : [{ mark, at: { x: x(mark.time_ms), y: y(value) } }];
  });
}

/** Narrow boxes along a ribbon, for labels to keep clear of. */
export function boxesAlong(ribbon: Ribbon, stride: number): Box[] {
  const boxes: Box[] = [];
  for (let i = 1; i < ribbon.upper.length; i += 1) {
    const a = i - 1;
    const x0 = ribbon.upper[a]!.x;
    const x1 = ribbon.upper[i]!.x;
    // Long steps (the fan's quarter hours on a wide screen) are cut, or their box would cover the whole slope.
    const cuts = Math.max(1, Math.ceil((x1 - x0) / stride));
    for (let k = 0; k < cuts; k += 1) {
      const between = (p: number, q: number, part: number): number => p + (q - p) * part;
      const sides = [k / cuts, (k + 1) / cuts].flatMap((part) => [
        between(ribbon.upper[a]!.y, ribbon.upper[i]!.y, part),
        between(ribbon.lower[a]!.y, ribbon.lower[i]!.y, part),
      ]);
      const top = Math.min(...sides) - 2;
      const bottom = Math.max(...sides) + 2;
      const left = between(x0, x1, k / cuts);
      boxes.push({ x: left - 1, y: top, w: (x1 - x0) / cuts + 2, h: bottom - top });
    }
  }
  return boxes;
}
