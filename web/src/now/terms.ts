/** What the sections under the ledger say, as text. Pure. */
import { ApiError, type Learned, type Now, type Outlook } from "../api";
import { bandDecimals, charge, clock, current, dayOfMonth, joined, number, type Quantity } from "../format";
import { durations, when } from "../range";
import { words } from "../words";
import { said } from "../words/said";
import { civil } from "../zone";

/** Times to the reserve and to empty, and what comes out, at one load. */
export interface Lasts {
  reserve: string;
  empty: string;
  out: string;
}

/** Edges of the times to the reserve and to empty, and of what comes out until then. */
export interface Ends {
  empty_low_s: number;
  empty_high_s: number;
  reserve_low_s: number;
  reserve_high_s: number;
  deliverable_low_ah: number;
  deliverable_high_ah: number;
}

export function lasts(ends: Ends): Lasts {
  const span = (low: number, high: number): string => {
    const range = durations(low, high);
    return `${range.value} ${range.unit}`;
  };
  const none = ends.empty_high_s <= 0;
  return {
    reserve: ends.reserve_high_s <= 0 ? (none ? words.lasts.now : words.lasts.isBelow) : span(ends.reserve_low_s, ends.reserve_high_s),
    empty: none ? words.lasts.now : span(ends.empty_low_s, ends.empty_high_s),
    out: none ? words.lasts.nothing : chargeRange(ends.deliverable_low_ah, ends.deliverable_high_ah),
  };
}

/** At the load of an outlook; null at rest and while charging. */
export function lastsNow(outlook: Now | Outlook): Lasts | null {
  const { endurance_low_s, endurance_high_s, reserve_low_s, reserve_high_s, deliverable } = outlook;
  if (endurance_low_s === null || endurance_high_s === null) return null;
  return lasts({
    empty_low_s: endurance_low_s,
    empty_high_s: endurance_high_s,
    reserve_low_s: reserve_low_s ?? 0,
    reserve_high_s: reserve_high_s ?? 0,
    deliverable_low_ah: deliverable.low_ah ?? 0,
    deliverable_high_ah: deliverable.high_ah ?? 0,
  });
}

/** Time to full while charging; null otherwise. */
export function untilFull(now: Now | Outlook): string | null {
  if (now.full_low_s === null || now.full_high_s === null) return null;
  const range = durations(now.full_low_s, now.full_high_s);
  return `${range.value} ${range.unit}`;
}

/** Rounded outward: no range is made to look narrower than it is. */
function chargeRange(low: number, high: number): string {
  const scale = high < 10 ? 10 : 1;
  const decimals = high < 10 ? 1 : 0;
  const a = number(Math.floor(low * scale + 1e-9) / scale, decimals);
  const b = number(Math.ceil(high * scale - 1e-9) / scale, decimals);
  return joined({ value: a === b ? a : `${a}\u2013${b}`, unit: "Ah" });
}

export interface Fact {
  name: string;
  text: string;
  /** More about it, said more quietly. */
  more: string;
}

/** What was drawn since the bank was full, and what corrected the reckoning last. */
export function facts(now: Now, present: number, zone: string): Fact[] {
  const { last_fix: fix, drawn_since_full_ah: drawn } = now;
  const at = fix && now.time_trusted ? when(Date.parse(fix.time), present, zone) : "";
  return [
    { name: words.lasts.drawn, text: drawn === null ? words.lasts.neverFull : joined(charge(drawn)), more: "" },
    fix
      ? { name: words.lasts.fix, text: at || words.lasts.fixKind(fix.kind), more: said(fix.text) || words.lasts.fixKind(fix.kind) }
      : { name: words.lasts.fix, text: words.lasts.noFix, more: "" },
  ];
}

export const meanLoad = (now: Now): string => joined(current(Math.abs(now.mean_current_a ?? 0)));

/** One learned quantity: its value, and its band with since when. */
export function learnedFact(learned: Learned, now: Now, present: number, zone: string): Fact {
  const { scale, unit, plus, most } = SHOWN[learned.quantity];
  const [low, value, high] = [learned.low, learned.value, learned.high].map((each) => each * scale) as [number, number, number];
  const decimals = bandDecimals(low, high, most);
  const shown: Quantity = { value: number(value, decimals, plus), unit };
  const band = words.learned.band(number(low, decimals, plus), number(high, decimals, plus));
  const since = learned.since && now.time_trusted ? sinceWhen(Date.parse(learned.since), present, zone) : "";
  return {
    name: words.learned.quantity[learned.quantity],
    text: joined(shown),
    more: since ? `${band}, ${words.learned.since(since)}` : band,
  };
}

/** Scale from the API's unit to the screen's; whether a plus is written; most decimals. */
const SHOWN: Record<Learned["quantity"], { scale: number; unit: string; plus: boolean; most: number }> = {
  capacity_ah: { scale: 1, unit: "Ah", plus: false, most: 1 },
  charge_efficiency: { scale: 100, unit: "%", plus: false, most: 1 },
  sensor_offset_a: { scale: 1000, unit: "mA", plus: true, most: 0 },
  resistance_25_ohm: { scale: 1000, unit: "mΩ", plus: false, most: 2 },
  ocv_shift_v: { scale: 1, unit: "V", plus: true, most: 2 },
};

function sinceWhen(ms: number, present: number, zone: string): string {
  const today = civil(ms, zone).dayNumber === civil(present, zone).dayNumber;
  return today ? clock(ms, zone) : dayOfMonth(ms, zone, present);
}

/** Why a question or an order failed: what the daemon said, or that it said nothing. */
export const reason = (why: unknown): string => (why instanceof ApiError ? said(why.message) : words.orders.away);
