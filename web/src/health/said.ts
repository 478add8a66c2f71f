/** What the page says of a bank's health, as text. Pure. */
import { bandDecimals, charge, dayOfMonth, energy, joined, month, NONE, number, percent, percents, temperature } from "../format";
import { duration } from "../range";
import type { Balance, BalanceState, Banded, HealthRecord, Resistance, Stress, Use } from "../record";
import { pieces, type Piece } from "../sentence";
import type { Bar, Fact } from "../tables";
import { words } from "../words";
import { said } from "../words/said";

export interface Reader {
  present: number;
  zone: string;
}

/** A value and its band in a unit, with the decimals that the band deserves. */
export function banded(band: Banded, unit: string, scale = 1, plus = false, most = 2): { text: string; more: string } {
  const [value, low, high] = [band.value, band.low, band.high].map((each) => each * scale) as [number, number, number];
  const decimals = bandDecimals(low, high, most);
  return {
    text: joined({ value: number(value, decimals, plus), unit }),
    more: words.learned.band(number(low, decimals, plus), number(high, decimals, plus)),
  };
}

/** Change in a year, of a ratio. */
export const perYear = (band: Banded): { text: string; more: string } => banded(band, "%", 100, true, 1);

/** The sentence on top. */
export function sentence(record: HealthRecord): Piece[] {
  const { latest } = record.capacity;
  const { say } = words.health;
  if (!latest) return pieces(say.unknown);
  const share = joined(percent(latest.ratio));
  const told = [
    say.holds(share, percents(latest.ratio_low, latest.ratio_high)),
    say.ofRating(joined(charge(latest.value)), joined(charge(record.rated_capacity_ah))),
    ...(latest.ratio_high < record.end_of_life ? [say.fallen] : latest.ratio < record.end_of_life ? [say.falling] : []),
  ];
  // What is not known yet is said with how sure all of it is.
  return pieces([...told, ...(record.fade.earned ? [said(record.fade.text)] : [])].join(" "));
}

const day = (time: string, { zone, present }: Reader): string => dayOfMonth(Date.parse(time), zone, present);

/** What was looked at. */
export function spanText({ first, surveyed_to: to }: HealthRecord, reader: Reader): string {
  if (first === null || to === null) return words.health.spanNone;
  const [a, b] = [first, to].map((time) => day(time, reader)) as [string, string];
  return words.health.span(a, b, reader.zone);
}

export function capacityFacts(record: HealthRecord, { zone }: Reader): Fact[] {
  const w = words.health.capacity;
  const { fade, capacity } = record;
  const facts: Fact[] = [];
  if (capacity.latest) {
    const { text, more } = banded(capacity.latest, "Ah", 1, false, 1);
    facts.push({ name: w.latest, text, more: `${more}, ${w.rated(number(record.rated_hours, 0))}` });
  }
  if (fade.per_year) facts.push({ name: w.perYear, ...perYear(fade.per_year) });
  if (fade.now_per_year) facts.push({ name: w.nowPerYear, ...perYear(fade.now_per_year) });
  const end = fade.end_of_life;
  if (end?.earliest) {
    const at = (time: string): string => month(Date.parse(time), zone);
    facts.push({
      name: w.end(joined(percent(record.end_of_life))),
      text: end.latest === null ? w.endAfter(at(end.earliest)) : w.endRange(at(end.earliest), at(end.latest)),
      more: end.middle === null ? w.endMore : w.middle(at(end.middle)),
    });
  }
  if (fade.knee) {
    const { time } = fade.knee;
    const text = said(fade.knee.text);
    facts.push({ name: w.knee, ...(time === null ? { text } : { text: month(Date.parse(time), zone), more: text }), class: "minded" });
  }
  return facts;
}

/** Thousandths of an ohm. */
export function milliohm(ohm: number): string {
  const value = ohm * 1000;
  return joined({ value: number(value, value < 10 ? 2 : value < 100 ? 1 : 0), unit: "mΩ" });
}

/** Of one thing, its resistance within a second and within a minute. */
export interface Resisting {
  name: string;
  second: { text: string; more: string } | null;
  minute: { text: string; more: string } | null;
}

export function resisting(all: Resistance[]): Resisting[] {
  const w = words.health.resistance;
  const found = new Map<number | null, Resisting>();
  for (const each of [...all].sort((a, b) => (a.monobloc ?? 0) - (b.monobloc ?? 0))) {
    const last = each.points.at(-1);
    if (!last) continue;
    const name = each.monobloc === null ? w.bank : w.monobloc(number(each.monobloc, 0));
    const row = found.get(each.monobloc) ?? { name, second: null, minute: null };
    const more = each.per_year ? w.perYear(perYear(each.per_year).text) : w.steady;
    row[each.reach] = { text: milliohm(last.normal_ohm), more };
    found.set(each.monobloc, row);
  }
  return [...found.values()];
}

export const STATES: BalanceState[] = ["rest", "load", "charge-end"];

