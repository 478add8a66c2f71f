import { describe, expect, it } from "vitest";
import type { Bank } from "../src/api";
import { figures, withDoubt } from "../src/now/figures";
import { charging, someNow } from "./now";

const bank: Bank = {
  name: "drive",
  title: "Drive bank",
  chemistry: "lead-carbon",
  cells_in_series: 24,
  rated_capacity_ah: 120,
  rated_hours: 20,
  reserve: 0.3,
  first_time: null,
  channels: [],
  branches: [],
};
const shown = (now = someNow()) => Object.fromEntries(figures(bank, now, null).map((figure) => [figure.key, figure]));

describe("the five figures", () => {
  it("charge_has_its_doubt_rounded_up", () => {
    expect(shown()["charge"]).toMatchObject({ value: "71", unit: "%", doubt: "±2", sub: "85 of 119\u202fAh, 35 drawn" });
    expect(withDoubt(someNow({ soc_low: 0.6889 }))).toMatchObject({ doubt: "±3" });
  });
  it("wide_band_is_shown_as_a_range", () => {
    expect(withDoubt(someNow({ soc_low: 0.44, soc_high: 1 }))).toMatchObject({ value: "44–100", doubt: "" });
  });
  it("reserve_and_empty_are_ranges", () => {
    expect(shown()["reserve"]).toMatchObject({ label: "Until the reserve", value: "10–13", unit: "h", sub: "until empty 17–22 h" });
  });
  it("below_the_reserve_it_counts_to_empty", () => {
    expect(shown(someNow({ reserve_s: 0, reserve_low_s: 0, reserve_high_s: 0 }))["reserve"]).toMatchObject({ label: "Until empty", value: "17–22" });
  });
  it("where_nothing_comes_out_the_charge_still_held_is_named", () => {
    const none = { endurance_s: 0, endurance_low_s: 0, endurance_high_s: 0, reserve_s: 0, reserve_low_s: 0, reserve_high_s: 0 };
    expect(shown(someNow({ ...none, charge_ah: 30 }))["reserve"]).toMatchObject({ label: "Until empty", value: "0", sub: "30\u202fAh still held" });
  });
  it("charging_it_counts_to_full", () => {
    expect(shown(charging())["reserve"]).toMatchObject({ label: "Until full", unit: "h" });
  });
  it("direction_is_said_in_words", () => {
    expect(shown()["current"]).toMatchObject({ value: "\u221223.8", sub: "1.24\u202fkW out of the bank" });
    expect(shown(charging())["current"]).toMatchObject({ value: "+24.0", sub: "1.30\u202fkW into the bank" });
  });
  it("voltage_is_also_given_a_cell", () => {
    expect(shown()["voltage"]).toMatchObject({ value: "52.1", sub: "2.17\u202fV a cell" });
  });
  it("missing_values_are_dashes_not_zeros", () => {
    const none = shown(someNow({ temperature_c: null, current_a: null, voltage_v: null, soc: null, endurance_low_s: null }));
    for (const key of ["charge", "reserve", "current", "voltage", "temperature"]) expect(none[key]!.value).toBe("\u2013");
  });
  it("temperature_is_compared_with_an_hour_ago", () => {
    const time = Date.parse("2026-11-25T09:00:00Z");
    const past = { from_ms: 0, to_ms: 1, step_ms: 60_000, reconciled_until_ms: null, time_ms: [time], marks: [], unreadable: [], channels: { temperature_c: { unit: "°C", mean: [17.2] } } };
    expect(figures(bank, someNow(), past)[4]!.sub).toBe("2.2\u202f°C up in an hour");
  });
});
