/** The charge line of a passage in small: from a history to places, and from places to paths. Pure. */
import type { History } from "../api";
import type { Part } from "../history/stack";
import { runs } from "../picture/frame";

/** Charge with its band, so many milliseconds after the start. */
export interface Spot {
  ms: number;
  soc: number;
  low: number;
  high: number;
}

/** Stretches of the line without a gap. */
export type Line = Spot[][];

/** The line within a span. A bin of the history stands at its middle; those at the ends reach to them. */
export function lineIn({ channels, time_ms, step_ms }: History, { from, to }: Part): Line {
  const soc = channels["soc"];
  if (!soc) return [];
  // From the middle of the bin before, of which only a part lies within.
  const reach = 1.5 * step_ms;
  return runs(soc.mean).flatMap(([first, last]) => {
    const spots: Spot[] = [];
    for (let i = first; i <= last; i += 1) {
      const middle = time_ms[i]! + step_ms / 2;
      if (time_ms[i]! + step_ms <= from || time_ms[i]! >= to) continue;
      const mean = soc.mean[i]!;
      spots.push({ ms: Math.min(Math.max(middle, from), to) - from, soc: mean, low: soc.low?.[i] ?? mean, high: soc.high?.[i] ?? mean });
    }
    const [begin, end] = [spots[0], spots.at(-1)];
    if (!begin || !end) return [];
    if (begin.ms > 0 && begin.ms <= reach) spots.unshift({ ...begin, ms: 0 });
    if (end.ms < to - from && end.ms >= to - from - reach) spots.push({ ...end, ms: to - from });
    return [spots];
  });
}

/** The charge at a moment, between its places; null in a gap or outside. */
export function spotAt(line: Line, ms: number): Spot | null {
  for (const spots of line) {
    const next = spots.findIndex((spot) => spot.ms >= ms);
    const b = spots[next];
    if (!b || (next === 0 && b.ms > ms)) continue;
    const a = spots[next - 1] ?? b;
    const part = b.ms === a.ms ? 0 : (ms - a.ms) / (b.ms - a.ms);
    const between = (key: "soc" | "low" | "high"): number => a[key] + (b[key] - a[key]) * part;
    return { ms, soc: between("soc"), low: between("low"), high: between("high") };
  }
  return null;
}

/** Paths in a square of 100: the whole length is its width, an empty bank its foot and a full one its top. */
export function paths(line: Line, length: number): { trace: string; band: string } {
  const round = (value: number): string => String(Math.round(value * 100) / 100);
  const place = (ms: number, soc: number): string => `${round((100 * ms) / length)} ${round(100 - 100 * Math.min(Math.max(soc, 0), 1))}`;
  const along = (places: string[]): string => `M${places.join("L")}`;
  return {
    trace: line.map((spots) => along(spots.map(({ ms, soc }) => place(ms, soc)))).join(""),
    band: line
      .map((spots) => `${along([...spots.map(({ ms, high }) => place(ms, high)), ...[...spots].reverse().map(({ ms, low }) => place(ms, low))])}Z`)
      .join(""),
  };
}
