import { describe, expect, it, vi } from "vitest";
import type { Bank, Branch, History, Sums } from "../src/api";
import { extremes, mean, table } from "../src/history/columns";
import { alone, spread } from "../src/history/drawing";
import { Latest, Steady } from "../src/history/load";
import { bars, clusters, labelOf, toldOfMark, toldOfPassage } from "../src/history/marks";
import { Measure } from "../src/history/measure";
import { channelsOf, chosenPanels, panelsOf, readChoices } from "../src/history/panels";
import { extremesOf, factsOf } from "../src/history/partsaid";
import { rangeText, underCursor } from "../src/history/readings";
import { atEdge, followed, fromQuery, kept, moved, named, serves, toQuery, withMargins, zoomed } from "../src/history/span";
import { unreadIn } from "../src/history/unread";
import type { Passage } from "../src/record";

const DAY = 86_400_000;
const limits = { first: Date.parse("2026-11-04T10:00:00Z"), present: Date.parse("2026-11-25T10:00:00Z") };

describe("span", () => {
  it("zoom_keeps_the_moment_under_the_pointer", () => {
    const span = named("1d", limits);
    const about = span.from + 0.25 * DAY;
    const closer = zoomed(span, 0.5, about, limits);
    expect(closer.to - closer.from).toBeCloseTo(DAY / 2);
    expect((about - closer.from) / (closer.to - closer.from)).toBeCloseTo(0.25);
  });
  it("zoom_ends_at_twenty_seconds", () => {
    const closest = zoomed(named("1h", limits), 1e-9, limits.present - 1_800_000, limits);
    expect(closest.to - closest.from).toBeCloseTo(20_000);
  });
  it("pan_stops_at_the_present_and_at_the_first_sample", () => {
    const late = moved(named("1d", limits), 5, limits);
    expect(late.to).toBeLessThanOrEqual(limits.present + 0.021 * DAY);
    const early = moved(named("1d", limits), -500, limits);
    expect(early.from).toBeGreaterThanOrEqual(limits.first - 0.021 * DAY);
    expect(early.to - early.from).toBeCloseTo(DAY);
  });
  it("named_span_follows_the_present_and_a_moved_one_stands", () => {
    const later = { ...limits, present: limits.present + 60_000 };
    expect(followed(named("1h", limits), later).to).toBe(later.present);
    const standing = moved(named("1h", limits), -0.5, limits);
    expect(followed(standing, later)).toBe(standing);
  });
  it("home_and_end_keep_the_width", () => {
    const span = moved(named("1d", limits), -3, limits);
    expect(atEdge(span, "first", limits)).toMatchObject({ from: limits.first, to: limits.first + DAY });
    expect(atEdge(span, "present", limits)).toMatchObject({ from: limits.present - DAY, to: limits.present });
  });
  it("what_is_loaded_serves_small_moves_and_small_zooms_only", () => {
    const span = kept({ from: limits.present - 5 * DAY, to: limits.present - 4 * DAY, name: null }, limits);
    const loaded = withMargins(span);
    expect(serves(loaded, span)).toBe(true);
    expect(serves(loaded, moved(span, 0.3, limits))).toBe(true);
    expect(serves(loaded, moved(span, -0.4, limits))).toBe(false);
    expect(serves(loaded, zoomed(span, 1 / 1.2, span.from + DAY / 2, limits))).toBe(true);
    expect(serves(loaded, zoomed(span, 1 / 1.5, span.from + DAY / 2, limits))).toBe(false);
    expect(serves(loaded, zoomed(span, 1.5, span.from + DAY / 2, limits))).toBe(false);
  });
  it("address_brings_the_span_back", () => {
    const standing = kept({ from: limits.present - 3 * DAY, to: limits.present - 2 * DAY, name: null }, limits);
    const query = Object.entries(toQuery(standing)).flatMap(([key, value]) => (value === null ? [] : [[key, value]]));
    expect(fromQuery(new URLSearchParams(query), limits)).toEqual(standing);
    expect(fromQuery(new URLSearchParams("span=1w"), limits)).toEqual(named("1w", limits));
    expect(fromQuery(new URLSearchParams("span=toString&from=x"), limits)).toEqual(named("1d", limits));
  });
});

