import { describe, expect, it } from "vitest";
import type { History } from "../src/api";
import { besideTypical, compared } from "../src/passages/compare";
import { lineIn, paths, spotAt, type Line } from "../src/passages/trace";
import { middle, ones, typicalLine } from "../src/passages/typical";
import type { Passage, Summary } from "../src/record";

const soc = (value: number, half = 0.02) => ({ soc: value, low: value - half, high: value + half });
const summary = (change: Partial<Summary> = {}): Summary => ({
  duration_s: 6 * 3600,
  covered_s: 6 * 3600,
  charge_in_ah: 4,
  charge_out_ah: 40,
  energy_in_wh: 200,
  energy_out_wh: 2000,
  net_ah: -36,
  net_wh: -1800,
  soc_begin: soc(0.95),
  soc_end: soc(0.62),
  soc_lowest: soc(0.6),
  soc_lowest_time: null,
  reconciled: true,
  voltage_min: null,
  voltage_max: null,
  current_min: null,
  current_max: null,
  power_min: null,
  power_max: null,
  temperature_min: { value: 15, time: null },
  temperature_max: null,
  above_c5_s: 1200,
  above_c2_s: 0,
  above_1c_s: 0,
  deep_excursions: 0,
  mean_load_a: 8,
  load_95_a: 30,
  below_reserve_s: 0,
  reserve_touched: false,
  distance_nm: null,
  wh_per_nm: null,
  ...change,
});
const passage = (id: number, change: Partial<Passage> = {}): Passage => ({
  id,
  name: "",
  note: "",
  origin: "found",
  begin: `2026-11-${String(10 + id).padStart(2, "0")}T09:00:00Z`,
  end: `2026-11-${String(10 + id).padStart(2, "0")}T15:00:00Z`,
  going_on: false,
  settled: true,
  summary: summary(),
  ...change,
});

describe("what is typical", () => {
  it("is_the_median_with_its_quartiles_of_three_or_more", () => {
    expect(middle([3, 1])).toBeNull();
    expect(middle([9, 1, 5])).toEqual({ value: 5, low: 3, high: 7, count: 3 });
    expect(middle([4, 1, 3, 2])).toEqual({ value: 2.5, low: 1.75, high: 3.25, count: 4 });
  });
  it("is_taken_from_the_last_ten_that_are_reconciled_without_the_one_itself", () => {
    const all = Array.from({ length: 14 }, (_, i) => passage(i + 1));
    all[12] = passage(13, { settled: false });
    all[10] = passage(11, { summary: null });
    all[9] = passage(10, { going_on: true });
    expect(ones(all, 14).map(({ id }) => id)).toEqual([12, 9, 8, 7, 6, 5, 4, 3, 2, 1]);
  });
  it("line_is_the_median_of_those_that_last_and_ends_with_the_third_last", () => {
    const flat = (value: number, hours: number): Line => [[0, hours].map((at) => ({ ms: at * 3_600_000, soc: value, low: value, high: value }))];
    const [spots] = typicalLine([flat(0.9, 8), flat(0.5, 6), flat(0.7, 4)]);
    expect(spots!.at(-1)!.ms).toBe(4 * 3_600_000);
    expect(spots![0]).toMatchObject({ soc: 0.7, low: 0.6 });
    expect(typicalLine([flat(0.9, 8), flat(0.5, 6)])).toEqual([]);
  });
});

