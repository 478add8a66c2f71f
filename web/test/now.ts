import type { Now } from "../src/api";

/** A drawing bank at 10:00 UTC on 25 November 2026, for tests to vary. */
export function someNow(change: Partial<Now> = {}): Now {
  return {
    bank: "drive",
    time: "2026-11-25T10:00:00Z",
    time_trusted: true,
    age_s: 0.4,
    device: { name: "drive-shunt", state: "live", quiet_s: 0.4 },
    voltage_v: 52.1,
    current_a: -23.8,
    power_w: -1240,
    temperature_c: 19.4,
    channels: {},
    soc: 0.71,
    soc_low: 0.69,
    soc_high: 0.73,
    charge_ah: 85.2,
    capacity_ah: 119.4,
    capacity_low_ah: 115,
    capacity_high_ah: 124,
    drawn_since_full_ah: 34.6,
    mean_current_a: -23.8,
    reserve: 0.3,
    endurance_s: 19 * 3600,
    endurance_low_s: 17.2 * 3600,
    endurance_high_s: 21.9 * 3600,
    reserve_s: 11.5 * 3600,
    reserve_low_s: 10.2 * 3600,
    reserve_high_s: 12.8 * 3600,
    full_s: null,
    full_low_s: null,
    full_high_s: null,
    deliverable: { load_a: 23.8, charge_ah: 78, low_ah: 72.4, high_ah: 83.1, held_ah: 85.2, bound_ah: 3, text: "At 23.8 A 72 to 84 Ah comes out." },
    learned: null,
    last_fix: { kind: "full", time: "2026-11-24T14:20:00Z", text: "full fix: reckoned 97.1 %, now 100.0 %" },
    start_known: true,
    method: "counter",
    ahead: [
      { t_s: 0, soc: 0.71, soc_low: 0.69, soc_high: 0.73 },
      { t_s: 3600, soc: 0.67, soc_low: 0.64, soc_high: 0.7 },
      { t_s: 7200, soc: 0.63, soc_low: 0.59, soc_high: 0.67 },
    ],
    ...change,
  };
}

export const charging = (change: Partial<Now> = {}): Now =>
  someNow({
    current_a: 24,
    power_w: 1300,
    mean_current_a: 24,
    endurance_s: null,
    endurance_low_s: null,
    endurance_high_s: null,
    reserve_s: null,
    reserve_low_s: null,
    reserve_high_s: null,
    full_s: 5400,
    full_low_s: 4800,
    full_high_s: 7000,
    ...change,
  });