const branch = (name: string, role: Branch["role"], reversed = false, channel: string | null = `${name}_a`): Branch => ({
  name,
  title: name.charAt(0).toUpperCase() + name.slice(1),
  role,
  purpose: "other",
  device: channel && "branches",
  channel,
  reversed,
});
const bank: Bank = {
  name: "drive",
  title: "Drive bank",
  chemistry: "lead-carbon",
  cells_in_series: 24,
  rated_capacity_ah: 120,
  rated_hours: 20,
  reserve: 0.3,
  first_time: null,
  channels: ["voltage_v:V", "current_a:A", "temperature_c:°C", "monobloc_1_v:V", "monobloc_2_v:V", "sea_water_c:°C"].map((each) => {
    const [name, unit] = each.split(":") as [string, string];
    return { name, unit };
  }),
  branches: [],
};
const withBranches: Bank = {
  ...bank,
  channels: [...bank.channels, ...["generator_a", "solar_a", "motor_a", "dc_dc_a", "spare_a"].map((name) => ({ name, unit: "A" })), { name: "shaft_speed_rpm", unit: "r/min" }],
  branches: [branch("generator", "source"), branch("solar", "source"), branch("motor", "load", true), branch("standing", "load", false, null)],
};
const reader = { present: Date.parse("2026-11-25T10:00:00Z"), zone: "Europe/Lisbon" };
const history: History = {
  from_ms: 0,
  to_ms: 4,
  step_ms: 1,
  reconciled_until_ms: null,
  time_ms: [0, 1, 2, 3],
  channels: {
    soc: { unit: "1", low: [0.5, null, 0.6, 0.6], mean: [0.55, null, 0.65, 0.7], high: [0.6, null, 0.7, 0.8] },
    voltage_v: { unit: "V", min: [50, null, 51, 52], mean: [51, null, 52, 53], max: [52, null, 54, 55] },
  },
  marks: [],
  unreadable: [],
};