describe("two passages side by side", () => {
  const named = (rows: ReturnType<typeof compared>, name: string) => rows.find((row) => row.name === name);
  it("differences_carry_sign_and_words", () => {
    const rows = compared(summary(), summary({ charge_out_ah: 32, duration_s: 5 * 3600, charge_in_ah: 1.6, temperature_min: { value: 12.5, time: null } }));
    expect(named(rows, "Charge out")).toEqual({ name: "Charge out", own: "40.0\u202fAh", other: ["32.0\u202fAh", ""], difference: ["+8.00\u202fAh", "25\u202f% more"] });
    expect(named(rows, "Lasted")?.difference).toEqual(["+1 h", "20\u202f% longer"]);
    expect(named(rows, "Charge in")?.difference).toEqual(["+2.40\u202fAh", "2.5 times as much"]);
    expect(named(rows, "Coldest")?.difference).toEqual(["+2.5\u202f°C", "warmer"]);
    expect(named(rows, "Energy out")?.difference).toEqual(["about the same", ""]);
  });
  it("less_is_said_with_a_minus", () => {
    const rows = compared(summary(), summary({ charge_out_ah: 50, above_c5_s: 3600 }));
    expect(named(rows, "Charge out")?.difference).toEqual(["\u221210.0\u202fAh", "20\u202f% less"]);
    expect(named(rows, "Above C/5")?.difference).toEqual(["\u221240 min", "67\u202f% less"]);
  });
  it("deeper_is_said_only_as_surely_as_the_bands_allow", () => {
    const against = (other: number) => named(compared(summary(), summary({ soc_lowest: soc(other) })), "Deepest")?.difference;
    expect(against(0.7)).toEqual(["\u221210 points", "deeper"]);
    expect(against(0.63)).toEqual(["\u22123 points", "deeper, but the bands overlap"]);
  });
  it("what_neither_knows_is_left_out_and_what_one_lacks_is_a_dash", () => {
    const rows = compared(summary({ wh_per_nm: 90 }), summary());
    expect(named(rows, "Warmest")).toBeUndefined();
    expect(named(rows, "Energy a nautical mile")).toMatchObject({ own: "90\u202fWh", other: ["\u2013", ""], difference: ["\u2013", ""] });
  });
  it("nothing_to_compare_with_makes_no_share", () => {
    expect(named(compared(summary(), summary({ above_c5_s: 0 })), "Above C/5")).toMatchObject({ other: ["never", ""], difference: ["+20 min", "more"] });
  });
});

describe("beside the typical one", () => {
  const others = ones([30, 40, 50, 60].map((out, i) => passage(i + 1, { summary: summary({ charge_out_ah: out }) })), 9);
  const out = (value: number) => besideTypical(summary({ charge_out_ah: value }), others).find(({ name }) => name === "Charge out")!;
  it("the_middle_half_is_as_usual", () => {
    expect(out(42)).toMatchObject({ other: ["45.0\u202fAh", "37.5 to 52.5"], difference: ["\u22123.00\u202fAh", "as usual"] });
    expect(out(45).difference).toEqual(["about the same", "as usual"]);
  });
  it("beyond_it_is_more_or_less_than_usual", () => {
    expect(out(70).difference).toEqual(["+25.0\u202fAh", "more than usual"]);
    expect(out(20).difference).toEqual(["\u221225.0\u202fAh", "less than usual"]);
  });
});

describe("a trace", () => {
  const history = (mean: (number | null)[], start = 0, step = 100): History =>
    ({ from_ms: start, step_ms: step, time_ms: mean.map((_, i) => start + i * step), channels: { soc: { unit: "1", mean } } }) as unknown as History;
  it("reaches_to_both_ends_and_stays_within", () => {
    const [spots] = lineIn(history([0.9, 0.8, 0.7, 0.6], -30), { from: 0, to: 320 });
    expect(spots!.map(({ ms }) => ms)).toEqual([0, 20, 120, 220, 320]);
    expect(spots!.at(-1)!.soc).toBe(0.6);
  });
  it("has_gaps_where_nothing_is_recorded", () => {
    const line = lineIn(history([0.9, null, null, 0.6]), { from: 0, to: 400 });
    expect(line.length).toBe(2);
    expect(spotAt(line, 200)).toBeNull();
    expect(spotAt(line, 20)?.soc).toBeCloseTo(0.9);
  });
  it("is_a_path_in_a_square_with_full_at_the_top", () => {
    const line: Line = [[{ ms: 0, soc: 1, low: 0.9, high: 1 }, { ms: 50, soc: 0.25, low: 0.2, high: 0.3 }]];
    expect(paths(line, 100)).toEqual({ trace: "M0 0L50 75", band: "M0 0L50 70L50 80L0 10Z" });
  });
  it("moments_between_its_places_lie_between", () => {
    const line: Line = [[{ ms: 0, soc: 1, low: 0.9, high: 1 }, { ms: 100, soc: 0.5, low: 0.4, high: 0.6 }]];
    expect(spotAt(line, 50)?.soc).toBeCloseTo(0.75);
    expect(spotAt(line, 101)).toBeNull();
  });
});
