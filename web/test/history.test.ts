import { describe, expect, it, vi } from "vitest";
import type { Bank, History } from "../src/api";
import { clusters } from "../src/history/marks";
import { Latest } from "../src/history/load";
import { extremes, panelsOf, spread, table } from "../src/history/panels";
import { unreadIn } from "../src/history/unread";
import { followed, fromQuery, kept, moved, named, toQuery, zoomed } from "../src/history/span";

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
  it("address_brings_the_span_back", () => {
    const standing = kept({ from: limits.present - 3 * DAY, to: limits.present - 2 * DAY, name: null }, limits);
    const query = Object.entries(toQuery(standing)).flatMap(([key, value]) => (value === null ? [] : [[key, value]]));
    expect(fromQuery(new URLSearchParams(query), limits)).toEqual(standing);
    expect(fromQuery(new URLSearchParams("span=1w"), limits)).toEqual(named("1w", limits));
    expect(fromQuery(new URLSearchParams("span=toString&from=x"), limits)).toEqual(named("1d", limits));
  });
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
  branches: [], channels: ["voltage_v:V", "current_a:A", "temperature_c:°C", "monobloc_1_v:V", "monobloc_2_v:V", "sea_water_c:°C"].map((each) => {
    const [name, unit] = each.split(":") as [string, string];
    return { name, unit };
  }),
};
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
    expect(extremes(history, volts, 0, 2)).toEqual({ low: 50, high: 54 });
    expect(extremes(history, soc, 0, 3)).toEqual({ low: 0.55, high: 0.7 });
    expect(extremes(history, soc, 1, 1)).toBeNull();
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

describe("requests", () => {
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