describe("panels", () => {
  it("main_quantities_first_and_monoblocs_together", () => {
    expect(panelsOf(bank).map((spec) => spec.title)).toEqual(["Charge", "Voltage", "Current", "Power", "Temperature", "Monoblocs", "Sea water"]);
    expect(panelsOf(bank)[5]!.lines.map((line) => line.label)).toEqual(["1", "2"]);
  });
  it("gaps_stay_null_in_the_chart", () => {
    const rows = table(history, panelsOf(bank)[1]!);
    expect(rows.map((row) => row[1])).toEqual([1, null, null, null]);
  });
  it("channel_that_is_missing_is_all_gap", () => {
    expect(table(history, panelsOf(bank)[2]!)[3]).toEqual([null, null, null, null]);
  });
  it("extremes_are_of_the_part_and_of_the_trace_not_its_band", () => {
    const [soc, volts] = panelsOf(bank) as [ReturnType<typeof panelsOf>[0], ReturnType<typeof panelsOf>[0]];
    expect(extremes(history, volts, 0, 2)).toMatchObject({ low: { value: 50, at: 0 }, high: { value: 54, at: 2 } });
    expect(extremes(history, soc, 0, 3)).toMatchObject({ low: { value: 0.55 }, high: { value: 0.7 } });
    expect(extremes(history, soc, 1, 1)).toBeNull();
  });
  it("branches_stand_together_by_what_they_do_and_other_channels_by_themselves", () => {
    const specs = panelsOf(withBranches);
    expect(specs.map((spec) => spec.title)).toEqual(
      ["Charge", "Voltage", "Current", "Power", "Temperature", "Sources", "Loads", "Monoblocs", "Sea water", "DC-DC converter", "Spare", "Shaft speed"],
    );
    const loads = specs.find((spec) => spec.key === "loads")!;
    expect(loads.lines, "a branch without a sensor has no line").toEqual([{ channel: "motor_a", label: "Motor", sign: -1 }]);
  });
  it("a_sensor_that_counts_the_other_way_is_turned_with_its_extremes", () => {
    const loads = panelsOf(withBranches).find((spec) => spec.key === "loads")!;
    const drawn: History = { ...history, channels: { motor_a: { unit: "A", min: [1, null, 2, 3], mean: [4, null, 5, 6], max: [7, null, 8, 9] } } };
    expect(table(drawn, loads).map((row) => row[0])).toEqual([0, -1, -7, -4]);
    expect(extremes(drawn, loads, 0, 3)).toMatchObject({ low: { value: -9, label: "Motor" }, high: { value: -1 } });
    expect(underCursor(drawn, loads, 3)).toBe("Motor\u00a0\u22126.0\u202fA");
    expect(underCursor(drawn, loads, 1)).toBe("nothing recorded");
  });
  it("the_usual_panels_are_shown_until_the_reader_says_otherwise", () => {
    const keys = (of: Bank, choices = {}) => chosenPanels(panelsOf(of), choices).map((spec) => spec.key);
    expect(keys(withBranches)).toEqual(["soc", "voltage_v", "current_a", "temperature_c", "sources", "loads"]);
    expect(keys(bank), "power takes the place of branches").toEqual(["soc", "voltage_v", "current_a", "power_w", "temperature_c"]);
    expect(keys(bank, { power_w: false, sea_water_c: true })).toEqual(["soc", "voltage_v", "current_a", "temperature_c", "sea_water_c"]);
    expect(keys(bank, Object.fromEntries(panelsOf(bank).map((spec) => [spec.key, false]))), "never none").toEqual(["soc"]);
    expect(channelsOf(chosenPanels(panelsOf(withBranches), {}))).toContain("motor_a");
  });
  it("what_was_kept_of_the_choices_is_read_or_left", () => {
    expect(readChoices('{"power_w":true,"soc":"x"}')).toEqual({ power_w: true });
    for (const text of [null, "", "[1]", "null", "{"]) expect(readChoices(text)).toEqual({});
  });
  it("shaft_speed_has_no_decimals", () => {
    const shaft = panelsOf(withBranches).find((spec) => spec.key === "shaft_speed_rpm")!;
    const turning: History = { ...history, channels: { shaft_speed_rpm: { unit: "r/min", mean: [0, null, 700, 1446] } } };
    expect(rangeText(turning, shaft, { from: 0, to: 3 })).toBe("0 to 1,446\u202fr/min");
    expect(rangeText(turning, shaft, { from: 1, to: 1 })).toBe("");
  });
  it("a_bin_between_two_gaps_is_a_dot", () => {
    expect(alone([1, null, 2, null, 3, 4], 0, 5)).toEqual([0, 2]);
    expect(alone([null, 5, 6, null], 0, 3)).toEqual([]);
  });
  it("line_names_are_pushed_apart_in_order", () => {
    const places = spread([50, 51, 49], 10, 0, 100);
    expect(places[2]! < places[0]! && places[0]! < places[1]!).toBe(true);
    const sorted = [...places].sort((a, b) => a - b);
    expect(sorted[1]! - sorted[0]!).toBeGreaterThanOrEqual(10);
    expect(spread([98, 99], 10, 0, 100)).toEqual([90, 100]);
  });
  it("marks_too_near_each_other_become_one", () => {
    const mark = (time_ms: number) => ({ time_ms, kind: "event" as const, title: "t", text: "" });
    const found = clusters([mark(5), mark(50), mark(8), mark(500)], (ms) => ms, 200);
    expect(found.map((cluster) => cluster.marks.length)).toEqual([2, 1]);
  });
});

