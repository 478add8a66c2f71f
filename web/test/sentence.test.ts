import { describe, expect, it } from "vitest";
import type { Now } from "../src/api";
import { sentence, type Circumstance } from "../src/sentence";
import { charging, someNow } from "./now";

const said = (now: Now | null, change: Partial<Circumstance> = {}): string =>
  sentence({ now, present: Date.parse("2026-11-25T10:00:00Z"), zone: "Europe/Lisbon", link: "up", ...change })
    .map((piece) => piece.text)
    .join("");

describe("the sentence", () => {
  it("drawing_says_when_the_reserve_is_reached_and_the_last_fix", () => {
    expect(said(someNow())).toBe(
      "Drawing 1.24\u202fkW. At this load the reserve is reached between 20:10 and 22:50. Last fix: full, yesterday 14:20.",
    );
  });
  it("present_load_unlike_the_mean_is_told_apart", () => {
    expect(said(someNow({ power_w: -200, current_a: -3.8 }))).toContain(
      "Drawing 200\u202fW. At the recent mean load of 1.24\u202fkW the reserve is reached",
    );
  });
  it("charging_says_when_full", () => {
    expect(said(charging())).toMatch(/^Charging at 1\.30\u202fkW\. At this rate it is full between 11:20 and 12:00\./);
  });
  it("charging_below_the_reserve_says_both", () => {
    expect(said(charging({ soc: 0.2 }))).toMatch(/^Charging at 1\.30\u202fkW\. The charge is below the reserve\. At this rate/);
  });
  it("below_the_reserve_says_when_empty", () => {
    const now = someNow({ soc: 0.2, reserve_s: 0, reserve_low_s: 0, reserve_high_s: 0, endurance_low_s: 7200, endurance_high_s: 10_800 });
    expect(said(now)).toMatch(/The charge is below the reserve\. At this load the bank is empty between 12:00 and 13:00\./);
  });
  it("after_a_hard_run_what_is_held_is_not_called_gone", () => {
    const none = { endurance_s: 0, endurance_low_s: 0, endurance_high_s: 600, reserve_s: 0, reserve_low_s: 0, reserve_high_s: 0 };
    expect(said(someNow({ ...none, soc: 0.4, charge_ah: 48 }))).toMatch(
      /^Drawing 1\.24\u202fkW\. At this load nothing comes out now, although 48\.0\u202fAh is still held: a rest or a gentler load gives it back\./,
    );
    expect(said(someNow({ ...none, soc: 0.02, charge_ah: 2.4 }))).not.toContain("held");
  });
  it("resting_promises_nothing", () => {
    const rest = charging({ power_w: 0.2, current_a: 0.004, full_s: null, full_low_s: null, full_high_s: null });
    expect(said(rest)).toBe("Resting: next to no current flows. Last fix: full, yesterday 14:20.");
  });
  it("silent_sensor_names_the_device_the_age_and_the_time", () => {
    const now = someNow({ time: "2026-11-25T09:56:00Z", device: { name: "drive-shunt", state: "silent", quiet_s: 240 } });
    expect(said(now)).toBe("Nothing heard from drive-shunt for 4 min; the figures below are of 09:56.");
  });
  it("closed_port_is_said", () => {
    const now = someNow({ device: { name: "drive-shunt", state: "closed", quiet_s: 240 } });
    expect(said(now)).toMatch(/^The port of drive-shunt is closed; the figures below are of 10:00\./);
  });
  it("daemon_away_outweighs_everything", () => {
    expect(said(someNow(), { link: "away" })).toBe("The daemon does not answer; the figures below are of 10:00.");
    expect(said(null, { link: "away" })).toBe("The daemon does not answer.");
  });
  it("before_the_first_sample_it_waits", () => {
    expect(said(someNow({ time: null }))).toBe("Waiting for the first sample from drive-shunt.");
  });
  it("unknown_start_is_said_in_place_of_a_fix", () => {
    expect(said(someNow({ start_known: false, last_fix: null }))).toMatch(/The charge at the start was not known: .*fix\.$/);
  });
  it("store_in_trouble_is_said_with_its_cause", () => {
    const text = said(someNow({ store_trouble: "the card is full: make room" }));
    expect(text).toContain("Nothing can be stored: the card is full: make room.");
  });
  it("untrusted_clock_gives_durations_and_no_clock_times", () => {
    const text = said(someNow({ time_trusted: false, last_fix: null }));
    expect(text).toContain("the reserve is reached in 10–13 h. The clock is not set yet:");
    expect(text).not.toMatch(/\d\d:\d\d/);
  });
});
