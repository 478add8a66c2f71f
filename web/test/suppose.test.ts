import { describe, expect, it } from "vitest";
import type { Branches, Outlook } from "../src/api";
import { rows } from "../src/now/branches";
import { currentOf, offers, says } from "../src/now/suppose";
import type { Ledger, LedgerBranch } from "../src/record";
import { scene } from "../src/picture/scene";
import { someNow } from "./now";

const PRESENT = Date.parse("2026-11-25T10:00:00Z");
const ZONE = "Europe/Lisbon";
const HOUR = 3600;

const aboard: Branches = {
  branches: [
    { name: "regeneration", title: "Regeneration", role: "source", purpose: "other", now_a: 0.02, most_a: 9.8 },
    { name: "motor", title: "Motor", role: "load", purpose: "drive", now_a: -4, most_a: 60 },
    { name: "generator", title: "Generator", role: "source", purpose: "other", now_a: null, most_a: 34 },
    { name: "dc-dc", title: "Converter", role: "load", purpose: "other", now_a: 0, most_a: 0 },
    { name: "shore", title: "Shore power", role: "source", purpose: "shore", now_a: 0, most_a: 30 },
    { name: "solar", title: "Solar", role: "source", purpose: "other", now_a: 0, most_a: null },
  ],
};

const outlook = (change: Partial<Outlook>): Outlook => {
  const { deliverable, ahead, endurance_s, endurance_low_s, endurance_high_s, reserve_s, reserve_low_s, reserve_high_s, full_s, full_low_s, full_high_s } = someNow();
  return { current_a: -20, deliverable, ahead, endurance_s, endurance_low_s, endurance_high_s, reserve_s, reserve_low_s, reserve_high_s, full_s, full_low_s, full_high_s, ...change };
};

describe("what can be asked", () => {
  it("the_drive_comes_first_at_half_and_full_then_the_strongest", () => {
    expect(offers(aboard).map(({ text }) => text)).toEqual(["Motor at half", "Motor at full", "Generator on", "Shore power on"]);
  });
  it("a_branch_replaces_what_it_carries_now_and_leaves_the_rest", () => {
    const now = someNow({ mean_current_a: -10 });
    expect(currentOf({ branch: "motor", share: 0.5 }, now, aboard)).toBeCloseTo(-10 + 4 - 30);
    expect(currentOf({ branch: "generator", share: 1 }, now, aboard)).toBeCloseTo(-10 + 34);
    expect(currentOf({ branch: "solar", share: 1 }, now, aboard)).toBeNull();
    expect(currentOf({ amperes: 20 }, now, aboard)).toBe(-20);
  });
});

describe("what is said of it", () => {
  const said = (change: Partial<Outlook>, now = someNow()) => says(outlook(change), now, PRESENT, ZONE);
  const none = { reserve_low_s: null, reserve_high_s: null, endurance_low_s: null, endurance_high_s: null };
  it("reserve_with_clock_times_and_the_sign_of_the_current", () => {
    expect(said({ reserve_low_s: 3 * HOUR, reserve_high_s: 4 * HOUR })).toBe("at −20.0\u202fA: reserve between 13:00 and 14:00");
  });
  it("empty_below_the_reserve_and_full_while_charging", () => {
    expect(said({}, someNow({ soc: 0.2 }))).toMatch(/: empty between/);
    expect(said({ ...none, current_a: 30, full_low_s: HOUR, full_high_s: 2 * HOUR })).toBe("at +30.0\u202fA: full between 11:00 and 12:00");
  });
  it("nothing_comes_out_or_nothing_changes", () => {
    expect(said({ reserve_high_s: 0, endurance_low_s: 0, endurance_high_s: 0 })).toBe("at −20.0\u202fA: nothing comes out");
    expect(said({ ...none, current_a: 0 })).toBe("at 0.00\u202fA: it stays about as it is");
  });
  it("durations_in_place_of_clock_times_where_the_clock_is_not_believed", () => {
    expect(said({ reserve_low_s: 3 * HOUR, reserve_high_s: 4 * HOUR }, someNow({ time_trusted: false }))).toBe("at −20.0\u202fA: reserve in 3–4 h");
  });
});

describe("the picture moved into the past", () => {
  const subject = { now: someNow(), past: null, present: PRESENT, reach: 12 * HOUR * 1000, zone: ZONE, old: false };
  it("has_no_present_and_no_ahead_once_they_are_out_of_view", () => {
    const near = scene({ ...subject, shift: 6 * HOUR * 1000 }, 1000, 400, 16);
    expect([near.here, near.fan !== null, near.to - near.from]).toEqual([true, true, 36 * HOUR * 1000]);
    const far = scene({ ...subject, shift: 20 * HOUR * 1000 }, 1000, 400, 16);
    expect([far.here, far.fan, far.dot, far.bracket, far.meanCurrent]).toEqual([false, null, null, null, null]);
  });
});

const branch = (name: string, role: "source" | "load", in_ah: number | null, out_ah: number | null): LedgerBranch => ({
  name,
  title: name,
  role,
  computed: false,
  charge_in_ah: in_ah,
  charge_out_ah: out_ah,
  energy_in_wh: in_ah && in_ah * 50,
  energy_out_wh: out_ah && out_ah * 50,
  error_ah: null,
});
const ledger = (branches: LedgerBranch[], unaccounted_ah: Ledger["unaccounted_ah"] = null): Ledger => ({
  from: null,
  to: null,
  covered_s: 86_400,
  unseen_s: 0,
  charge_in_ah: 60,
  charge_out_ah: 110,
  energy_in_wh: 3000,
  energy_out_wh: 5500,
  branches,
  own_loss_ah: null,
  unaccounted_ah,
  notes: [],
});

describe("the ledger of the branches", () => {
  it("sources_above_loads_below_the_greatest_first", () => {
    const all = rows(ledger([branch("motor", "load", 0.5, 101), branch("solar", "source", 20, 0), branch("fridge", "load", 0, 8), branch("generator", "source", 66, 0)]));
    expect(all.map(({ key }) => key)).toEqual(["generator", "solar", "motor", "fridge"]);
    expect(all[2]).toMatchObject({ kind: "out", ah: 100.5, text: "101\u202fAh" });
  });
  it("a_branch_without_samples_is_not_a_branch_at_nothing", () => {
    expect(rows(ledger([branch("motor", "load", null, null)]))[0]).toMatchObject({ text: "not recorded", more: "" });
  });
  it("what_is_unaccounted_for_has_its_doubt_and_is_named_where_it_is_sure", () => {
    const [, within] = rows(ledger([branch("motor", "load", 0, 9)], { value: -0.4, low: -1.4, high: 0.6 }));
    expect(within).toMatchObject({ kind: "unaccounted", text: "−0.4 ±1.0\u202fAh", more: "" });
    const [, sure] = rows(ledger([branch("motor", "load", 0, 9)], { value: -4, low: -5, high: -3 }));
    expect(sure!.more).toBe("more than the sensors explain");
  });
  it("a_bank_without_branches_shows_its_own_two_ways", () => {
    expect(rows(ledger([])).map(({ name, text }) => [name, text])).toEqual([["In", "60.0\u202fAh"], ["Out", "110\u202fAh"]]);
  });
});
