/** One panel's chart: a uPlot with our pens. */
import uPlot from "uplot";
import { number, tickLabel } from "../format";
import type { Colours } from "../palette";
import { FONT } from "../picture/draw";
import { runs } from "../picture/frame";
import { ticks } from "../zone";
import { spread, type PanelSpec } from "./panels";

export interface Setting {
  colours: Colours;
  rem: number;
  zone: string;
  reserve: number;
  /** Whether this panel carries the time axis. */
  foot: boolean;
  width: number;
  height: number;
  /** Length of the span to be shown, in milliseconds; uPlot knows it only after the value scales are set. */
  spanMs: () => number;
  onCursor: (index: number | null) => void;
}

export const SYNC = "taffrail-history";
/** Within spans longer than this the charge panel shows its whole scale. */
const WHOLE_MS = 12 * 3_600_000;

const STEPS = [-3, -2, -1, 0, 1, 2, 3, 4, 5].flatMap((e) => [1, 2, 2.5, 5].map((m) => m * 10 ** e));

const inKilowatts = (watts: number[]): boolean => watts.some((w) => Math.abs(w) >= 1000);

/** Decimals that a step of 1, 2, 2.5 or 5 times a power of ten needs. */
function decimals(step: number): number {
  for (let n = 0; n < 4; n += 1) {
    const scaled = step * 10 ** n;
    if (Math.abs(scaled - Math.round(scaled)) < 1e-6 * scaled) return n;
  }
  return 4;
}

// Whole pixels: uPlot scales the number it finds before "px" and knows no fractions.
export const axisFont = (rem: number): string => `400 ${Math.round(0.82 * rem)}px ${FONT}`;
export const footHeight = (rem: number): number => Math.round(1.7 * rem);
export const axisWidth = (rem: number): number => Math.round(3.1 * rem);
/** Right of the plot, for the names of lines. */
export const endWidth = (rem: number): number => Math.round(1.6 * rem);

export function chart(spec: PanelSpec, setting: Setting, target: HTMLElement): uPlot {
  const { colours, rem } = setting;
  const several = spec.lines.length > 1;
  const tones = [colours.trace, colours.out, colours.into, colours.mute];
  const font = axisFont(rem);
  const options: uPlot.Options = {
    width: setting.width,
    height: setting.height,
    ms: 1,
    padding: [Math.round(0.35 * rem), endWidth(rem), setting.foot ? 0 : Math.round(0.35 * rem), 0],
    legend: { show: false },
    cursor: {
      y: false,
      points: { show: false },
      drag: { x: false, y: false, setScale: false },
      sync: { key: SYNC, setSeries: false },
    },
    scales: {
      x: { time: false, auto: false },
      y: { range: (_u, low, high) => ends(spec, setting.spanMs(), low, high) },
    },
    axes: [timeAxis(setting, font), valueAxis(spec, setting, font)],
    series: [
      {},
      ...spec.lines.flatMap((_, line): uPlot.Series[] => {
        const edge = (): uPlot.Series => ({ width: 0, points: { show: false } });
        const tone = several ? tones[line % tones.length]! : colours.trace;
        const centre: uPlot.Series = { stroke: tone, width: spec.key === "soc" ? 1.75 : 1.25, points: { show: false } };
        return spec.signed
          ? [edge(), edge(), centre].map((series) => ({ ...series, paths: () => null }))
          : [edge(), edge(), centre];
      }),
      // Dashed, so that it is told from the line itself in any light.
      ...(spec.beside ? [{ stroke: colours.mute, width: 1.25, dash: [5, 3], points: { show: false } }] : []),
    ],
    bands: spec.signed || several ? [] : [{ series: [1, 2], fill: spec.key === "soc" ? colours.band : colours["out-soft"] }],
    hooks: {
      drawClear: [(u) => ground(u, spec, setting)],
      draw: [
        (u) => {
          if (spec.signed) flows(u, colours);
          if (several) lineEnds(u, spec, tones, font, rem);
        },
      ],
      setCursor: [(u) => setting.onCursor(u.cursor.idx ?? null)],
    },
  };
  return new uPlot(options, [[]], target);
}

