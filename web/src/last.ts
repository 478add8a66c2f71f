/**
 * The last that the daemon said, kept by the browser: what the page starts from while the daemon is away. It is never shown
 * as live; `Live` counts what was restored as old until a fresh word has come.
 */
import type { Boat, History, Now } from "./api";
import type { Heard, Live } from "./live";

const BOAT = "taffrail.last-boat";
const NOW = "taffrail.last-now.";
const PAST = "taffrail.last-past.";
const KEEP_EVERY_MS = 15_000;
/** Characters: more than this of one bank's past day is not worth the browser's room. */
const MOST_PAST = 200_000;

/** What is kept of a bank: its last word and this device's clock when it came, UTC milliseconds. */
interface KeptNow {
  now: Now;
  heard_ms: number;
}

function read<T>(key: string): T | null {
  try {
    return JSON.parse(localStorage.getItem(key) ?? "null") as T | null;
  } catch {
    // Storage refused, or something else stands there.
    return null;
  }
}

function write(key: string, value: unknown): void {
  try {
    localStorage.setItem(key, JSON.stringify(value));
  } catch {
    // Storage refused or full: the page then does not open without the daemon, and nothing else is lost.
  }
}

export const lastBoat = (): Boat | null => read<Boat>(BOAT);

/** Keeps the boat, and forgets what was said of banks that it no longer has. */
export function keepBoat(boat: Boat): void {
  write(BOAT, boat);
  const known = boat.banks.flatMap(({ name }) => [NOW + name, PAST + name]);
  try {
    for (const key of Object.keys(localStorage)) {
      if ((key.startsWith(NOW) || key.startsWith(PAST)) && !known.includes(key)) localStorage.removeItem(key);
    }
  } catch {
    // Storage refused: there is nothing to forget.
  }
}

/** Whether the page built for one boat serves the other; when a record begins may move with the clock. */
export function sameBoat(a: Boat, b: Boat): boolean {
  const told = (boat: Boat): string => JSON.stringify({ ...boat, banks: boat.banks.map((bank) => ({ ...bank, first_time: null })) });
  return told(a) === told(b);
}

/** What was last heard of each bank, as if heard then. */
export function lastHeard(boat: Boat): Map<string, Heard> {
  const heard = new Map<string, Heard>();
  for (const { name } of boat.banks) {
    const kept = read<KeptNow>(NOW + name);
    if (kept) heard.set(name, { now: kept.now, at: performance.now() - Math.max(0, Date.now() - kept.heard_ms) });
  }
  return heard;
}

/** Keeps what is heard now and again, and when the page is left. */
export function keepHeard(live: Live): void {
  const keep = (): void => {
    if (live.link !== "up") return;
    for (const [bank, { now, at }] of live.heard) {
      // What lies ahead of a moment long past is of no use.
      const kept: KeptNow = { now: { ...now, ahead: [] }, heard_ms: Date.now() - (performance.now() - at) };
      write(NOW + bank, kept);
    }
  };
  setInterval(keep, KEEP_EVERY_MS);
  addEventListener("pagehide", keep);
  document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && keep());
}

export const lastPast = (bank: string): History | null => read<History>(PAST + bank);

export function keepLastPast(bank: string, past: History): void {
  if (JSON.stringify(past).length <= MOST_PAST) write(PAST + bank, past);
}
