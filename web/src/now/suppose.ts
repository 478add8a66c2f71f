/** What if another current flowed: what can be asked, and what is said of the answer. Pure. */
import type { Branches, Now, Outlook } from "../api";
import { current, joined } from "../format";
import { clockRange, durations } from "../range";
import { words } from "../words";

/** A current that can be asked for: of a branch at a part of the most it has carried, or plainly in amperes. */
export type Wish = { branch: string; share: number } | { amperes: number };

export interface Offer {
  wish: Wish;
  text: string;
}

/** Branches that have carried less than this, A, are not worth a question. */
const WORTH_A = 1;
const MOST_OFFERS = 4;

/** What is offered: a drive at half and at full, anything else at what it has carried, the strongest first. */
export function offers({ branches }: Branches): Offer[] {
  const w = words.suppose;
  const carried = branches.filter((branch) => (branch.most_a ?? 0) >= WORTH_A).sort((a, b) => b.most_a! - a.most_a!);
  // What moves the boat first: it is what a skipper can choose.
  const drives = carried.filter(({ purpose }) => purpose === "drive");
  return [
    ...drives.flatMap(({ name, title }): Offer[] => [
      { wish: { branch: name, share: 0.5 }, text: w.half(title) },
      { wish: { branch: name, share: 1 }, text: w.full(title) },
    ]),
    ...carried.filter((branch) => !drives.includes(branch)).map(({ name, title }): Offer => ({ wish: { branch: name, share: 1 }, text: w.on(title) })),
  ].slice(0, MOST_OFFERS);
}

/** The bank's current if a wish came true, A: everything else stays as it was on the mean. Null where it cannot be told. */
export function currentOf(wish: Wish, now: Now, { branches }: Branches): number | null {
  if ("amperes" in wish) return -wish.amperes;
  const branch = branches.find(({ name }) => name === wish.branch);
  if (!branch || branch.most_a === null) return null;
  const rest = (now.mean_current_a ?? 0) - (branch.now_a ?? 0);
  return rest + (branch.role === "source" ? 1 : -1) * wish.share * branch.most_a;
}

/** What follows, in a few words: "at −20.0 A: reserve between 13:10 and 14:05". */
export function says(outlook: Outlook, now: Now, present: number, zone: string): string {
  const w = words.suppose;
  const range = (low: number | null, high: number | null): string | null => {
    if (low === null || high === null) return null;
    if (now.time_trusted) return clockRange(present, low, high, zone);
    const span = durations(low, high);
    return words.range.within(`${span.value} ${span.unit}`);
  };
  const at = joined(current(outlook.current_a, true));
  const full = range(outlook.full_low_s, outlook.full_high_s);
  if (full) return w.becomesFull(at, full);
  const below = now.soc !== null && now.soc < now.reserve;
  const reserve = (outlook.reserve_high_s ?? 0) > 0 && !below ? range(outlook.reserve_low_s, outlook.reserve_high_s) : null;
  if (reserve) return w.reserve(at, reserve);
  if (outlook.endurance_high_s === 0) return w.nothing(at);
  const empty = range(outlook.endurance_low_s, outlook.endurance_high_s);
  return empty ? w.empty(at, empty) : w.level(at);
}