const millivolt = (volts: number, plus = false): string => joined({ value: number(volts * 1000, 0, plus), unit: "mV" });

/** One monobloc's voltage against the mean in each state, and what a balancer's contact makes of it; a dash where it was not compared. */
export function balanceRows(balance: Balance): { monobloc: number; cells: [string, string][] }[] {
  const numbers = [...new Set(balance.now.map((each) => each.monobloc))].sort((a, b) => a - b);
  return numbers.map((monobloc) => ({
    monobloc,
    cells: STATES.map((state): [string, string] => {
      const found = balance.now.find((each) => each.monobloc === monobloc && each.state === state);
      if (!found) return [NONE, ""];
      const { contact_open_v: open, contact_closed_v: closed } = found;
      const contact = open === null || closed === null ? "" : words.health.balance.contact(millivolt(open, true), millivolt(closed, true));
      return [millivolt(found.deviation_v, true), contact];
    }),
  }));
}

/** The spread in each state now, and what it was at first where that is more than a month ago. */
export function spreads(balance: Balance, zone: string): { text: string; more: string }[] {
  return STATES.map((state) => {
    const points = balance.spread.flatMap(({ time, ...each }) => (each.state === state && time !== null ? [{ time, ...each }] : []));
    const [first, last] = [points[0], points.at(-1)];
    if (!first || !last) return { text: NONE, more: "" };
    const old = Date.parse(last.time) - Date.parse(first.time) > 31 * 86_400_000;
    return {
      text: millivolt(last.spread_v),
      more: old ? words.health.balance.before(millivolt(first.spread_v), month(Date.parse(first.time), zone)) : "",
    };
  });
}

export function useFacts(use: Use, reader: Reader): Fact[] {
  const w = words.health.use;
  const since = use.days_since_full;
  return [
    {
      name: w.sinceFull,
      text: since === null ? w.neverFull : duration(since * 86_400),
      more: use.last_full === null ? "" : w.lastFull(day(use.last_full, reader)),
    },
    ...(use.charging_h === null ? [] : [{ name: w.charging, text: joined({ value: number(use.charging_h, 1), unit: words.unit.hours }) }]),
    { name: w.efficiency, ...(use.efficiency ? banded(use.efficiency, "%", 100, false, 1) : { text: words.health.stress.unknown }) },
    ...(use.standing_a ? [{ name: w.standing, ...banded(use.standing_a, "A") }] : []),
    ...(use.unaccounted_a ? [{ name: w.unaccounted, ...banded(use.unaccounted_a, "A"), ...(use.unaccounted_a.low > 0 && { class: "minded" }) }] : []),
    { name: w.out, text: joined(charge(use.charge_out_ah)), more: joined(energy(use.energy_out_wh)) },
    { name: w.in, text: joined(charge(use.charge_in_ah)), more: joined(energy(use.energy_in_wh)) },
    { name: w.days, text: number(use.days, use.days < 10 ? 1 : 0) },
  ];
}

/** Small shares keep a decimal, so that little is told from nothing. */
export const shareText = (share: number): string => joined({ value: number(share * 100, share > 0 && share < 0.0995 ? 1 : 0), unit: "%" });

const tenth = (i: number): string => joined({ value: `${number(i * 10, 0)}\u2013${number(i * 10 + 10, 0)}`, unit: "%" });

/** The fullest tenth first: high is up. */
export const tenthBars = (shares: number[]): Bar[] => shares.map((share, i) => ({ name: tenth(i), share, text: shareText(share) })).reverse();

export const depthBars = (counts: number[]): Bar[] => counts.map((count, i) => ({ name: tenth(i), share: count, text: number(count, count % 1 === 0 ? 0 : 1) }));

export function temperatureBars(rows: Use["temperature_h"]): Bar[] {
  const w = words.health.use;
  const c = (value: number): string => joined(temperature(value, 0));
  return rows.map(({ from_c: from, to_c: to, hours }) => ({
    name: from === null ? (to === null ? NONE : w.below(c(to))) : to === null ? w.above(c(from)) : w.to(temperature(from, 0).value, c(to)),
    share: hours,
    text: number(hours, 0),
  }));
}

export function stressFacts(stress: Stress): Fact[] {
  const w = words.health.stress;
  const years = (range: Stress["remaining_years"]): string => {
    if (!range) return w.unknown;
    const decimals = range.high < 10 ? 1 : 0;
    const low = number(Math.floor(range.low * 10 ** decimals) / 10 ** decimals, decimals);
    return range.high > 50 ? w.atLeast(low) : w.years(low, number(Math.ceil(range.high * 10 ** decimals) / 10 ** decimals, decimals));
  };
  return [
    { name: w.measured, text: years(stress.measured_remaining_years) },
    { name: w.rule, text: years(stress.remaining_years) },
    ...(stress.used === null ? [] : [{ name: w.used, text: shareText(stress.used) }]),
  ];
}