export function timeAxis({ colours, rem, zone, foot }: Pick<Setting, "colours" | "rem" | "zone" | "foot">, font: string): uPlot.Axis {
  const inSpan = (u: uPlot, from: number, to: number) => ticks(from, to, zone, u.bbox.width / devicePixelRatio / (4.4 * rem));
  return {
    size: foot ? footHeight(rem) : 0,
    font,
    stroke: colours.mute,
    gap: 0.3 * rem,
    grid: { stroke: colours.line, width: 1 },
    ticks: { show: foot, stroke: colours.mute, width: 1, size: 0.28 * rem },
    splits: (u, _axis, from, to) => inSpan(u, from, to).map((tick) => tick.ms),
    values: (u, splits) => {
      if (!foot) return splits.map(() => "");
      const levels = new Map(inSpan(u, u.scales["x"]!.min!, u.scales["x"]!.max!).map((tick) => [tick.ms, tick]));
      return splits.map((ms) => tickLabel(levels.get(ms) ?? { ms, level: "minute" }, zone, true));
    },
  };
}

export function valueAxis(spec: Pick<PanelSpec, "unit">, { colours, rem, height }: Pick<Setting, "colours" | "rem" | "height">, font: string): uPlot.Axis {
  const ratio = spec.unit === "1";
  return {
    size: axisWidth(rem),
    font,
    stroke: colours.mute,
    gap: 0.45 * rem,
    space: Math.max(rem, height / 6),
    incrs: ratio ? [0.01, 0.02, 0.05, 0.1, 0.25, 0.5] : STEPS,
    grid: { stroke: colours.line, width: 1 },
    ticks: { show: false },
    values: (_u, splits) => {
      const step = Math.abs((splits[1] ?? 1) - (splits[0] ?? 0));
      const scale = ratio ? 100 : spec.unit === "W" && inKilowatts(splits) ? 1e-3 : 1;
      return splits.map((value) => number(value * scale, decimals(step * scale)));
    },
  };
}

/** Ends of the value scale: charge whole on long spans, flows about zero, everything else close about its data. */
function ends(spec: PanelSpec, spanMs: number, low: number | null, high: number | null): [number, number] {
  if (low === null || high === null || !Number.isFinite(low) || !Number.isFinite(high)) return [0, 1];
  if (spec.key === "soc") {
    if (spanMs > WHOLE_MS) return [0, 1];
    const slack = Math.max(0.02, (0.1 - (high - low)) / 2);
    return [Math.max(0, low - slack), Math.min(1, high + slack)];
  }
  const least = { V: 0.2, "°C": 2, "°F": 4, A: 1, W: 20 }[spec.unit] ?? 0.1;
  const slack = Math.max((high - low) * 0.06, (least - (high - low)) / 2);
  const bottom = low - slack;
  const top = high + slack;
  return spec.signed ? [Math.min(bottom, -slack), Math.max(top, slack)] : [bottom, top];
}

/** The paper of the plot; for charge the shoal water and the reserve, for flows the zero line. */
function ground(u: uPlot, spec: PanelSpec, { colours, reserve }: Setting): void {
  const { ctx } = u;
  const { left, top, width, height } = u.bbox;
  const y = (value: number): number => Math.min(Math.max(u.valToPos(value, "y", true), top), top + height);
  ctx.save();
  ctx.fillStyle = colours.deep;
  ctx.fillRect(left, top, width, height);
  if (spec.key === "soc") {
    ctx.fillStyle = colours.shoal;
    ctx.fillRect(left, y(reserve), width, top + height - y(reserve));
    ctx.fillStyle = colours["shoal-deep"];
    ctx.fillRect(left, y(Math.min(0.1, reserve)), width, top + height - y(Math.min(0.1, reserve)));
    const at = u.valToPos(reserve, "y", true);
    if (at >= top && at <= top + height) level(u, at, colours.mark);
  }
  ctx.restore();
}

