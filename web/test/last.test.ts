import { afterEach, beforeEach, expect, it, vi } from "vitest";
import type { Boat, History } from "../src/api";
import { keepBoat, keepHeard, keepLastPast, lastBoat, lastHeard, lastPast, sameBoat } from "../src/last";
import { present, spoken, type Heard, type Live } from "../src/live";
import { isOld, sentence } from "../src/sentence";
import { someNow } from "./now";

const bank = (name: string) => ({ name, title: name, chemistry: "lfp", cells_in_series: 4, rated_capacity_ah: 100, rated_hours: 20, reserve: 0.2, first_time: null, branches: [], channels: [] });
const boat = (...names: string[]): Boat => ({ boat: "Marigold", zone: "Etc/UTC", banks: names.map(bank) });
const SAMPLED = Date.parse("2026-11-25T12:00:00Z");
const word = someNow({ bank: "house", time: "2026-11-25T12:00:00Z", age_s: 2 });

let full = false;
const leave: (() => void)[] = [];
beforeEach(() => {
  full = false;
  vi.useFakeTimers({ now: SAMPLED + 2000 });
  // As browsers have it, what is kept are the storage's own keys.
  const storage = Object.create({
    getItem: (key: string) => (storage[key] as string | undefined) ?? null,
    setItem: (key: string, value: string) => {
      if (full) throw new Error("full");
      storage[key] = value;
    },
    removeItem: (key: string) => delete storage[key],
  }) as Record<string, unknown>;
  vi.stubGlobal("localStorage", storage);
  vi.stubGlobal("addEventListener", (_: string, listener: () => void) => leave.push(listener));
  vi.stubGlobal("document", { addEventListener: () => undefined });
});
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

const hear = (link: Live["link"]): Live => ({ link, heard: new Map<string, Heard>([["house", { now: word, at: performance.now() }]]) }) as unknown as Live;

it("the_last_word_is_as_old_as_it_is", () => {
  keepBoat(boat("house"));
  keepHeard(hear("up"));
  vi.advanceTimersByTime(15_000);
  vi.advanceTimersByTime(3_600_000);
  const heard = lastHeard(lastBoat()!).get("house")!;
  expect(heard.now).toEqual({ ...word, ahead: [] });
  expect(spoken(heard)).toBe(SAMPLED + 2000);
  expect(present(heard)).toBeCloseTo(SAMPLED + 2000 + 3_615_000, -1);
  for (const link of ["joining", "away"] as const) {
    expect(isOld(heard.now, link)).toBe(true);
    const said = sentence({ now: heard.now, present: present(heard), zone: "Etc/UTC", link }).map((piece) => piece.text).join("");
    expect(said).toMatch(link === "away" ? /does not answer; the figures below are of 12:00/ : /^Asking the daemon; the figures below are of 12:00/);
  }
});

it("only_what_the_daemon_said_is_kept_and_also_when_the_page_is_left", () => {
  keepBoat(boat("house"));
  keepHeard(hear("away"));
  vi.advanceTimersByTime(60_000);
  expect(lastHeard(boat("house")).size).toBe(0);
  keepHeard(hear("up"));
  leave.at(-1)!();
  expect(lastHeard(boat("house")).size).toBe(1);
});

it("a_bank_that_is_gone_is_forgotten", () => {
  keepHeard(hear("up"));
  leave.at(-1)!();
  keepLastPast("house", { time_ms: [1] } as unknown as History);
  keepBoat(boat("house"));
  expect(lastPast("house")).toEqual({ time_ms: [1] });
  keepBoat(boat("drive"));
  expect([lastHeard(boat("house")).size, lastPast("house")]).toEqual([0, null]);
});

it("a_past_too_large_and_a_full_storage_lose_nothing_else", () => {
  keepLastPast("house", { time_ms: Array.from({ length: 50_000 }, (_, i) => i) } as unknown as History);
  expect(lastPast("house")).toBeNull();
  full = true;
  expect(() => keepBoat(boat("house"))).not.toThrow();
  expect(lastBoat()).toBeNull();
});

it("a_boat_is_the_same_whenever_its_records_begin", () => {
  const later = boat("house");
  later.banks[0]!.first_time = "2026-01-01T00:00:00Z";
  expect(sameBoat(boat("house"), later)).toBe(true);
  expect(sameBoat(boat("house"), boat("house", "drive"))).toBe(false);
});
