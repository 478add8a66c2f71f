import { describe, expect, it } from "vitest";
import type { Bank } from "../src/api";
import { neighbours } from "../src/passages/edit";
import { extremes, facts, flow, lasted, lineOf, momentIn, sentence, spanOf, spanText, titleOf, type Reader } from "../src/passages/said";
import { unexplained, type Passage, type Summary } from "../src/record";
import { address, read } from "../src/route";

const ZONE = "Europe/Lisbon";
const reader: Reader = { present: Date.parse("2026-11-25T10:00:00Z"), zone: ZONE };
const bank = { name: "drive", rated_capacity_ah: 120 } as Bank;

function summary(change: Partial<Summary> = {}): Summary {
  const at = (value: number, time: string) => ({ value, time });
  return {
    duration_s: 6 * 3600,
    covered_s: 6 * 3600,
    charge_in_ah: 3.5,
    charge_out_ah: 43.1,
    energy_in_wh: 190,
    energy_out_wh: 2230,
    net_ah: -39.6,
    net_wh: -2040,
    soc_begin: { soc: 0.96, low: 0.94, high: 0.98 },
    soc_end: { soc: 0.63, low: 0.605, high: 0.655 },
    soc_lowest: { soc: 0.61, low: 0.588, high: 0.632 },
    soc_lowest_time: "2026-11-24T14:30:00Z",
    reconciled: true,
    voltage_min: at(47.9, "2026-11-24T14:20:00Z"),
    voltage_max: at(53.4, "2026-11-24T09:00:00Z"),
    current_min: at(-51.2, "2026-11-24T14:20:00Z"),
    current_max: at(18, "2026-11-24T11:00:00Z"),
    power_min: at(-2450, "2026-11-24T14:20:00Z"),
    power_max: null,
    temperature_min: null,
    temperature_max: null,
    above_c5_s: 1260,
    above_c2_s: 0,
    above_1c_s: 0,
    deep_excursions: 0,
    mean_load_a: 8.2,
    load_95_a: 41,
    below_reserve_s: 0,
    reserve_touched: false,
    distance_nm: null,
    wh_per_nm: null,
    ...change,
  };
}

const passage = (change: Partial<Passage> = {}): Passage => ({
  id: 4,
  name: "",
  note: "",
  origin: "found",
  begin: "2026-11-24T09:00:00Z",
  end: "2026-11-24T15:00:00Z",
  going_on: false,
  settled: true,
  summary: summary(),
  ...change,
});
const text = (said: { text: string }[]): string => said.map((piece) => piece.text).join("");

describe("a passage", () => {
  it("without_a_name_goes_by_the_moment_it_began", () => {
    expect(titleOf(passage(), reader)).toBe("Passage of Tue 24 Nov 09:00");
    expect(titleOf(passage({ name: "Round the point" }), reader)).toBe("Round the point");
    expect(titleOf(passage({ begin: null }), reader)).toBe("time not known");
  });
  it("names_the_second_day_only_where_there_is_one", () => {
    expect(spanText(passage(), reader)).toBe("Tue 24 Nov 09:00 to 15:00");
    expect(spanText(passage({ end: "2026-11-25T01:10:00Z" }), reader)).toBe("Tue 24 Nov 09:00 to Wed 25 Nov 01:10");
  });
  it("under_way_reaches_to_the_present", () => {
    const open = passage({ end: null, going_on: true });
    expect(spanOf(open, reader)?.to).toBe(reader.present);
    expect(spanText(open, reader)).toBe("Tue 24 Nov 09:00, still going on");
    expect(spanOf(passage({ begin: null }), reader)).toBeNull();
  });
  it("lasts_a_minute_at_least_and_whole_minutes_always", () => {
    expect(lasted(20)).toBe("1 min");
    expect(lasted(2720)).toBe("45 min");
    expect(lasted(6 * 3600 + 1250)).toBe("6 h 21 min");
  });
});

