/** How sure the record is, and how long the bank stood partly charged or hot, as text. Pure. */
import { dayOfMonth, joined, NONE, number, percent, temperature } from "../format";
import type { HealthRecord, Use } from "../record";
import type { Fact } from "../tables";
import { words } from "../words";
import { said } from "../words/said";
import { shareText, type Reader } from "./said";

const DAY_MS = 86_400_000;
/** With fewer findings than this and a band wider than that to either side, of the rating, a test is worth proposing. */
const FEW = 6;
const WIDE = 0.04;

/** On what the capacity rests, and how far off it may be. */
export function sureText({ capacity, fade, rated_capacity_ah: rated }: HealthRecord, { zone, present }: Reader): string {
  const w = words.evidence;
  const { latest, findings } = capacity;
  if (!latest) return `${w.nothing} ${said(fade.text)}`;
  const half = Math.max(latest.high - latest.value, latest.value - latest.low) / rated;
  // No doubt is made to look smaller than it is.
  const outward = half < 0.1 ? Math.ceil(half * 1000 - 1e-6) / 10 : Math.ceil(half * 100 - 1e-6);
  const times = findings.flatMap(({ time, believed }) => (believed && time !== null ? [Date.parse(time)] : []));
  const count = findings.filter(({ believed }) => believed).length;
  const [first, last] = [Math.min(...times), Math.max(...times)];
  const from = times.length < 2 ? w.one(times.length ? dayOfMonth(last, zone, present) : NONE) : w.several(number(count, 0), over(last - first));
  const off = findings.length - count;
  return [
    w.within(joined({ value: number(outward, half < 0.1 ? 1 : 0), unit: "%" }), from),
    count < FEW && half > WIDE && w.test,
    off > 0 && w.off(off),
    fade.earned ? fade.per_year && w.trend(joined({ value: number(50 * (fade.per_year.high - fade.per_year.low), 1), unit: "%" })) : said(fade.text),
  ]
    .filter(Boolean)
    .join(" ");
}

function over(ms: number): string {
  const w = words.evidence;
  const days = ms / DAY_MS;
  if (days < 61) return w.days(number(Math.max(1, days), 0));
  return days < 730 ? w.months(number(days / 30.44, 0)) : w.years(number(days / 365.25, 0));
}

/** Partly charged, by what is told of each tenth of charge. */
export function partlyCharged({ soc_tenths: tenths }: Use): Fact[] {
  const w = words.evidence;
  if (!tenths.some((share) => share > 0)) return [];
  return [9, 8, 5].map((tenth) => {
    const share = tenths.slice(0, tenth).reduce((sum, each) => sum + each, 0);
    return { name: w.below(joined(percent(tenth / 10))), ...(share > 0 ? { text: shareText(share), more: w.ofTime } : { text: w.never }) };
  });
}

/** Bounds from which on a battery counts as hot, °C; bins end at them. */
const HOT_C = [30, 40];
/** Less than this is never, h. */
const LEAST_H = 0.5;

/** Hot: from each bound on, up to the first that was never exceeded. */
export function hot({ temperature_h: bins }: Use): Fact[] {
  const w = words.evidence;
  const sum = (from_c: number): number => bins.reduce((hours, each) => hours + ((each.from_c ?? -Infinity) >= from_c ? each.hours : 0), 0);
  const all = sum(-Infinity);
  if (all <= 0) return [];
  return HOT_C.filter((_, i) => i === 0 || sum(HOT_C[i - 1]!) >= LEAST_H).map((bound) => {
    const hours = sum(bound);
    const said = { text: joined({ value: number(hours, 0), unit: words.unit.hours }), more: `${shareText(hours / all)} ${w.ofTime}` };
    return { name: w.hotter(joined(temperature(bound, 0))), ...(hours >= LEAST_H ? said : { text: w.never }) };
  });
}
