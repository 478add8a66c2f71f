/** The typical passage of a bank: of each figure the median of its last reconciled ones, and their middle half. Pure. */
import type { Passage, Summary } from "../record";
import { spotAt, type Line, type Spot } from "./trace";

/** So many of the last passages count, and with fewer than the least nothing is called typical. */
export const MOST = 10;
export const LEAST = 3;
/** Places of the typical line. */
const PLACES = 60;

/** Median and quartiles, and of how many. */
export interface Middle {
  value: number;
  low: number;
  high: number;
  count: number;
}

/** The value below which a share of all lie, between the two nearest; the values rise. */
function quantile(rising: number[], share: number): number {
  const at = share * (rising.length - 1);
  const [a, b] = [rising[Math.floor(at)]!, rising[Math.ceil(at)]!];
  return a + (b - a) * (at - Math.floor(at));
}

/** Null of fewer than the least. */
export function middle(values: number[]): Middle | null {
  if (values.length < LEAST) return null;
  const rising = [...values].sort((a, b) => a - b);
  return { value: quantile(rising, 0.5), low: quantile(rising, 0.25), high: quantile(rising, 0.75), count: rising.length };
}

/** The last reconciled passages beside one, the newest first: what is typical is taken from them. */
export function ones(passages: Passage[], beside: number): (Passage & { summary: Summary })[] {
  return passages
    .filter((each): each is Passage & { summary: Summary } => each.id !== beside && each.settled && !each.going_on && each.summary !== null && each.begin !== null)
    .sort((a, b) => Date.parse(b.begin!) - Date.parse(a.begin!))
    .slice(0, MOST);
}

/** The typical line of charge since the start: at each moment of those that still last. It ends where fewer than the least do. */
export function typicalLine(lines: Line[]): Line {
  const ends = lines.map((line) => line.at(-1)?.at(-1)?.ms ?? 0).sort((a, b) => b - a);
  const end = ends[LEAST - 1];
  if (!end) return [];
  const spots: Spot[] = [];
  for (let i = 0; i <= PLACES; i += 1) {
    const ms = (i * end) / PLACES;
    const found = middle(lines.flatMap((line) => spotAt(line, ms)?.soc ?? []));
    if (found) spots.push({ ms, soc: found.value, low: found.low, high: found.high });
  }
  return spots.length > 1 ? [spots] : [];
}