describe("what is said of it", () => {
  it("tells_duration_charge_and_the_lowest_with_its_band_rounded_outward", () => {
    const said = text(sentence(passage()));
    expect(said).toBe("6 h. Out of the bank 43.1\u202fAh, 2.23\u202fkWh, back into it 3.50\u202fAh, 0.19\u202fkWh. At its lowest it held 61\u202f% (58\u201364). The reserve was not touched.");
  });
  it("minds_the_reserve", () => {
    expect(text(sentence(passage({ summary: summary({ reserve_touched: true, below_reserve_s: 2720 }) })))).toContain("below the reserve for 45 min");
    expect(text(sentence(passage({ summary: summary({ reserve_touched: true, below_reserve_s: 4 }) })))).toContain("The reserve was touched.");
  });
  it("says_what_is_still_to_come", () => {
    expect(text(sentence(passage({ summary: null })))).toMatch(/^Not summed up yet/);
    expect(text(sentence(passage({ summary: null, going_on: true, end: null })))).toMatch(/^Still going on\. Not summed up yet/);
  });
  it("nothing_that_flowed_is_a_dash", () => {
    expect(flow(0, 0)).toEqual(["\u2013", ""]);
    expect(flow(null, null)).toEqual(["not known", ""]);
    expect(flow(12.34, 640)).toEqual(["12.3\u202fAh", "0.64\u202fkWh"]);
    expect(text(sentence(passage({ summary: summary({ charge_in_ah: 0 }) })))).toContain("nothing back into it.");
  });
  it("list_gives_duration_out_in_deepest_and_load_and_nothing_before_there_is_a_summary", () => {
    expect(lineOf(passage(), reader)).toEqual({
      lasted: "6 h",
      out: ["43.1\u202fAh", "2.23\u202fkWh"],
      in: ["3.50\u202fAh", "0.19\u202fkWh"],
      deepest: ["61\u202f%", "58\u201364"],
      load: "8.2\u202fA",
    });
    expect(lineOf(passage({ summary: null }), reader)).toBeNull();
    expect(lineOf(passage({ begin: null, summary: summary({ duration_s: null, covered_s: 5400 }) }), reader)?.lasted).toBe("1 h 30 min");
  });
});

describe("its summary", () => {
  const span = spanOf(passage(), reader);
  const named = (change: Partial<Summary>, name: string) => facts(summary(change), bank, span, reader).find((fact) => fact.name === name);
  it("says_how_much_is_recorded_where_some_is_missing", () => {
    expect(named({}, "Lasted")?.more).toBe("");
    expect(named({ covered_s: 5 * 3600 }, "Lasted")?.more).toBe("5 h of it recorded");
  });
  it("rates_are_those_of_the_bank_and_end_at_the_first_that_was_not_reached", () => {
    expect(named({}, "Above C/5")).toMatchObject({ text: "21 min", more: "over 24.0\u202fA" });
    expect(named({}, "Above C/2")).toBeUndefined();
    expect(named({ above_c5_s: 0 }, "Above C/5")?.text).toBe("never");
    expect(named({ above_c2_s: 600 }, "Above C/2")).toMatchObject({ text: "10 min", more: "over 60.0\u202fA" });
  });
  it("leaves_out_what_is_not_known", () => {
    expect(named({ distance_nm: null }, "Distance")).toBeUndefined();
    expect(named({ distance_nm: 12.4, wh_per_nm: 180 }, "Distance")).toMatchObject({ text: "12.4\u202fnm", more: "180\u202fWh a nautical mile" });
    expect(named({ soc_lowest: null }, "Deepest")).toBeUndefined();
  });
  it("moments_of_one_day_are_clock_times", () => {
    const at = Date.parse("2026-11-24T14:20:00Z");
    expect(momentIn(at, span, reader)).toBe("14:20");
    expect(momentIn(at, { from: at - 86_400_000, to: at }, reader)).toBe("Tue 24 Nov 14:20");
  });
  it("extremes_without_any_reading_have_no_row", () => {
    const rows = extremes(summary(), span, reader);
    expect(rows.map(({ name }) => name)).toEqual(["Voltage", "Current", "Power"]);
    expect(rows[1]).toEqual({ name: "Current", least: ["\u221251.2\u202fA", "14:20"], most: ["+18.0\u202fA", "11:00"] });
    expect(rows[2]!.most).toEqual(["\u2013", ""]);
  });
});

describe("changes", () => {
  const all = [passage({ id: 9, begin: "2026-11-24T18:00:00Z" }), passage(), passage({ id: 2, begin: "2026-11-20T09:00:00Z" })];
  it("neighbours_are_those_before_and_after_in_time", () => {
    const { before, after } = neighbours(all, 4);
    expect([before?.id, after?.id]).toEqual([2, 9]);
    expect(neighbours(all, 9).after).toBeNull();
    expect(neighbours(all, 77)).toEqual({ before: null, after: null });
  });
  it("only_a_band_that_leaves_out_zero_is_unexplained", () => {
    expect(unexplained({ value: 1, low: -0.4, high: 2.4 })).toBe(false);
    expect(unexplained({ value: 3, low: 1.1, high: 4.9 })).toBe(true);
  });
});

describe("addresses", () => {
  it("each_page_has_its_path_and_comes_back_from_it", () => {
    for (const [page, path] of [["now", "/"], ["history", "/history"], ["passages", "/passages"], ["health", "/health"]] as const) {
      expect(address(page, {})).toBe(path);
      expect(read(new URL(path, "http://boat")).page).toBe(page);
    }
    expect(address("passages", { bank: "drive", passage: "4" })).toBe("/passages?bank=drive&passage=4");
    expect(read(new URL("/elsewhere", "http://boat")).page).toBe("now");
  });
});
