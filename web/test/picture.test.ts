import { describe, expect, it } from "vitest";
import type { History } from "../src/api";
import { currentEnds, fanAt, nearest, reach, runs } from "../src/picture/frame";
import { alongLine, clear, overlap } from "../src/picture/labels";
import { boxesAlong, scene } from "../src/picture/scene";
import { charging, someNow } from "./now";

const HOUR = 3_600_000;
const present = Date.parse("2026-11-25T10:00:00Z");

/** An hourly day of history with a gap of some hours at `gap`. */
function day(gap: number[] = []): History {
  const time_ms = Array.from({ length: 24 }, (_, i) => present - (24 - i) * HOUR);
  const soc = time_ms.map((_, i) => (gap.includes(i) ? null : 0.9 - i * 0.008));
  const flow = soc.map((value) => (value === null ? null : -1.5));
  const shift = (by: number) => soc.map((value) => (value === null ? null : value + by));
  return {
    from_ms: time_ms[0]!,
    to_ms: present,
    step_ms: HOUR,
    reconciled_until_ms: null,
    time_ms,
    channels: { soc: { unit: "1", low: shift(-0.02), mean: soc, high: shift(0.02) }, current_a: { unit: "A", min: flow, mean: flow, max: flow } },
    marks: [{ time_ms: present - 5 * HOUR, kind: "fix", title: "Full fix", text: "" }],
    unreadable: [],
  };
}
const drawn = (past: History | null, change = {}, old = false) =>
  scene({ now: someNow(change), past, present, reach: 14 * HOUR, zone: "Europe/Lisbon", old }, 1200, 400, 16);

describe("scene", () => {
  it("gap_in_the_past_stays_a_gap", () => {
    expect(drawn(day()).past).toHaveLength(1);
    const parts = drawn(day([10, 11, 12])).past;
    expect(parts).toHaveLength(2);
    expect(parts[1]!.centre[0]!.x).toBeGreaterThan(parts[0]!.centre.at(-1)!.x + 50);
    expect(drawn(day([10, 11])).strip).toHaveLength(2);
  });
  it("trace_runs_into_now_but_not_across_missing_hours", () => {
    const whole = drawn(day());
    expect(whole.past[0]!.centre.at(-1)!.x).toBeCloseTo(whole.x(present));
    const broken = drawn(day([19, 20, 21, 22, 23]));
    expect(broken.past[0]!.centre.at(-1)!.x).toBeLessThan(broken.x(present - 4 * HOUR));
  });
  it("bracket_lies_where_the_reserve_is_met", () => {
    const { bracket, x } = drawn(day());
    expect(bracket).toEqual({ a: x(present + 10.2 * HOUR), b: x(present + 12.8 * HOUR), open: false });
  });
  it("bracket_that_leaves_the_picture_is_open", () => {
    expect(drawn(day(), { reserve_high_s: 30 * 3600 }).bracket).toMatchObject({ open: true });
    expect(drawn(day(), { reserve_low_s: 20 * 3600, reserve_high_s: 30 * 3600 }).bracket).toBeNull();
  });
  it("silent_sensor_has_no_fan_and_no_bracket", () => {
    const quiet = drawn(day(), {}, true);
    expect([quiet.fan, quiet.bracket, quiet.meanCurrent]).toEqual([null, null, null]);
    expect(quiet.past).toHaveLength(1);
  });
  it("fix_lies_on_the_trace", () => {
    const { fixes, x, y } = drawn(day());
    expect(fixes[0]!.at).toEqual({ x: x(present - 5 * HOUR), y: y(0.9 - 19 * 0.008) });
  });
});

describe("frame", () => {
  it("picture_reaches_past_the_reserve_within_two_days", () => {
    expect(reach(someNow(), null)).toBe(16 * HOUR);
    expect(reach(charging(), null)).toBe(6 * HOUR);
    expect(reach(someNow({ reserve_high_s: 1e6 }), null)).toBe(48 * HOUR);
  });
  it("small_changes_leave_the_reach_alone", () => {
    expect(reach(someNow({ reserve_high_s: 12 * 3600 }), 16 * HOUR)).toBe(16 * HOUR);
    expect(reach(someNow({ reserve_high_s: 5 * 3600 }), 16 * HOUR)).toBe(6 * HOUR);
  });
  it("current_scale_is_round_and_holds_zero", () => {
    expect(currentEnds(-41, 28)).toEqual({ low: -50, high: 50 });
    expect(currentEnds(-41, 0)).toEqual({ low: -50, high: 20 });
    expect(currentEnds(0, 0).low).toBeLessThan(0);
  });
  it("fan_is_read_between_its_points_and_ends", () => {
    expect(fanAt(someNow().ahead, 1800)!.soc).toBeCloseTo(0.69);
    expect(fanAt(someNow().ahead, 7201)).toBeNull();
  });
  it("runs_and_nearest", () => {
    expect(runs([1, 2, null, 3, null])).toEqual([[0, 1], [3, 3]]);
    expect(nearest([0, 10, 20], 14)).toBe(1);
    expect(nearest([0, 10, 20], 16)).toBe(2);
    expect(nearest([], 1)).toBe(-1);
  });
});

describe("labels", () => {
  it("label_avoids_the_trace", () => {
    const { past } = drawn(day());
    const obstacles = boxesAlong(past[0]!, 6);
    const bounds = { x: 40, y: 20, w: 1100, h: 300 };
    const y = past[0]!.centre[3]!.y;
    const place = clear(alongLine(y, 50, 1100, 80, 16, 4), obstacles, bounds);
    expect(place).not.toBeNull();
    expect(obstacles.every((box) => overlap(box, place!) === 0)).toBe(true);
  });
  it("label_without_room_is_left_out", () => {
    expect(clear([{ x: 0, y: 0, w: 10, h: 10 }], [{ x: 5, y: 5, w: 10, h: 10 }], { x: 0, y: 0, w: 50, h: 50 })).toBeNull();
  });
});