describe("marks", () => {
  const x = (ms: number): number => (ms - reader.present) / 60_000 + 500;
  const passage = (id: number, from_min: number, to_min: number | null, name = ""): Passage => {
    const time = (minutes: number): string => new Date(reader.present + (minutes - 500) * 60_000).toISOString();
    return { id, name, note: "", origin: "found", begin: time(from_min), end: to_min === null ? null : time(to_min), going_on: to_min === null, settled: true, summary: null };
  };
  it("passages_are_cut_to_the_row_and_one_under_way_reaches_the_present", () => {
    const found = bars([passage(3, 450, null), passage(1, -80, 20), passage(2, 100, 180), passage(4, -90, -10)], x, 1000, reader);
    expect(found.map(({ from, to, passages: [one] }) => [one!.id, from, to])).toEqual([[1, 0, 20], [2, 100, 180], [3, 450, 500]]);
  });
  it("short_passages_that_would_cover_each_other_become_one", () => {
    const found = bars([passage(1, 10, 12), passage(2, 15, 17), passage(3, 40, 90), passage(4, 91, 150)], x, 1000, reader);
    expect(found.map((bar) => bar.passages.map((each) => each.id))).toEqual([[1, 2], [3], [4]]);
  });
  it("a_mark_is_called_by_what_it_is_and_leads_to_its_time", () => {
    const told = toldOfMark({ time_ms: reader.present, kind: "event", title: "note", text: "Oil changed" }, reader);
    expect(told).toMatchObject({ title: "Note", when: "Wed 25 Nov 10:00", text: "Oil changed", passage: null });
    expect(told.span.from).toBeLessThan(reader.present);
    expect(toldOfMark({ time_ms: 0, kind: "event", title: "new-kind", text: "new-kind" }, reader)).toMatchObject({ title: "new-kind", text: "" });
  });
  it("a_passage_is_told_by_its_name_or_its_beginning", () => {
    expect(toldOfPassage(passage(7, 20, 80, "Home"), reader)).toMatchObject({ title: "Home", when: "Wed 25 Nov 02:00 to 03:00", passage: 7 });
    expect(toldOfPassage(passage(8, 20, 80), reader)).toMatchObject({ title: "Passage of Wed 25 Nov 02:00", when: "1 h" });
    const several = [passage(7, 20, 80, "Home"), passage(8, 20, 80)].map((each) => toldOfPassage(each, reader));
    expect(labelOf(several, (count) => `${count} passages`)).toMatch(/^2 passages, Wed 25 Nov/);
  });
});

describe("a span is chosen", () => {
  it("by_two_ends_in_either_order", () => {
    const measure = new Measure();
    expect(measure.on).toBe(false);
    measure.begin();
    expect([measure.on, measure.drawing]).toEqual([true, false]);
    expect(measure.set(50)).toBeNull();
    expect(measure.drawing).toBe(true);
    expect(measure.until(20)).toEqual({ from: 20, to: 50 });
    expect(measure.set(20)).toEqual({ from: 20, to: 50 });
    expect(measure.on).toBe(false);
  });
  it("its_sums_means_and_ends_are_told", () => {
    const sums: Sums = { from_ms: 0, to_ms: 7_200_000, charge_in_ah: 2, charge_out_ah: 12, energy_in_wh: 100, energy_out_wh: 620, covered_s: 3600 };
    const facts = factsOf(sums, history, { from: 0, to: 7_200_000 });
    const told = Object.fromEntries(facts.map(({ name, text, more }) => [name, `${text} ${more ?? ""}`.trim()]));
    expect(told).toMatchObject({
      Net: "\u221210.0\u202fAh \u22120.52\u202fkWh",
      "Mean current": "\u221210.0\u202fA",
      "Mean power": "\u2212520\u202fW",
      "Charge at the start": "55\u202f% 50\u201360",
      "Charge at the end": "70\u202f% 60\u201380",
      Recorded: "1 h of 2 h",
    });
  });
  it("its_mean_current_is_what_flowed_and_other_means_are_of_the_bins", () => {
    const flowing: History = { ...history, channels: { ...history.channels, current_a: { unit: "A", min: [-9, null, 1, 1], mean: [-5, null, 1, 1], max: [-1, null, 2, 2] } } };
    const sums: Sums = { from_ms: 0, to_ms: 4, charge_in_ah: 0, charge_out_ah: 3, energy_in_wh: 0, energy_out_wh: 150, covered_s: 3600 };
    const volts = panelsOf(bank)[1]!;
    expect(mean(flowing, volts.lines[0]!)).toBe(52);
    const found = extremesOf(sums, flowing, panelsOf(bank), { from: 0, to: 4 }, { ...reader, zone: "UTC" });
    expect(found.map(({ name, mean: middle }) => [name, middle])).toEqual([["Charge", "63.3\u202f%"], ["Voltage", "52.0\u202fV"], ["Current", "\u22123.0\u202fA"]]);
    expect(found[2]).toMatchObject({ least: ["\u22129.0\u202fA", "00:00:00"], most: ["2.0\u202fA", "00:00:00"] });
  });
});

