/** What a panel draws itself: its water, its midnights, its flows, the names of its lines. */
import type uPlot from "uplot";
import type { Colours } from "../palette";
import { runs } from "../picture/frame";
import { midnights } from "../zone";
import type { PanelSpec } from "./panels";

const DAY_MS = 86_400_000;
/** More midnights than these are told by the axis alone. */
const MIDNIGHTS = 16;
/** A name cut to no more letters than these is an abbreviation. */
const FEW_LETTERS = 5;

export interface Paper {
  colours: Colours;
  zone: string;
  reserve: number;
}

/** The paper of the plot; for charge the shoal water and the reserve. */
export function ground(u: uPlot, spec: PanelSpec, { colours, reserve }: Paper): void {
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

/** The midnights of the boat's zone, stronger than the lines between them. */
export function nights(u: uPlot, { colours, zone }: Paper): void {
  const { min, max } = u.scales["x"]!;
  if (typeof min !== "number" || typeof max !== "number" || max - min > MIDNIGHTS * DAY_MS) return;
  const { ctx } = u;
  const { top, height } = u.bbox;
  ctx.save();
  ctx.fillStyle = colours.mute;
  ctx.globalAlpha = 0.4;
  for (const ms of midnights(min, max, zone)) ctx.fillRect(Math.round(u.valToPos(ms, "x", true)), top, devicePixelRatio, height);
  ctx.restore();
}

/** A line across the plot. */
export function level(u: uPlot, y: number, colour: string): void {
  const { ctx } = u;
  // uPlot remembers what it last set on the context, a dash of its lines too; it must find it so again.
  ctx.save();
  ctx.setLineDash([]);
  ctx.strokeStyle = colour;
  ctx.lineWidth = devicePixelRatio;
  ctx.beginPath();
  ctx.moveTo(u.bbox.left, Math.round(y) + 0.5);
  ctx.lineTo(u.bbox.left + u.bbox.width, Math.round(y) + 0.5);
  ctx.stroke();
  ctx.restore();
}

/** The zero of a flow. */
export function zeroLine(u: uPlot, colour: string): void {
  const zero = u.valToPos(0, "y", true);
  if (zero >= u.bbox.top && zero <= u.bbox.top + u.bbox.height) level(u, zero, colour);
}

/** Shades a flow from zero: softly to its extremes, fully to its mean. */
export function flows(u: uPlot, colours: Colours): void {
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
        // One bin between two gaps is still to be seen.
        const end = Math.max(x(b), x(a) + devicePixelRatio);
        ctx.beginPath();
        ctx.moveTo(x(a), zero);
        for (let i = a; i <= b; i += 1) ctx.lineTo(x(i), y(values[i] ?? means[i]!));
        ctx.lineTo(end, y(values[b] ?? means[b]!));
        ctx.lineTo(end, zero);
        ctx.closePath();
        ctx.fill();
      }
    }
    ctx.restore();
  };
  side(top, zero, [[colours["into-soft"], highs], [colours.into, means]]);
  side(zero, top + height, [[colours["out-soft"], lows], [colours.out, means]]);
}

/** Bins between two gaps: no line reaches them, so they are drawn as dots. */
export function alone(values: (number | null | undefined)[], from: number, to: number): number[] {
  const found: number[] = [];
  const none = (i: number): boolean => values[i] === null || values[i] === undefined;
  for (let i = from; i <= to; i += 1) if (!none(i) && none(i - 1) && none(i + 1)) found.push(i);
  return found;
}

/** A name as it fits: whole, cut with an ellipsis, or to a few letters and a full stop. */
function fitted(ctx: CanvasRenderingContext2D, text: string, room: number): string {
  const wide = (each: string): boolean => ctx.measureText(each).width > room;
  if (!wide(text)) return text;
  let cut = text;
  while (cut.length > 1 && wide(`${cut}\u2026`)) cut = cut.slice(0, -1).trimEnd();
  return cut.length > FEW_LETTERS ? `${cut}\u2026` : `${cut}.`;
}

/** Names each line at its right end, in `room` device pixels. */
export function lineEnds(u: uPlot, spec: PanelSpec, tones: string[], font: string, rem: number, end: number): void {
  const { ctx } = u;
  const ratio = devicePixelRatio;
  const [, last] = u.series[0]!.idxs ?? [0, -1];
  const { left, top, width, height } = u.bbox;
  const within = (y: number): number => Math.min(Math.max(y, top), top + height);
  const lines = spec.lines.flatMap((line, i) => {
    const values = u.data[3 + 3 * i] as (number | null)[] | undefined;
    let at = last;
    while (values && at >= 0 && (values[at] === null || values[at] === undefined)) at -= 1;
    const value = values?.[at];
    return value === null || value === undefined ? [] : [{ label: line.label, tone: tones[i]!, y: within(u.valToPos(value, "y", true)) }];
  });
  const places = spread(lines.map((line) => line.y), 0.8 * rem * ratio, top + 0.3 * rem * ratio, top + height - 0.3 * rem * ratio);
  ctx.save();
  ctx.setLineDash([]);
  ctx.font = font.replace(/[\d.]+px/, `${0.82 * rem * ratio}px`);
  ctx.textAlign = "left";
  ctx.textBaseline = "middle";
  lines.forEach((line, i) => {
    ctx.fillStyle = line.tone;
    ctx.fillText(fitted(ctx, line.label, (end - 0.9 * rem) * ratio), left + width + 0.9 * rem * ratio, places[i]!);
    ctx.strokeStyle = line.tone;
    ctx.lineWidth = ratio;
    ctx.beginPath();
    ctx.moveTo(left + width, line.y);
    ctx.lineTo(left + width + 0.75 * rem * ratio, places[i]!);
    ctx.stroke();
  });
  ctx.restore();
}

/** Labels pushed apart so that none covers another; the order of the lines is kept. Pixels, down is greater. */
export function spread(wanted: number[], gap: number, top: number, bottom: number): number[] {
  const order = wanted.map((_, i) => i).sort((a, b) => wanted[a]! - wanted[b]!);
  const placed = [...wanted];
  let floor = top;
  for (const i of order) {
    placed[i] = Math.max(wanted[i]!, floor);
    floor = placed[i]! + gap;
  }
  let ceiling = bottom;
  for (const i of order.reverse()) {
    placed[i] = Math.min(placed[i]!, ceiling);
    ceiling = placed[i]! - gap;
  }
  return placed;
}
