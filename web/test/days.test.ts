import { describe, expect, it } from "vitest";
import type { Day } from "../src/api";
import { daysIn, rowOf } from "../src/history/days";
import { fieldMoment, fieldText } from "../src/now/clock";

const ZONE = "Europe/Amsterdam";
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const PRESENT = Date.parse("2026-11-25T10:00:00Z");

function someDay(change: Partial<Day> = {}): Day {
  return {
    date: "2026-11-24",
    start: "2026-11-23T23:00:00Z",
    length_s: 86_400,
    covered_s: 86_399,
    charge_in_ah: 73.84,
    charge_out_ah: 90.12,
    energy_in_wh: 3834,
    energy_out_wh: 4391,
    soc_min: 0.4,
    soc_max: 0.98,
    ...change,
  };
}

describe("days in view", () => {
  it("are_the_local_days_that_the_span_touches_up_to_the_present", () => {
    // 23:30 UTC is half past midnight of the next day there.
    const from = Date.parse("2026-11-22T23:30:00Z");
    expect(daysIn({ from, to: PRESENT + DAY_MS }, PRESENT, ZONE)).toEqual({ from: "2026-11-23", to: "2026-11-25", inView: 3 });
    const midnight = Date.parse("2026-11-24T23:00:00Z");
    expect(daysIn({ from, to: midnight }, PRESENT, ZONE)).toMatchObject({ to: "2026-11-24" });
    expect(daysIn({ from: PRESENT - 60_000, to: PRESENT }, PRESENT, ZONE)).toEqual({ from: "2026-11-25", to: "2026-11-25", inView: 1 });
    expect(daysIn({ from: PRESENT + 2 * DAY_MS, to: PRESENT + 3 * DAY_MS }, PRESENT, ZONE)).toBeNull();
  });
  it("are_the_last_31_of_a_long_span_across_a_change_of_the_clocks", () => {
    const asked = daysIn({ from: PRESENT - 365 * DAY_MS, to: PRESENT }, PRESENT, ZONE)!;
    expect(asked).toEqual({ from: "2026-10-26", to: "2026-11-25", inView: 366 });
  });
});

describe("a day", () => {
  it("reads_in_out_and_net_with_its_sign", () => {
    const row = rowOf(someDay(), PRESENT, ZONE);
    expect(row.day).toBe("Tue 24 Nov");
    expect(row.sums).toEqual([
      ["73.8\u202fAh", "3.83\u202fkWh"],
      ["90.1\u202fAh", "4.39\u202fkWh"],
      ["\u221216.3\u202fAh", "\u22120.56\u202fkWh"],
    ]);
    expect(row.recorded).toBe("");
  });
  it("says_how_much_is_recorded_only_where_that_is_not_a_whole_day_of_24_hours", () => {
    const recorded = (change: Partial<Day>): string => rowOf(someDay(change), PRESENT, ZONE).recorded;
    expect(recorded({ covered_s: 86_400 - 60 })).toBe("");
    expect(recorded({ covered_s: 86_400 - 600 })).toBe("23.8 of 24\u202fh");
    const spring = { length_s: 82_800, start: "2026-03-28T23:00:00Z" };
    expect(recorded({ ...spring, covered_s: 82_800 })).toBe("all of 23\u202fh");
    expect(recorded({ ...spring, covered_s: 36_000 })).toBe("10 of 23\u202fh");
    expect(recorded({ start: "2026-11-24T23:00:00Z", covered_s: 11 * 3600 })).toBe("11\u202fh so far");
  });
});

describe("the field for a time", () => {
  it("shows_the_boats_time_and_names_the_same_moment_again", () => {
    expect(fieldText(PRESENT, ZONE)).toBe("2026-11-25T11:00");
    expect(fieldMoment("2026-11-25T11:00", ZONE)).toBe(PRESENT);
    expect(fieldMoment(fieldText(PRESENT, "Australia/Lord_Howe"), "Australia/Lord_Howe")).toBe(PRESENT);
  });
  it("names_nothing_where_it_is_empty_or_half_filled", () => {
    for (const text of ["", "2026-11-25", "11:00"]) expect(fieldMoment(text, ZONE)).toBeNull();
  });
});
