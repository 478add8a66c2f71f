/** What the invented boat's daemon tells of itself, of its devices and of its banks as described; and what would be at another current. */
import { banks } from "./boat.mjs";
import { deliverable, endurance } from "./known.mjs";

export function description(name) {
  const bank = banks[name];
  const lead = bank.chemistry === "lead-carbon";
  return {
    name,
    title: bank.title,
    chemistry: bank.chemistry,
    cells_in_series: bank.cells_in_series,
    rated_capacity_ah: bank.rated_capacity_ah,
    rated_hours: bank.rated_hours,
    rates: lead ? [{ hours: 1, capacity_ah: 88 }, { hours: 10, capacity_ah: 116 }, { hours: 20, capacity_ah: 120 }] : [],
    peukert_exponent: lead ? null : 1.02,
    rates_assumed: !lead,
    reserve: bank.reserve,
    method: "filter",
    sensor_gain_error: 0.005,
    sensor_offset_a: 0.03,
    standing_load_a: bank.rated_capacity_ah * 0.005,
    temperature_law: lead ? "IEC 60896" : "lithium",
    full: { voltage_v: lead ? 56.4 : 28, compensation_v_per_k: lead ? -0.072 : 0, tail_current_a: bank.rated_capacity_ah * 0.03, hold_s: 1800 },
  };
}

/** The main device of each bank, the first with some lines that could not be read. */
export function devices(boat, t_s) {
  const all = Object.entries(banks).map(([name, bank], i) => {
    const now = boat.now(name, t_s);
    const channels = [["voltage_v", "V"], ["current_a", "A"], ["temperature_c", "°C"], ...Object.keys(now.channels).map((key) => [key, "V"])];
    return {
      name: bank.device,
      bank: name,
      main: true,
      port: `/dev/serial/by-id/invented-${name}`,
      baud: 19200,
      frame: i ? "delimited" : "json-lines",
      state: now.device.state,
      reason: now.device.state === "silent" ? "nothing comes although the port is open; look whether the device is switched on" : null,
      quiet_s: now.device.quiet_s,
      quiet_after_s: 10,
      bytes: 481_223,
      lines: 5210,
      samples: i ? 5210 : 5203,
      lost: 0,
      overlong: 0,
      bad_lines: i ? [] : [{ reason: "not one JSON object", count: 7 }],
      reopened: i ? 0 : 1,
      last_bad: i ? null : "not one JSON object: {\"voltage_v\":52.1,\"curr",
      last_refused: null,
      channels: channels.map(([channel, unit]) => ({ name: channel, unit, value: now[channel] ?? now.channels[channel] ?? null, unreadable: 0, out_of_range: 0 })),
    };
  });
  return { devices: all };
}

/** What a branch with a sensor carries: nothing now, and as much as is plausible at the most. */
export const carried = ({ name, title, role, purpose }) => ({ name, title, role, purpose, now_a: 0, most_a: purpose === "drive" ? 47 : 29 });

/** Straight lines from the present to the ends that the endurance, or the charger, says. */
export function outlook(name, now, current_a) {
  const bank = banks[name];
  const none = { endurance_s: null, endurance_low_s: null, endurance_high_s: null, reserve_s: null, reserve_low_s: null, reserve_high_s: null, full_s: null, full_low_s: null, full_high_s: null };
  const answer = { ...none, current_a, deliverable: deliverable(bank, { soc: now.soc, mean: current_a, spent: false }) };
  const line = (from, to, arrive_s) => (t_s) => (arrive_s > 0 ? from + (to - from) * Math.min(1, t_s / arrive_s) : to);
  const fan = (ends, to) => {
    const [low, likely, high] = [line(now.soc_low, to, ends[0]), line(now.soc, to, ends[1]), line(now.soc_high, to, ends[2])];
    const reach = Math.min(Math.max(...ends), 48 * 3600);
    return Array.from({ length: 49 }, (_, i) => (reach * i) / 48).map((t_s) => ({ t_s, soc: likely(t_s), soc_low: low(t_s), soc_high: high(t_s) }));
  };
  if (current_a < 0) {
    const lasts = endurance(bank, now, -current_a);
    return {
      ...answer,
      endurance_s: lasts.empty_s,
      endurance_low_s: lasts.empty_low_s,
      endurance_high_s: lasts.empty_high_s,
      reserve_s: lasts.reserve_s,
      reserve_low_s: lasts.reserve_low_s,
      reserve_high_s: lasts.reserve_high_s,
      ahead: fan([lasts.empty_low_s, lasts.empty_s, lasts.empty_high_s], 0.05),
    };
  }
  const s = (soc, factor) => (((1 - soc) * bank.capacity) / Math.max(current_a, 0.01)) * 3600 * factor;
  const full = [s(now.soc_low, 1.3), s(now.soc, 1.15), s(now.soc_high, 1)];
  return { ...answer, full_s: full[1], full_low_s: full[2], full_high_s: full[0], ahead: fan(full, 1) };
}
