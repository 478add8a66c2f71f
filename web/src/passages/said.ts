/** What the page says of passages, as text. Pure. */
import type { Bank } from "../api";
import { charge, clock, current, dayAndClock, energy, joined, NONE, number, percent, percents, power, temperature, voltage, type Quantity } from "../format";
import type { Part } from "../history/stack";
import { fromTo, length } from "../range";
import type { At, BandedSoc, Passage, Summary } from "../record";
import { pieces, type Piece } from "../sentence";
import type { Fact } from "../tables";
import { words } from "../words";
import { civil } from "../zone";

/** Less than this is missing of a span at every restart: not worth a word, s. */
const SLACK_S = 90;

/** Where and when the page is read. */
export interface Reader {
  present: number;
  zone: string;
}

export const time = (text: string | null): number | null => (text === null ? null : Date.parse(text));

/** Its name, or the moment it began. */
export function titleOf(passage: Passage, { present, zone }: Reader): string {
  if (passage.name) return passage.name;
  const begin = time(passage.begin);
  return begin === null ? words.passages.undated : words.passages.unnamed(dayAndClock(begin, zone, present));
}

/** From when to when; the present where it goes on. */
export function spanOf(passage: Passage, { present }: Reader): Part | null {
  const from = time(passage.begin);
  if (from === null) return null;
  return { from, to: Math.max(from, time(passage.end) ?? present) };
}

export function spanText(passage: Passage, reader: Reader): string {
  const span = spanOf(passage, reader);
  if (!span) return words.passages.undated;
  if (passage.going_on) return `${dayAndClock(span.from, reader.zone, reader.present)}, ${words.passages.goingOn}`;
  return fromTo(span.from, span.to, reader.present, reader.zone);
}

/** In whole minutes. */
export const lasted = (s: number): string => length(Math.max(1, Math.round(s / 60)) * 60_000);

/** Less charge than this, Ah, is nothing. */
const NOTHING_AH = 0.005;

/** Charge with its energy; a dash where nothing flowed. */
export function flow(ah: number | null, wh: number | null): [string, string] {
  if (ah === null) return [words.passages.notKnown, ""];
  return Math.abs(ah) < NOTHING_AH ? [NONE, ""] : [joined(charge(ah)), wh === null ? "" : joined(energy(wh))];
}

export const socText = (soc: BandedSoc | null): { text: string; more: string } | null =>
  soc && { text: joined(percent(soc.soc)), more: percents(soc.low, soc.high) };

/** One line of the list: duration, out, in, deepest, mean load. */
export interface Line {
  lasted: string;
  out: [string, string];
  in: [string, string];
  deepest: [string, string];
  load: string;
}

export function lineOf(passage: Passage, reader: Reader): Line | null {
  const { summary } = passage;
  const span = spanOf(passage, reader);
  if (!summary) return null;
  const deepest = socText(summary.soc_lowest);
  return {
    lasted: lasted(span ? (span.to - span.from) / 1000 : (summary.duration_s ?? summary.covered_s)),
    out: flow(summary.charge_out_ah, summary.energy_out_wh),
    in: flow(summary.charge_in_ah, summary.energy_in_wh),
    deepest: deepest ? [deepest.text, deepest.more] : [NONE, ""],
    load: summary.mean_load_a === null ? NONE : joined(current(summary.mean_load_a)),
  };
}

/** What happened, in words. */
export function sentence(passage: Passage): Piece[] {
  const { say } = words.passages;
  const { still, stillFor } = words.compare;
  const { summary } = passage;
  if (!summary) return pieces(`${passage.going_on ? `${still} ` : ""}${say.notSummed}`);
  const out = say.out(joined(charge(summary.charge_out_ah)), joined(energy(summary.energy_out_wh)));
  const back = summary.charge_in_ah < NOTHING_AH ? say.nothingIn : say.in(joined(charge(summary.charge_in_ah)), joined(energy(summary.energy_in_wh)));
  const long = lasted(summary.duration_s ?? summary.covered_s);
  const said: string[] = [passage.going_on ? stillFor(long) : say.lasted(long), `${out}, ${back}`];
  const lowest = socText(summary.soc_lowest);
  if (lowest) said.push(say.deepest(lowest.text, lowest.more));
  if (!summary.reserve_touched) said.push(say.reserveKept);
  else said.push(summary.below_reserve_s >= 60 ? say.reserveTouched(lasted(summary.below_reserve_s)) : say.reserveMet);
  return pieces(said.join(" "));
}

