import { describe, expect, it } from "vitest";
import { banks } from "../mock/boat.mjs";
import { record as invented } from "../mock/record.mjs";
import { columns, picture } from "../src/health/fade";
import {
  balanceRows,
  banded,
  capacityFacts,
  depthBars,
  milliohm,
  perYear,
  resisting,
  sentence,
  spanText,
  spreads,
  stressFacts,
  temperatureBars,
  tenthBars,
  useFacts,
} from "../src/health/said";
import { hot, partlyCharged, sureText } from "../src/health/sure";
import type { HealthRecord } from "../src/record";

const PRESENT = Date.parse("2026-11-25T10:00:00Z");
const reader = { present: PRESENT, zone: "Europe/Lisbon" };
const old = invented("drive", banks.drive, PRESENT / 1000) as HealthRecord;
const young = invented("house", banks.house, PRESENT / 1000) as HealthRecord;
const text = (said: { text: string }[]): string => said.map((piece) => piece.text).join("");

describe("what the record means", () => {
  it("an_old_bank_holds_a_share_with_its_band", () => {
    expect(text(sentence(old))).toMatch(/^The bank holds 88\u202f% of its rating \(86\u201390\)\. That is 106\u202fAh of 120\u202fAh\. At the last finding/);
  });
  it("a_young_bank_has_not_enough_yet", () => {
    expect(text(sentence(young))).toBe("Its capacity has not been measured yet.");
    expect(sureText(young, reader)).toMatch(/^Only the rating is known so far\. Not enough yet:/);
    expect(capacityFacts(young, reader)).toEqual([]);
  });
  it("below_the_end_of_life_is_said", () => {
    const latest = { ...old.capacity.latest!, ratio: 0.78, ratio_low: 0.76, ratio_high: 0.8 };
    expect(text(sentence({ ...old, capacity: { ...old.capacity, latest } }))).toContain("below the end of its planned life");
  });
  it("what_was_looked_at_is_named_with_its_zone", () => {
    expect(spanText({ ...old, first: "2020-05-02T10:00:00Z", surveyed_to: "2026-11-25T09:00:00Z" }, reader)).toBe("From what was recorded 2 May 2020 to 25 Nov, Europe/Lisbon.");
    expect(spanText({ ...old, first: null }, reader)).toBe("Nothing has been looked at yet.");
  });
});

describe("how sure it is", () => {
  const first = { ...old.capacity.findings[0]!, time: "2026-11-02T10:00:00Z" };
  const few = (...findings: typeof old.capacity.findings): HealthRecord => ({
    ...old,
    fade: young.fade,
    capacity: { latest: { ...old.capacity.latest!, value: 110, low: 98, high: 121 }, findings },
  });
  it("tells_the_half_of_the_band_and_on_what_it_rests", () => {
    expect(sureText(old, reader)).toBe("Within 1.3\u202f% of the rating either way, from 33 findings over 6 years. One more lies too far off to count. The loss a year is known to within 0.9\u202f% either way.");
  });
  it("with_one_finding_a_test_is_proposed_and_what_is_missing_is_said", () => {
    expect(sureText(few(first), reader)).toMatch(/^Within 10\u202f% of the rating either way, from one finding of 2 Nov\. A capacity test narrows it most\. Not enough yet:/);
    expect(sureText(few(first, { ...first, time: "2026-11-22T10:00:00Z" }), reader)).toContain("from 2 findings over 20 days");
  });
  it("partial_charge_adds_up_the_tenths", () => {
    const use = { ...old.use, soc_tenths: [0, 0, 0, 0, 0.05, 0.1, 0.15, 0.2, 0.2, 0.3] };
    expect(partlyCharged(use).map(({ name, text }) => [name, text])).toEqual([
      ["Below 90\u202f% of charge", "70\u202f%"],
      ["Below 80\u202f% of charge", "50\u202f%"],
      ["Below 50\u202f% of charge", "5.0\u202f%"],
    ]);
    expect(partlyCharged({ ...use, soc_tenths: use.soc_tenths.map(() => 0) })).toEqual([]);
  });
  it("hot_counts_from_thirty_degrees_on", () => {
    const bins = [{ from_c: null, to_c: 30, hours: 90 }, { from_c: 30, to_c: 40, hours: 8 }, { from_c: 40, to_c: null, hours: 2 }];
    const said = (temperature_h: typeof bins) => hot({ ...old.use, temperature_h }).map(({ name, text, more }) => [name, text, more]);
    expect(said(bins)).toEqual([["Above 30\u202f°C", "10\u202fh", "10\u202f% of the time"], ["Above 40\u202f°C", "2\u202fh", "2.0\u202f% of the time"]]);
    expect(said([bins[0]!])).toEqual([["Above 30\u202f°C", "never", undefined]]);
    expect(said([])).toEqual([]);
  });
});

