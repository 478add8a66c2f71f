import { describe, expect, it } from "vitest";
import type { Description, Device } from "../src/api";
import { bytes } from "../src/format";
import { channelTitle } from "../src/history/panels";
import { faults, standing } from "../src/setup/devices";
import { comparisons, describedFacts } from "../src/setup/said";
import { someNow } from "./now";

const PRESENT = Date.parse("2026-11-25T10:00:00Z");

const bank: Description = {
  name: "drive",
  title: "Drive bank",
  chemistry: "lead-carbon",
  cells_in_series: 24,
  rated_capacity_ah: 120,
  rated_hours: 20,
  rates: [{ hours: 1, capacity_ah: 88 }, { hours: 20, capacity_ah: 120 }],
  peukert_exponent: null,
  rates_assumed: false,
  reserve: 0.3,
  method: "filter",
  sensor_gain_error: 0.005,
  sensor_offset_a: 0.03,
  standing_load_a: 0.6,
  temperature_law: "IEC 60896",
  full: { voltage_v: 56.4, compensation_v_per_k: -0.072, tail_current_a: 3.6, hold_s: 1800 },
};

const device: Device = {
  name: "drive-shunt",
  bank: "drive",
  main: true,
  port: "/dev/serial/by-id/some-adapter",
  baud: 19200,
  frame: "json-lines",
  state: "live",
  reason: null,
  quiet_s: 0.4,
  quiet_after_s: 10,
  bytes: 48_000,
  lines: 500,
  samples: 500,
  lost: 0,
  overlong: 0,
  bad_lines: [],
  reopened: 0,
  last_bad: null,
  last_refused: null,
  channels: [{ name: "voltage_v", unit: "V", value: 52.1, unreadable: 0, out_of_range: 0 }],
};

describe("the bank as described", () => {
  const fact = (described: Description, name: string) => describedFacts(described).find((each) => each.name === name);
  it("each_value_has_its_unit_and_the_full_rule_reads_as_one", () => {
    expect(fact(bank, "At other rates")!.text).toBe("88.0\u202fAh in 1\u202fh, 120\u202fAh in 20\u202fh");
    expect(fact(bank, "Counts as full")).toMatchObject({ text: "from 56.4\u202fV, at 3.6\u202fA or less", more: "for 30 min, −72\u202fmV/K from 25 °C" });
  });
  it("an_exponent_that_nobody_stated_is_said_to_be_assumed", () => {
    const assumed = { ...bank, rates: [], peukert_exponent: 1.15, rates_assumed: true };
    expect(fact(assumed, "Peukert exponent")).toMatchObject({ text: "1.15", more: "usual for the chemistry; nothing was stated" });
    expect(fact({ ...assumed, rates_assumed: false }, "Peukert exponent")!.more).toBe("");
  });
  it("what_was_learned_stands_beside_what_was_said_with_errors_at_95_percent", () => {
    const learned = [
      { quantity: "capacity_ah" as const, unit: "Ah", value: 122.3, low: 115.7, high: 129, since: null },
      { quantity: "sensor_offset_a" as const, unit: "A", value: 0.005, low: -0.026, high: 0.036, since: null },
    ];
    const all = comparisons(bank, someNow({ learned }), PRESENT, "Europe/Lisbon");
    expect(all.map(({ described, learned: found }) => [described, found])).toEqual([
      ["120\u202fAh", "122.3\u202fAh"],
      ["within ±59\u202fmA", "+5\u202fmA"],
      ["within ±1.0\u202f%", "–"],
    ]);
  });
});

describe("a device", () => {
  it("without_faults_says_so", () => {
    expect(faults(device).map(({ name, text }) => [name, text])).toEqual([["Samples since the start", "500"], ["Faults", "none"]]);
    expect(standing(device)).toBe("live");
  });
  it("each_kind_of_fault_is_counted_and_minded", () => {
    const faulty: Device = {
      ...device,
      state: "silent",
      quiet_s: 240,
      reason: "look whether it is switched on",
      bad_lines: [{ reason: "not one JSON object", count: 7 }],
      reopened: 2,
      channels: [{ ...device.channels[0]!, unreadable: 1, out_of_range: 3 }],
      last_refused: "voltage_v: 520 is above 72",
    };
    const told = faults(faulty).slice(1);
    expect(told.map(({ name, text, more }) => [name, text, more])).toEqual([
      ["Lines not understood", "7", "7 not one JSON object"],
      ["Values refused", "4", "voltage_v: 520 is above 72"],
      ["Port opened again", "2", ""],
    ]);
    expect(told.every((fact) => fact.class === "minded")).toBe(true);
    expect(standing(faulty)).toBe("silent, last heard 4 min ago, look whether it is switched on");
  });
});

describe("names and sizes", () => {
  it("a_numbered_channel_is_one_of_its_kind", () => {
    expect([channelTitle("monobloc_3_v"), channelTitle("voltage_v"), channelTitle("sea_water_c")]).toEqual(["Monobloc 3", "Voltage", "Sea water"]);
  });
  it("sizes_are_in_decimal_multiples", () => {
    expect([0, 999, 21_602_304, 6.4e9].map(bytes)).toEqual(["0\u202fB", "999\u202fB", "21.6\u202fMB", "6.4\u202fGB"]);
  });
});
