/** What a chosen span held, as text. Pure. */
import type { History, Sums } from "../api";
import { channel, charge, clockSeconds, current, day, energy, joined, percent, percents, power } from "../format";
import { momentIn, type Reader } from "../passages/said";
import { length } from "../range";
import type { Fact } from "../tables";
import { words } from "../words";
import { civil } from "../zone";
import { extremes, mean, type Reached } from "./columns";
import type { PanelSpec } from "./panels";
import type { Part } from "./stack";

/** Less than this is missing of a span at every restart: not worth a word, s. */
const SLACK_S = 90;
/** Bins shorter than this show single samples, ms. */
const FINE_MS = 60_000;

/** Sums and means, and the charge at both ends. */
export function factsOf(sums: Sums, history: History, span: Part): Fact[] {
  const w = words.charts.part;
  const hours = sums.covered_s / 3600;
  const whole_ms = span.to - span.from;
  const [ah, wh] = [sums.charge_in_ah - sums.charge_out_ah, sums.energy_in_wh - sums.energy_out_wh];
  const part = sums.covered_s < whole_ms / 1000 - SLACK_S;
  const [begin, end] = ["first", "last"].map((which) => socAt(history, which === "first"));
  return [
    { name: w.in, text: joined(charge(sums.charge_in_ah)), more: joined(energy(sums.energy_in_wh)) },
    { name: w.out, text: joined(charge(sums.charge_out_ah)), more: joined(energy(sums.energy_out_wh)) },
    { name: w.net, text: joined(charge(ah, true)), more: joined(energy(wh, true)) },
    { name: w.current, text: joined(current(ah / hours, true)) },
    { name: w.power, text: joined(power(wh / hours, true)) },
    ...(begin ? [{ name: w.begin, ...begin }] : []),
    ...(end ? [{ name: w.end, ...end }] : []),
    { name: w.recorded, text: part ? w.part(length(sums.covered_s * 1000), length(whole_ms)) : w.all },
  ];
}

/** The charge with its band in the first or last bin that has one. */
function socAt(history: History, first: boolean): { text: string; more: string } | null {
  const soc = history.channels["soc"];
  const known = (soc?.mean ?? []).flatMap((each, i) => (each === null ? [] : [i]));
  const at = first ? known[0] : known.at(-1);
  if (!soc || at === undefined) return null;
  const [low, high] = [soc.low?.[at], soc.high?.[at]];
  return { text: joined(percent(soc.mean[at]!)), more: typeof low === "number" && typeof high === "number" ? percents(low, high) : "" };
}

/** Of one quantity its mean, and its least and greatest with their moments. */
export interface Extremes {
  name: string;
  mean: string;
  least: [string, string];
  most: [string, string];
}

export function extremesOf(sums: Sums, history: History, specs: PanelSpec[], span: Part, reader: Reader): Extremes[] {
  const hours = sums.covered_s / 3600;
  // Flows are known exactly: by what they moved.
  const exact: Record<string, number> = {
    current_a: (sums.charge_in_ah - sums.charge_out_ah) / hours,
    power_w: (sums.energy_in_wh - sums.energy_out_wh) / hours,
  };
  return specs.flatMap((spec): Extremes[] => {
    // Bins that begin before the span reach into it.
    const ends = extremes(history, spec, -Infinity, Infinity);
    if (!ends) return [];
    const middle = exact[spec.key] ?? (spec.lines.length === 1 ? mean(history, spec.lines[0]!) : null);
    const text = (of: number): string => joined(channel(of, spec.unit));
    const reached = ({ value, at, label }: Reached): [string, string] => [text(value), [label && `(${label})`, moment(at, history.step_ms, span, reader)].filter(Boolean).join(" ")];
    return [{ name: spec.title, mean: middle === null ? "" : text(middle), least: reached(ends.low), most: reached(ends.high) }];
  });
}

/** When something was reached, as finely as it is known. */
function moment(ms: number, step_ms: number, span: Part, reader: Reader): string {
  const at = Math.min(Math.max(ms, span.from), span.to);
  if (step_ms >= FINE_MS) return momentIn(at, span, reader);
  const oneDay = civil(span.from, reader.zone).dayNumber === civil(span.to, reader.zone).dayNumber;
  return oneDay ? clockSeconds(at, reader.zone) : `${day(at, reader.zone, reader.present)} ${clockSeconds(at, reader.zone)}`;
}