describe("bands", () => {
  it("decimals_follow_the_band", () => {
    expect(banded({ value: 112.43, low: 109.1, high: 115.76 }, "Ah", 1, false, 1)).toEqual({ text: "112.4\u202fAh", more: "109.1 to 115.8" });
    expect(banded({ value: 112.43, low: 92, high: 132 }, "Ah")).toEqual({ text: "112\u202fAh", more: "92 to 132" });
  });
  it("a_loss_a_year_carries_its_sign", () => {
    expect(perYear({ value: -0.034, low: -0.0424, high: -0.0254 })).toEqual({ text: "\u22123.4\u202f%", more: "\u22124.2 to \u22122.5" });
  });
  it("ohms_are_thousandths", () => {
    expect([milliohm(0.0058), milliohm(0.0388), milliohm(0.12)]).toEqual(["5.80\u202fmΩ", "38.8\u202fmΩ", "120\u202fmΩ"]);
  });
  it("the_end_of_life_is_a_range_or_not_before", () => {
    const end = (latest: string | null) =>
      capacityFacts({ ...old, fade: { ...old.fade, end_of_life: { earliest: "2031-05-10T00:00:00Z", middle: null, latest } } }, reader).find(({ name }) => /Below/.test(name));
    expect(end("2034-08-10T00:00:00Z")).toMatchObject({ name: "Below 80\u202f%", text: "between May 2031 and Aug 2034" });
    expect(end(null)?.text).toBe("not before May 2031");
  });
});

describe("the picture of capacity", () => {
  const shown = picture(old, PRESENT)!;
  it("has_every_finding_and_the_forecast_goes_on_from_the_line", () => {
    expect(shown.dots.length).toBe(34);
    expect(shown.dots.filter((dot) => !dot.believed).length).toBe(1);
    expect(shown.forecast[0]).toEqual(shown.line.at(-1));
  });
  it("reaches_to_where_the_end_of_life_is_sure_and_no_further", () => {
    const latest = Date.parse(old.fade.end_of_life!.latest!);
    expect(shown.to).toBeGreaterThan(latest);
    expect(shown.to).toBeLessThan(Date.parse(old.fade.forecast.at(-1)!.time!) + 0.1 * (latest - shown.from));
    expect(shown.bottom).toBeLessThan(0.8);
    expect(shown.top).toBeGreaterThan(1);
  });
  it("columns_rise_in_time_and_leave_gaps_for_each_other", () => {
    const [times, high, low, line, aheadHigh, aheadLow, ahead] = columns(shown);
    expect([...times!].sort((a, b) => a! - b!)).toEqual(times);
    expect(new Set(times).size).toBe(times!.length);
    times!.forEach((_, i) => {
      if (line![i] !== null) expect(low![i]! <= line![i]! && line![i]! <= high![i]!).toBe(true);
      if (ahead![i] !== null) expect(aheadLow![i]! <= ahead![i]! && ahead![i]! <= aheadHigh![i]!).toBe(true);
    });
    expect(line!.filter((value) => value !== null).length).toBe(shown.line.length);
    expect(ahead!.at(-1)).not.toBeNull();
  });
  it("there_is_none_before_the_second_finding", () => {
    expect(picture(young, PRESENT)).toBeNull();
    const one = old.capacity.findings.slice(0, 1);
    expect(picture({ ...young, capacity: { latest: null, findings: one } }, PRESENT)).toBeNull();
  });
  it("a_young_one_has_room_for_half_a_year_and_for_its_bands", () => {
    const found = old.capacity.findings[0]!;
    const at = (days: number, low: number, high: number) => ({ ...found, time: new Date(PRESENT - days * 86_400_000).toISOString(), corrected_ah: { value: 110, low, high } });
    const two = picture({ ...young, rated_capacity_ah: 120, capacity: { latest: null, findings: [at(20, 77, 135), at(2, 100, 120)] } }, PRESENT)!;
    expect(two.to - two.from).toBeGreaterThan(183 * 86_400_000);
    expect(two.bottom).toBeLessThan(77 / 120);
    expect(two.top).toBeGreaterThan(135 / 120);
  });
  it("however_far_the_forecast_reaches_the_past_keeps_a_quarter", () => {
    const far = { earliest: "2045-01-01T00:00:00Z", middle: null, latest: null };
    const ahead = [...old.fade.forecast, { time: "2080-01-01T00:00:00Z", ratio: 0.7, low: 0.6, high: 0.8 }];
    const long = picture({ ...old, fade: { ...old.fade, forecast: ahead, end_of_life: far } }, PRESENT)!;
    expect((PRESENT - long.from) / (long.to - long.from)).toBeGreaterThan(0.22);
  });
  it("a_record_from_ahead_of_the_clock_has_its_own_present", () => {
    const shown = picture(old, PRESENT - 10 * 365 * 86_400_000)!;
    expect(shown.now).toBeGreaterThan(shown.dots.at(-1)!.ms);
  });
  it("findings_alone_make_one_without_a_line", () => {
    const alone = picture({ ...old, fade: young.fade }, PRESENT)!;
    expect(columns(alone)[0]).toEqual([]);
    expect(alone.to).toBeGreaterThan(PRESENT);
  });
});