describe("requests", () => {
  it("while_moving_each_answer_counts_and_the_newest_question_follows", async () => {
    vi.useFakeTimers();
    const taken: string[] = [];
    const slow: boolean[] = [];
    const steady = new Steady<string>((result) => taken.push(result), (why) => taken.push(String(why)), (is) => slow.push(is));
    const asked: string[] = [];
    const question = (name: string, ms: number) => (): Promise<string> => {
      asked.push(name);
      return new Promise((resolve) => setTimeout(() => resolve(name), ms));
    };
    steady.ask(question("a", 400));
    await vi.advanceTimersByTimeAsync(10);
    for (const name of ["b", "c", "d"]) steady.ask(question(name, 20));
    await vi.advanceTimersByTimeAsync(350);
    expect(slow, "an answer that takes long is told").toEqual([true]);
    await vi.advanceTimersByTimeAsync(2000);
    vi.useRealTimers();
    expect(asked).toEqual(["a", "d"]);
    expect(taken).toEqual(["a", "d"]);
    expect(slow.at(-1)).toBe(false);
  });
  it("only_the_last_of_a_burst_is_asked_and_an_overtaken_one_is_dropped", async () => {
    vi.useFakeTimers();
    const taken: string[] = [];
    const latest = new Latest<string>((result) => taken.push(result), (why) => taken.push(String(why)), 100);
    const asked: string[] = [];
    const question = (name: string, ms: number) => (signal: AbortSignal) => {
      asked.push(name);
      return new Promise<string>((resolve, reject) => {
        setTimeout(() => resolve(name), ms);
        signal.addEventListener("abort", () => reject(new Error("aborted")));
      });
    };
    latest.ask(question("a", 10));
    latest.ask(question("b", 500));
    await vi.advanceTimersByTimeAsync(150);
    latest.ask(question("c", 10));
    await vi.advanceTimersByTimeAsync(1000);
    vi.useRealTimers();
    expect(asked).toEqual(["b", "c"]);
    expect(taken).toEqual(["c"]);
  });
});

describe("unreadable stretches", () => {
  const at = (ms: number): string => new Date(ms).toISOString();
  const stretch = (from: number, to: number) => ({ series: "shunt", from: at(from), to: at(to), cause: "the checksum does not match" });
  it("those_in_the_span_are_told_together_and_cut_to_it", () => {
    const all = [stretch(1000, 5000), stretch(9000, 12_000), stretch(50_000, 60_000)];
    expect(unreadIn(all, { from: 3000, to: 20_000 })).toEqual({ from: 3000, to: 12_000, pieces: 2 });
    expect(unreadIn(all, { from: 20_000, to: 40_000 })).toBeNull();
  });
  it("what_has_no_time_is_in_no_span", () => {
    expect(unreadIn([{ series: "shunt", from: null, to: null, cause: "" }], { from: 0, to: DAY })).toBeNull();
  });
});
