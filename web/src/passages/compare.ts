/** Two passages side by side, or one beside the typical one: each figure, and in words how they differ. Pure. */
import { charge, current, energy, joined, NONE, number, percent, temperature, temperatureChange, type Quantity } from "../format";
import { length } from "../range";
import type { Passage, Summary } from "../record";
import { words } from "../words";
import { middle, type Middle } from "./typical";

type Way = keyof typeof words.compare.way;

interface Figure {
  key: keyof typeof words.compare.figure;
  of: (summary: Summary) => number | null;
  /** What a greater and a lesser value is called. */
  ways: [Way, Way];
  text: (value: number) => string;
  /** Without its unit, where another stands beside it. */
  bare: (value: number) => string;
  change: (difference: number) => string;
  /** Less than this is no difference. */
  least: number;
  /** From a true nought, so that shares mean something. */
  counted: boolean;
}

const MORE: [Way, Way] = ["more", "less"];
const signed = (difference: number, size: string): string => `${difference < 0 ? "\u2212" : "+"}${size}`;
const span = (s: number): string => (s < 30 ? words.passages.summary.never : length(Math.max(1, Math.round(s / 60)) * 60_000));

const amount = (key: Figure["key"], of: Figure["of"], unit: (value: number, plus?: boolean) => Quantity, least: number): Figure => ({
  key,
  of,
  ways: MORE,
  text: (value) => (value < least ? NONE : joined(unit(value))),
  bare: (value) => unit(value).value,
  change: (difference) => joined(unit(difference, true)),
  least,
  counted: true,
});
const time = (key: Figure["key"], of: Figure["of"], ways: [Way, Way]): Figure => ({
  key,
  of,
  ways,
  text: span,
  bare: span,
  change: (difference) => signed(difference, span(Math.abs(difference))),
  least: 60,
  counted: true,
});
const warmth = (key: Figure["key"], of: Figure["of"]): Figure => ({
  key,
  of,
  ways: ["warmer", "colder"],
  text: (value) => joined(temperature(value)),
  bare: (value) => temperature(value).value,
  change: (difference) => signed(difference, joined(temperatureChange(Math.abs(difference)))),
  least: 0.5,
  counted: false,
});
const points = (share: number): string => number(Math.abs(share) * 100, 0);
const perMile = (wh: number, plus = false): Quantity => ({ value: number(wh, 0, plus), unit: words.passages.summary.wh });

const FIGURES: Figure[] = [
  time("lasted", (summary) => summary.duration_s ?? summary.covered_s, ["longer", "shorter"]),
  amount("out", (summary) => summary.charge_out_ah, charge, 0.05),
  amount("energy", (summary) => summary.energy_out_wh, energy, 5),
  amount("in", (summary) => summary.charge_in_ah, charge, 0.05),
  {
    key: "deepest",
    of: (summary) => summary.soc_lowest?.soc ?? null,
    ways: ["shallower", "deeper"],
    text: (soc) => joined(percent(soc)),
    bare: (soc) => percent(soc).value,
    change: (difference) => words.compare.points(signed(difference, points(difference))),
    least: 0.01,
    counted: false,
  },
  amount("load", (summary) => summary.mean_load_a, current, 0.05),
  amount("load95", (summary) => summary.load_95_a, current, 0.05),
  amount("mile", (summary) => summary.wh_per_nm, perMile, 1),
  warmth("coldest", (summary) => summary.temperature_min?.value ?? null),
  warmth("warmest", (summary) => summary.temperature_max?.value ?? null),
  time("above", (summary) => summary.above_c5_s, MORE),
];

/** Shares closer to each other than this are as good as the same. */
const SAME = 0.02;

/** One line of the comparison: a figure of the one, of the other, and how they differ. */
export interface Compared {
  name: string;
  own: string;
  other: [string, string];
  difference: [string, string];
}

const NOT: [string, string] = [NONE, ""];
const known = (value: number | null): value is number => value !== null;

/** Figures that neither has are left out. */
function rows(own: Summary, of: (figure: Figure) => Pick<Compared, "other" | "difference"> | null): Compared[] {
  return FIGURES.flatMap((figure) => {
    const [value, beside] = [figure.of(own), of(figure)];
    if (value === null && !beside) return [];
    return [{ name: words.compare.figure[figure.key], own: known(value) ? figure.text(value) : NONE, other: NOT, difference: NOT, ...beside }];
  });
}

/** With another passage. */
export function compared(own: Summary, other: Summary): Compared[] {
  return rows(own, (figure) => {
    const [a, b] = [figure.of(own), figure.of(other)];
    if (b === null) return null;
    return { other: [figure.text(b), ""], difference: a === null ? NOT : differing(figure, a, b, own, other) };
  });
}

function differing(figure: Figure, a: number, b: number, own: Summary, other: Summary): [string, string] {
  const w = words.compare;
  const difference = a - b;
  if (Math.abs(difference) < figure.least || (figure.counted && Math.abs(difference) < SAME * b)) return [w.same, ""];
  const way = w.way[figure.ways[difference > 0 ? 0 : 1]];
  const change = figure.change(difference);
  if (figure.key === "deepest") return [change, overlap(own, other) ? w.overlapping(way) : way];
  if (!figure.counted || b < figure.least) return [change, way];
  return [change, a >= 2 * b ? w.times(number(a / b, a < 10 * b ? 1 : 0)) : w.share(joined(percent(Math.abs(difference) / b)), way)];
}

/** Whether the bands of the deepest charge leave open which was deeper. */
function overlap({ soc_lowest: a }: Summary, { soc_lowest: b }: Summary): boolean {
  return a !== null && b !== null && a.low <= b.high && b.low <= a.high;
}

/** With the typical one. */
export function besideTypical(own: Summary, others: (Passage & { summary: Summary })[]): Compared[] {
  return rows(own, (figure) => {
    const usual = middle(others.map(({ summary }) => figure.of(summary)).filter(known));
    if (!usual) return null;
    const a = figure.of(own);
    const [low, high] = [figure.bare(usual.low), figure.bare(usual.high)];
    return {
      other: [figure.text(usual.value), low === high ? "" : words.learned.band(low, high)],
      difference: a === null ? NOT : unusual(figure, a, usual),
    };
  });
}

function unusual(figure: Figure, a: number, { value, low, high }: Middle): [string, string] {
  const w = words.compare;
  const difference = a - value;
  const change = Math.abs(difference) < figure.least ? w.same : figure.change(difference);
  const within = a >= low - figure.least && a <= high + figure.least;
  return [change, within ? w.usual : w.than(w.way[figure.ways[difference > 0 ? 0 : 1]])];
}