describe("tables", () => {
  it("resistance_has_the_bank_first_and_a_second_and_a_minute_beside_each_other", () => {
    const rows = resisting(old.resistance);
    expect(rows.map(({ name }) => name)).toEqual(["the bank", "monobloc\u00a01", "monobloc\u00a02", "monobloc\u00a03", "monobloc\u00a04"]);
    expect(rows[0]!.second?.more).toBe("+4.1\u202f% a year");
    expect(rows[0]!.minute).not.toBeNull();
    expect(rows[1]!.minute).toBeNull();
    expect(resisting(young.resistance)[0]!.second?.more).toBe("no trend yet");
  });
  it("balance_shows_a_dash_where_nothing_was_compared", () => {
    const one = { state: "load" as const, monobloc: 2, deviation_v: -0.214, contact_open_v: null, contact_closed_v: null, days: 4 };
    const rows = (now: HealthRecord["balance"]["now"]) => balanceRows({ ...old.balance, now });
    expect(rows([one])).toEqual([{ monobloc: 2, cells: [["\u2013", ""], ["\u2212214\u202fmV", ""], ["\u2013", ""]] }]);
    expect(rows([{ ...one, contact_open_v: -0.22, contact_closed_v: -0.08 }])[0]!.cells[1]![1]).toBe("balancer off \u2212220\u202fmV, on \u221280\u202fmV");
  });
  it("the_spread_is_compared_with_its_first_only_after_a_month", () => {
    const spread = [
      { time: "2026-11-01T00:00:00Z", state: "rest" as const, spread_v: 0.03 },
      { time: "2026-11-20T00:00:00Z", state: "rest" as const, spread_v: 0.04 },
    ];
    expect(spreads({ ...old.balance, spread }, "UTC")[0]).toEqual({ text: "40\u202fmV", more: "" });
    const long = [{ ...spread[0]!, time: "2024-03-01T00:00:00Z" }, spread[1]!];
    expect(spreads({ ...old.balance, spread: long }, "UTC")[0]).toEqual({ text: "40\u202fmV", more: "30\u202fmV in Mar 2024" });
  });
  it("use_leaves_out_what_is_not_known_and_minds_what_is_unaccounted_for", () => {
    const named = (name: string) => useFacts(young.use, reader).find((fact) => fact.name === name);
    expect(named("Charging, to full")).toBeUndefined();
    expect(named("Charge efficiency")?.text).toBe("not known yet");
    expect(useFacts(old.use, reader).find(({ name }) => name === "Unaccounted for")?.class).toBe("minded");
    expect(useFacts({ ...young.use, days_since_full: null, last_full: null }, reader)[0]).toMatchObject({ text: "not seen full yet", more: "" });
  });
  it("tenths_stand_with_the_fullest_first_and_small_shares_keep_a_decimal", () => {
    const rows = tenthBars([0, 0, 0.004, 0, 0, 0, 0, 0, 0, 0.996]);
    expect(rows[0]).toEqual({ name: "90\u2013100\u202f%", share: 0.996, text: "100\u202f%" });
    expect(rows[7]).toMatchObject({ name: "20\u201330\u202f%", text: "0.4\u202f%" });
    expect(depthBars([3, 1.5, 0, 0, 0, 0, 0, 0, 0, 0]).slice(0, 2).map((row) => row.text)).toEqual(["3", "1.5"]);
  });
  it("temperatures_open_at_both_ends_are_named_so", () => {
    const rows = temperatureBars([{ from_c: null, to_c: 0, hours: 2 }, { from_c: 0, to_c: 10, hours: 3 }, { from_c: 40, to_c: null, hours: 1 }]);
    expect(rows.map(({ name }) => name)).toEqual(["below 0\u202f°C", "0 to 10\u202f°C", "40\u202f°C and above"]);
  });
  it("years_left_are_rounded_outward", () => {
    const left = (low: number, high: number) => stressFacts({ ...old.stress, remaining_years: { low, high } })[1]!.text;
    expect(left(2.86, 6.12)).toBe("2.8 to 6.2 years");
    expect(left(11.7, 24.2)).toBe("11 to 25 years");
    expect(left(11.7, 240)).toBe("11 years or more");
    expect(stressFacts(young.stress)[0]!.text).toBe("not known yet");
  });
});
