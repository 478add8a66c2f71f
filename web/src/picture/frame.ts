/** Where things stand on the picture: pixels from times, charges and currents. Pure. */
import type { Now } from "../api";

export const HOUR_MS = 3_600_000;
export const PAST_MS = 24 * HOUR_MS;

export interface Frame {
  width: number;
  height: number;
  left: number;
  right: number;
  /** The plot of charge. */
  top: number;
  bottom: number;
  /** The strip of current under it. */
  stripTop: number;
  stripBottom: number;
}

export type Scale = (value: number) => number;

export function linear(from: number, to: number, a: number, b: number): Scale {
  const slope = to === from ? 0 : (b - a) / (to - from);
  return (value) => a + (value - from) * slope;
}

export function frame(width: number, height: number, rem: number): Frame {
  const strip = Math.min(Math.max(0.17 * height, 2.6 * rem), 5 * rem);
  const stripBottom = height - 1.65 * rem;
  const stripTop = stripBottom - strip;
  return {
    width,
    height,
    left: 2.9 * rem,
    right: width - 0.5 * rem,
    top: 1.6 * rem,
    bottom: stripTop - 0.75 * rem,
    stripTop,
    stripBottom,
  };
}

/** How far ahead the picture reaches, in milliseconds: past the reserve (or full) where that lies within two days. */
export function reach(now: Now, before: number | null): number {
  const ends = [now.full_high_s, now.reserve_high_s, now.endurance_high_s].filter((s): s is number => s !== null && s > 0);
  const goal = (ends[0] ?? 12 * 3600) * 1000 * 1.15;
  const wanted = Math.min(Math.max(goal, 6 * HOUR_MS), 48 * HOUR_MS);
  // A little slack, so that the picture doesn't stretch and shrink with every sample.
  if (before !== null && wanted <= before && wanted > 0.7 * before) return before;
  return Math.ceil(wanted / (2 * HOUR_MS)) * 2 * HOUR_MS;
}

/** Round ends around the currents shown, zero always between them, each side at least a quarter of the other. */
export function currentEnds(least: number, most: number): { low: number; high: number } {
  const size = Math.max(-least, most, 0.4);
  return {
    low: -roundUp(Math.max(-least, size / 4)),
    high: roundUp(Math.max(most, size / 4)),
  };
}

/** The next of 1, 2, 5 times a power of ten. */
export function roundUp(value: number): number {
  const power = 10 ** Math.floor(Math.log10(value));
  const step = [1, 2, 5, 10].find((each) => each * power >= value * (1 - 1e-9)) ?? 10;
  return step * power;
}

/** Runs of indexes without a gap. */
export function runs(values: (number | null | undefined)[]): [number, number][] {
  const found: [number, number][] = [];
  let start = -1;
  for (let i = 0; i <= values.length; i += 1) {
    const there = i < values.length && values[i] !== null && values[i] !== undefined;
    if (there && start < 0) start = i;
    if (!there && start >= 0) {
      found.push([start, i - 1]);
      start = -1;
    }
  }
  return found;
}

/** The index whose time is nearest; the times rise. -1 where there are none. */
export function nearest(times: number[], at: number): number {
  let low = 0;
  let high = times.length - 1;
  if (high < 0) return -1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (times[middle]! <= at) low = middle;
    else high = middle;
  }
  return at - times[low]! <= times[high]! - at ? low : high;
}

/** The fan's value at seconds ahead, between its points; null beyond its end. */
export function fanAt(ahead: Now["ahead"], t_s: number): Now["ahead"][number] | null {
  const next = ahead.findIndex((point) => point.t_s >= t_s);
  if (next < 0) return null;
  const b = ahead[next]!;
  const a = ahead[next - 1] ?? b;
  const part = b.t_s === a.t_s ? 0 : (t_s - a.t_s) / (b.t_s - a.t_s);
  const between = (x: number, y: number): number => x + (y - x) * part;
  return { t_s, soc: between(a.soc, b.soc), soc_low: between(a.soc_low, b.soc_low), soc_high: between(a.soc_high, b.soc_high) };
}