/** A line across the plot. */
export function level(u: uPlot, y: number, colour: string): void {
  const { ctx } = u;
  // uPlot remembers what it last set on the context; it must find it so again.
  ctx.save();
  ctx.strokeStyle = colour;
  ctx.lineWidth = devicePixelRatio;
  ctx.beginPath();
  ctx.moveTo(u.bbox.left, Math.round(y) + 0.5);
  ctx.lineTo(u.bbox.left + u.bbox.width, Math.round(y) + 0.5);
  ctx.stroke();
  ctx.restore();
}

/** Shades a flow from zero: softly to its extremes, fully to its mean. */
function flows(u: uPlot, colours: Colours): void {
  const { ctx } = u;
  const { left, top, width, height } = u.bbox;
  const zero = u.valToPos(0, "y", true);
  const [times, highs, lows, means] = u.data as (number | null)[][];
  if (!times || !highs || !lows || !means) return;
  const x = (i: number): number => u.valToPos(times[i]!, "x", true);
  const y = (value: number): number => u.valToPos(value, "y", true);
  const side = (from: number, to: number, fills: [string, (number | null)[]][]): void => {
    ctx.save();
    ctx.beginPath();
    ctx.rect(left, Math.max(top, from), width, Math.max(0, Math.min(top + height, to) - Math.max(top, from)));
    ctx.clip();
    for (const [colour, values] of fills) {
      ctx.fillStyle = colour;
      for (const [a, b] of runs(means)) {
        ctx.beginPath();
        ctx.moveTo(x(a), zero);
        for (let i = a; i <= b; i += 1) ctx.lineTo(x(i), y(values[i] ?? means[i]!));
        ctx.lineTo(x(b), zero);
        ctx.closePath();
        ctx.fill();
      }
    }
    ctx.restore();
  };
  side(top, zero, [[colours["into-soft"], highs], [colours.into, means]]);
  side(zero, top + height, [[colours["out-soft"], lows], [colours.out, means]]);
  if (zero >= top && zero <= top + height) level(u, zero, colours.mute);
}

/** Names each line at its right end. */
function lineEnds(u: uPlot, spec: PanelSpec, tones: string[], font: string, rem: number): void {
  const { ctx } = u;
  const ratio = devicePixelRatio;
  const [, last] = u.series[0]!.idxs ?? [0, -1];
  const lines = spec.lines.flatMap((line, i) => {
    const values = u.data[3 + 3 * i] as (number | null)[] | undefined;
    let at = last;
    while (values && at >= 0 && (values[at] === null || values[at] === undefined)) at -= 1;
    const value = values?.[at];
    return value === null || value === undefined ? [] : [{ label: line.label, tone: tones[i % tones.length]!, y: u.valToPos(value, "y", true) }];
  });
  const { left, top, width, height } = u.bbox;
  const places = spread(lines.map((line) => line.y), 0.8 * rem * ratio, top, top + height);
  ctx.save();
  ctx.font = font.replace(/[\d.]+px/, `${0.82 * rem * ratio}px`);
  ctx.textAlign = "left";
  ctx.textBaseline = "middle";
  lines.forEach((line, i) => {
    ctx.fillStyle = line.tone;
    ctx.fillText(line.label, left + width + 0.9 * rem * ratio, places[i]!);
    ctx.strokeStyle = line.tone;
    ctx.lineWidth = ratio;
    ctx.beginPath();
    ctx.moveTo(left + width, line.y);
    ctx.lineTo(left + width + 0.75 * rem * ratio, places[i]!);
    ctx.stroke();
  });
  ctx.restore();
}
