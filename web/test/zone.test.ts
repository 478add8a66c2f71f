import { describe, expect, it } from "vitest";
import { civil, isAmbiguous, midnights, moment, startOfDay, ticks } from "../src/zone";

const LISBON = "Europe/Lisbon";
const utc = (text: string): number => Date.parse(text);
const HOUR = 3_600_000;

describe("civil time", () => {
  it("day_of_the_spring_jump_has_23_hours", () => {
    const start = startOfDay(utc("2026-03-29T12:00:00Z"), LISBON);
    const next = startOfDay(utc("2026-03-30T12:00:00Z"), LISBON);
    expect((next - start) / HOUR).toBe(23);
  });
  it("day_of_the_autumn_jump_has_25_hours", () => {
    const start = startOfDay(utc("2026-10-25T12:00:00Z"), LISBON);
    const next = startOfDay(utc("2026-10-26T12:00:00Z"), LISBON);
    expect((next - start) / HOUR).toBe(25);
  });
  it("skipped_hour_maps_to_the_moment_after_the_jump", () => {
    expect(moment(Date.UTC(2026, 2, 29, 1, 30), LISBON)).toBe(utc("2026-03-29T01:30:00Z"));
    expect(civil(moment(Date.UTC(2026, 2, 29, 1, 30), LISBON), LISBON).hour).toBe(2);
  });
  it("only_the_repeated_hour_is_ambiguous", () => {
    expect(isAmbiguous(utc("2026-10-25T00:30:00Z"), LISBON)).toBe(true);
    expect(isAmbiguous(utc("2026-10-25T01:30:00Z"), LISBON)).toBe(true);
    expect(isAmbiguous(utc("2026-10-24T23:59:00Z"), LISBON)).toBe(false);
    expect(isAmbiguous(utc("2026-10-25T02:00:00Z"), LISBON)).toBe(false);
    expect(isAmbiguous(utc("2026-11-25T00:30:00Z"), LISBON)).toBe(false);
  });
  it("half_hour_zone_has_its_midnight_on_the_half_hour", () => {
    expect(startOfDay(utc("2026-11-25T10:00:00Z"), "Asia/Kolkata")).toBe(utc("2026-11-24T18:30:00Z"));
  });
});

describe("ticks", () => {
  it("three_hourly_ticks_stay_on_round_clock_hours_across_the_autumn_jump", () => {
    const found = ticks(utc("2026-10-24T12:00:00Z"), utc("2026-10-26T12:00:00Z"), LISBON, 20);
    expect(found.map((tick) => civil(tick.ms, LISBON).hour % 3)).toEqual(found.map(() => 0));
    expect(found.filter((tick) => tick.level === "day")).toHaveLength(2);
  });
  it("never_more_than_about_as_many_as_there_is_room_for", () => {
    for (const hours of [0.01, 1, 7, 30, 200, 3000, 40_000]) {
      const to = utc("2026-11-25T10:00:00Z");
      const count = ticks(to - hours * HOUR, to, LISBON, 10).length;
      expect(count).toBeGreaterThan(0);
      expect(count).toBeLessThanOrEqual(11);
    }
  });
  it("weekly_ticks_are_mondays", () => {
    const found = ticks(utc("2026-10-01T00:00:00Z"), utc("2026-11-25T00:00:00Z"), LISBON, 9);
    expect(new Set(found.map((tick) => civil(tick.ms, LISBON).weekday))).toEqual(new Set([1]));
  });
  it("midnights_are_local", () => {
    expect(midnights(utc("2026-06-01T00:00:00Z"), utc("2026-06-02T12:00:00Z"), LISBON)).toEqual([utc("2026-06-01T23:00:00Z")]);
  });
});
