import { describe, expect, it } from "vitest";
import { clockRange, duration, durations, length, when } from "../src/range";

const LISBON = "Europe/Lisbon";
const H = 3600;
const at = (text: string): number => Date.parse(text);

describe("durations", () => {
  it("range_is_rounded_outward", () => {
    expect(durations(10.2 * H, 12.8 * H)).toEqual({ value: "10–13", unit: "h" });
    expect(durations(4.93 * H, 6.01 * H)).toEqual({ value: "4.9–6.1", unit: "h" });
    expect(durations(21 * 60, 58 * 60)).toEqual({ value: "20–60", unit: "min" });
    expect(durations(100 * H, 160 * H)).toEqual({ value: "4–7", unit: "d" });
  });
  it("never_narrower_than_the_band_and_never_finer_than_a_twelfth_of_it", () => {
    const size: Record<string, number> = { min: 60, h: H, d: 24 * H };
    for (let low = 0; low < 400 * H; low = low * 1.3 + 100) {
      for (const width of [0.02, 0.1, 0.5, 2].map((part) => part * (low + H))) {
        const { value, unit } = durations(low, low + width);
        const [a, b = a] = value.replaceAll(",", "").split("–").map(Number) as [number, number?];
        expect(a * size[unit]!).toBeLessThanOrEqual(low + 1);
        expect(b * size[unit]!).toBeGreaterThanOrEqual(low + width - 1);
        const decimals = value.includes(".") ? 0.1 : 1;
        expect(decimals * size[unit]! * 12).toBeGreaterThanOrEqual(Math.min(width / 12, size[unit]!));
      }
    }
  });
  it("equal_ends_are_said_once", () => {
    expect(durations(12 * H, 12 * H)).toEqual({ value: "12", unit: "h" });
  });
});

describe("clock ranges", () => {
  it("same_day_is_left_unsaid", () => {
    expect(clockRange(at("2026-11-25T10:00:00Z"), 5 * H, 6 * H, LISBON)).toBe("between 15:00 and 16:00");
  });
  it("tomorrow_is_said_once_for_both", () => {
    expect(clockRange(at("2026-11-25T21:40:00Z"), 9.5 * H, 13.1 * H, LISBON)).toBe("between 07:10 and 10:50 tomorrow");
  });
  it("range_across_midnight_names_both_days", () => {
    expect(clockRange(at("2026-11-25T21:40:00Z"), 2 * H, 4 * H, LISBON)).toBe("between 23:40 today and 01:40 tomorrow");
  });
  it("range_that_has_begun_has_only_its_end", () => {
    expect(clockRange(at("2026-11-25T10:02:00Z"), 0, 0.5 * H, LISBON)).toBe("before 10:35");
  });
  it("spring_jump_moves_the_clock_an_hour_on", () => {
    expect(clockRange(at("2026-03-28T22:00:00Z"), 6 * H, 8 * H, LISBON)).toBe("between 05:00 and 07:00 tomorrow");
  });
  it("repeated_hour_of_the_autumn_jump_carries_the_zone_name", () => {
    const said = clockRange(at("2026-10-24T21:00:00Z"), 3.5 * H, 4.5 * H, LISBON);
    const times = /^between 01:30 (\S+) and 01:30 (\S+) tomorrow$/.exec(said);
    expect(times).not.toBeNull();
    expect(times![1]).not.toBe(times![2]);
  });
  it("range_of_days_names_days_only", () => {
    expect(clockRange(at("2026-11-25T10:00:00Z"), 5 * 24 * H, 9 * 24 * H, LISBON)).toBe("between Mon 30 Nov and Fri 4 Dec");
  });
});

describe("times past", () => {
  it("yesterday_by_word_last_week_by_name_earlier_by_date", () => {
    const now = at("2026-11-25T10:00:00Z");
    expect(when(at("2026-11-25T07:46:00Z"), now, LISBON)).toBe("07:46");
    expect(when(at("2026-11-24T14:20:00Z"), now, LISBON)).toBe("yesterday 14:20");
    expect(when(at("2026-11-22T09:05:00Z"), now, LISBON)).toBe("Sunday 09:05");
    expect(when(at("2026-11-03T14:20:00Z"), now, LISBON)).toBe("Tue 3 Nov 14:20");
  });
  it("ages_and_lengths", () => {
    expect(duration(12)).toBe("12 s");
    expect(duration(240)).toBe("4 min");
    expect(duration(3 * H)).toBe("3 h");
    expect(length(6 * H * 1000 + 14 * 60_000)).toBe("6 h 14 min");
    expect(length(7 * 86_400_000)).toBe("7 d");
  });
});
