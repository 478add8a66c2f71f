import { describe, expect, it } from "vitest";
import { ApiError, type Learned } from "../src/api";
import { statedFix } from "../src/now/orders";
import { facts, lasts, lastsNow, learnedFact, reason, untilFull } from "../src/now/terms";
import { charging, someNow } from "./now";

const PRESENT = Date.parse("2026-11-25T10:00:00Z");
const ZONE = "Europe/Lisbon";
const HOUR = 3600;

const ends = {
  empty_low_s: 3.1 * HOUR,
  empty_high_s: 4.4 * HOUR,
  reserve_low_s: 2 * HOUR,
  reserve_high_s: 2.9 * HOUR,
  deliverable_low_ah: 61.2,
  deliverable_high_ah: 88.4,
};

describe("how long it lasts", () => {
  it("reserve_empty_and_what_comes_out_are_ranges_rounded_outward", () => {
    expect(lasts(ends)).toEqual({ reserve: "2.0–2.9 h", empty: "3.0–4.4 h", out: "61–89\u202fAh" });
    expect(lasts({ ...ends, deliverable_low_ah: 3.21, deliverable_high_ah: 9.96 }).out).toBe("3.2–10.0\u202fAh");
  });
  it("below_the_reserve_is_said_in_place_of_a_time", () => {
    expect(lasts({ ...ends, reserve_low_s: 0, reserve_high_s: 0 })).toMatchObject({ reserve: "below it", empty: "3.0–4.4 h" });
  });
  it("where_nothing_comes_out_no_time_is_left", () => {
    const none = { empty_low_s: 0, empty_high_s: 0, reserve_low_s: 0, reserve_high_s: 0, deliverable_low_ah: 0, deliverable_high_ah: 0 };
    expect(lasts(none)).toEqual({ reserve: "none", empty: "none", out: "nothing" });
  });
  it("present_load_has_its_row_only_while_drawing", () => {
    expect(lastsNow(someNow())).toEqual({ reserve: "10–13 h", empty: "17–22 h", out: "72–84\u202fAh" });
    expect(lastsNow(charging())).toBeNull();
    expect(untilFull(charging())).toBe("1.3–2.0 h");
    expect(untilFull(someNow())).toBeNull();
  });
});

describe("what was drawn and what corrected it", () => {
  const said = (now = someNow()) => facts(now, PRESENT, ZONE).map(({ text, more }) => [text, more]);
  it("drawn_since_full_and_the_last_fix_with_what_it_did", () => {
    expect(said()).toEqual([
      ["34.6\u202fAh", ""],
      ["yesterday 14:20", "full fix: reckoned 97.1 %, now 100.0 %"],
    ]);
  });
  it("before_the_first_full_charge_and_the_first_fix_both_are_said_to_be_missing", () => {
    expect(said(someNow({ drawn_since_full_ah: null, last_fix: null }))).toEqual([
      ["not seen full yet", ""],
      ["none yet", ""],
    ]);
  });
  it("untrusted_clock_gives_no_time_of_a_fix", () => {
    expect(said(someNow({ time_trusted: false }))[1]).toEqual(["full", "full fix: reckoned 97.1 %, now 100.0 %"]);
  });
});

describe("what was learned", () => {
  const shown = (learned: Partial<Learned>, now = someNow()) =>
    learnedFact({ quantity: "capacity_ah", value: 112.43, low: 109.1, high: 115.76, unit: "Ah", since: null, ...learned }, now, PRESENT, ZONE);
  it("decimals_follow_the_band", () => {
    expect(shown({})).toEqual({ name: "Capacity", text: "112.4\u202fAh", more: "109.1 to 115.8" });
    expect(shown({ low: 92, high: 132 })).toMatchObject({ text: "112\u202fAh", more: "92 to 132" });
  });
  it("ratios_are_percent_and_small_units_are_thousandths", () => {
    expect(shown({ quantity: "charge_efficiency", value: 0.934, low: 0.92, high: 0.948 })).toMatchObject({ text: "93.4\u202f%", more: "92.0 to 94.8" });
    expect(shown({ quantity: "sensor_offset_a", value: -0.037, low: -0.051, high: -0.023 })).toMatchObject({ text: "\u221237\u202fmA", more: "\u221251 to \u221223" });
    expect(shown({ quantity: "resistance_25_ohm", value: 0.0212, low: 0.017, high: 0.0254 })).toMatchObject({ text: "21.2\u202fmΩ", more: "17.0 to 25.4" });
    expect(shown({ quantity: "ocv_shift_v", value: 0.11, low: -0.02, high: 0.24 })).toMatchObject({ text: "+0.11\u202fV", more: "\u22120.02 to +0.24" });
  });
  it("since_when_is_a_day_or_a_clock_time_of_today", () => {
    expect(shown({ since: "2026-11-12T08:00:00Z" }).more).toBe("109.1 to 115.8, since 12 Nov");
    expect(shown({ since: "2025-11-12T08:00:00Z" }).more).toBe("109.1 to 115.8, since 12 Nov 2025");
    expect(shown({ since: "2026-11-25T08:05:00Z" }).more).toBe("109.1 to 115.8, since 08:05");
    expect(shown({ since: "2026-11-12T08:00:00Z" }, someNow({ time_trusted: false })).more).toBe("109.1 to 115.8");
  });
  it("band_of_no_width_is_no_trouble", () => {
    expect(shown({ low: 112.43, high: 112.43 })).toMatchObject({ text: "112.4\u202fAh" });
  });
});

describe("a stated charge", () => {
  it("give_or_take_is_the_band_of_95_percent", () => {
    const fix = statedFix(80, 5);
    expect(fix?.soc).toBeCloseTo(0.8, 12);
    expect(1.96 * (fix?.std_dev ?? 0)).toBeCloseTo(0.05, 12);
  });
  it("what_makes_no_sense_is_no_order", () => {
    for (const [percent, within] of [[101, 5], [-1, 5], [80, 0], [80, 60], [NaN, 5], [80, NaN]] as const) expect(statedFix(percent, within)).toBeNull();
  });
});

describe("what failed", () => {
  it("is_said_in_the_daemons_words_or_as_its_silence", () => {
    expect(reason(new ApiError("there is no reading yet"))).toBe("there is no reading yet");
    expect(reason(new TypeError("Failed to fetch"))).toBe("The daemon does not answer.");
  });
});