export function facts(summary: Summary, bank: Bank, span: Part | null, reader: Reader): Fact[] {
  const w = words.passages.summary;
  const whole = summary.duration_s ?? summary.covered_s;
  const short = summary.covered_s < whole - SLACK_S;
  const [begin, end, lowest] = [summary.soc_begin, summary.soc_end, summary.soc_lowest].map(socText);
  const at = time(summary.soc_lowest_time);
  const found: (Fact | false | null | undefined)[] = [
    { name: w.lasted, text: lasted(whole), more: short ? w.recorded(lasted(summary.covered_s)) : "" },
    amount(w.out, summary.charge_out_ah, summary.energy_out_wh),
    amount(w.in, summary.charge_in_ah, summary.energy_in_wh),
    { name: w.net, text: joined(charge(summary.net_ah, true)), more: joined(energy(summary.net_wh, true)) },
    begin && { name: w.begin, ...begin },
    end && { name: w.end, ...end },
    lowest && { name: w.lowest, text: lowest.text, more: [lowest.more, at !== null && w.at(momentIn(at, span, reader))].filter(Boolean).join(", ") },
    { name: w.reserve, ...reserve(summary) },
    summary.deep_excursions > 0 && { name: w.deep, text: number(summary.deep_excursions, 0), more: words.compare.deep },
    summary.mean_load_a !== null && {
      name: w.load,
      text: joined(current(summary.mean_load_a)),
      more: summary.load_95_a === null ? "" : w.load95(joined(current(summary.load_95_a))),
    },
    ...above(summary, bank),
    summary.distance_nm !== null && {
      name: w.distance,
      text: joined({ value: number(summary.distance_nm, 1), unit: w.nm }),
      more: summary.wh_per_nm === null ? "" : w.perMile(joined({ value: number(summary.wh_per_nm, 0), unit: w.wh })),
    },
    { name: w.line, text: summary.reconciled ? w.reconciled : w.live, more: summary.reconciled ? w.reconciledMore : "" },
  ];
  return found.filter((fact): fact is Fact => Boolean(fact));
}

function amount(name: string, ah: number, wh: number): Fact {
  const [text, more] = flow(ah, wh);
  return { name, text, more };
}

function reserve(summary: Summary): { text: string; class?: string } {
  const w = words.passages.summary;
  if (!summary.reserve_touched) return { text: w.never };
  return { text: summary.below_reserve_s >= 60 ? lasted(summary.below_reserve_s) : w.touched, class: "minded" };
}

/** Time above each rate, up to the first that was never exceeded. */
function above(summary: Summary, bank: Bank): Fact[] {
  const w = words.passages.summary;
  const rates: [keyof typeof w.above, number, number][] = [
    ["c5", summary.above_c5_s, 5],
    ["c2", summary.above_c2_s, 2],
    ["c1", summary.above_1c_s, 1],
  ];
  return rates
    .filter(([rate, s]) => rate === "c5" || s > 0)
    .map(([rate, s, hours]) => ({
      name: w.above[rate],
      text: s > 0 ? lasted(s) : w.never,
      more: w.aboveMeans(joined(current(bank.rated_capacity_ah / hours))),
    }));
}

/** A moment of a passage: by the clock alone where all of it lies on one day. */
export function momentIn(ms: number, span: Part | null, { present, zone }: Reader): string {
  const oneDay = span !== null && civil(span.from, zone).dayNumber === civil(span.to, zone).dayNumber;
  return oneDay ? clock(ms, zone) : dayAndClock(ms, zone, present);
}

/** Least and greatest of one quantity, each with its moment. */
export interface Extreme {
  name: string;
  least: [string, string];
  most: [string, string];
}

export function extremes(summary: Summary, span: Part | null, reader: Reader): Extreme[] {
  const w = words.passages.extremes;
  const cell = (at: At | null, unit: (v: number) => Quantity): [string, string] => {
    if (!at) return [NONE, ""];
    const when = time(at.time);
    return [joined(unit(at.value)), when === null ? "" : momentIn(when, span, reader)];
  };
  const rows: [string, At | null, At | null, (v: number) => Quantity][] = [
    [w.voltage, summary.voltage_min, summary.voltage_max, voltage],
    [w.current, summary.current_min, summary.current_max, (a) => current(a, true)],
    [w.power, summary.power_min, summary.power_max, (p) => power(p, true)],
    [w.temperature, summary.temperature_min, summary.temperature_max, temperature],
  ];
  return rows
    .filter(([, least, most]) => least ?? most)
    .map(([name, least, most, unit]) => ({ name, least: cell(least, unit), most: cell(most, unit) }));
}
