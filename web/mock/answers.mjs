/** The API's answers about the invented boat. */
import { banks, liveDrift, noise, past, PAST_S, sample } from "./boat.mjs";
import { deliverable, endurance, learned } from "./known.mjs";

const iso = (s) => new Date(Math.round(s * 1000)).toISOString();
const channelsOf = (bank) => [
  { name: "voltage_v", unit: "V" },
  { name: "current_a", unit: "A" },
  { name: "temperature_c", unit: "°C" },
  ...Array.from({ length: bank.blocks }, (_, i) => ({ name: `monobloc_${i + 1}_v`, unit: "V" })),
  ...bank.branches.flatMap(({ channel }) => (channel ? [{ name: channel, unit: "A" }] : [])),
  ...bank.further.map(([name, unit]) => ({ name, unit })),
];
const UNITS = { soc: "1", power_w: "W" };

export class Boat {
  /** `scenario`: drawing (the usual), charging, resting, silent, closed, waiting, below, untrusted, unknown, spent, counter, full-card. */
  constructor(start_s, scenario = "drawing") {
    this.start = start_s;
    this.scenario = scenario;
    /** Fixes by hand since the start, by bank. */
    this.hand = {};
    /** Notes on spans, as marks, by bank. */
    this.notes = {};
    this.tracks = Object.fromEntries(Object.keys(banks).map((name) => [name, past(name, start_s + 6 * 3600, null)]));
    // What comes is the load of the last hours, going on.
    for (const name of Object.keys(banks)) this.tracks[name] = this.extended(name);
  }

  extended(name) {
    const track = past(name, this.start, this.scenario);
    const bank = banks[name];
    const flow = track.current.at(-1);
    for (let i = 0; i < 6 * 60; i += 1) {
      track.soc.push(Math.min(1, Math.max(0, track.soc.at(-1) + flow / 60 / bank.capacity)));
      track.half.push(track.half.at(-1) + 1e-5);
      track.current.push(flow + 0.3 * noise(i, 31));
      track.temperature.push(track.temperature.at(-1));
      track.gap.push(false);
    }
    return track;
  }

  banks() {
    return {
      boat: "Marigold",
      zone: "Europe/Lisbon",
      banks: Object.entries(banks).map(([name, bank]) => ({
        name,
        title: bank.title,
        chemistry: bank.chemistry,
        cells_in_series: bank.cells_in_series,
        rated_capacity_ah: bank.rated_capacity_ah,
        rated_hours: bank.rated_hours,
        reserve: this.reserve(name),
        first_time: this.scenario === "waiting" ? null : iso(this.start - PAST_S),
        channels: channelsOf(bank),
        branches: bank.branches.map((branch) => ({ ...branch, device: branch.channel && bank.device })),
      })),
    };
  }

  reserve(name) {
    return this.scenario === "below" && name === "drive" ? 0.8 : banks[name].reserve;
  }

  now(name, t_s) {
    const bank = banks[name];
    const quiet = (this.scenario === "silent" || this.scenario === "closed") && name === "drive";
    const at = quiet ? this.start - 240 : t_s;
    const values = sample(name, this.tracks[name], at);
    const reserve = this.reserve(name);
    const state = this.scenario === "waiting" ? "waiting" : quiet ? this.scenario : "live";
    const device = { name: bank.device, state, quiet_s: this.scenario === "waiting" ? null : t_s - at };
    if (this.scenario === "waiting") return waiting(name, device, reserve);
    const { voltage_v, current_a, power_w, temperature_c } = values;
    const { soc, soc_low, soc_high } = this.stated(name, values);
    const blocks = Object.fromEntries(channelsOf(bank).slice(3).map(({ name: each }) => [each, values[each]]));
    const wide = this.scenario === "unknown" ? 0.28 : 0;
    const low = Math.max(0, soc_low - wide);
    const high = Math.min(1, soc_high + wide);
    const mean = this.tracks[name].current[Math.floor(at / 60) - this.tracks[name].first];
    const fix = this.hand[name] ?? this.tracks[name].fixes.at(-1);
    const counter = this.scenario === "counter";
    return {
      bank: name,
      time: iso(at),
      time_trusted: this.scenario !== "untrusted",
      store_trouble: this.scenario === "full-card" ? "the card is full: make room" : null,
      age_s: t_s - at,
      device,
      voltage_v,
      current_a,
      power_w,
      temperature_c,
      channels: blocks,
      soc,
      soc_low: low,
      soc_high: high,
      charge_ah: soc * bank.capacity,
      capacity_ah: bank.capacity,
      capacity_low_ah: bank.capacity * 0.96,
      capacity_high_ah: bank.capacity * 1.04,
      drawn_since_full_ah: (1 - soc) * bank.capacity,
      mean_current_a: mean,
      reserve,
      ...times(bank, { soc, low, high }, mean, reserve),
      ...(this.scenario === "spent" && name === "drive" && spent),
      last_fix: fix && this.scenario !== "unknown" ? { kind: fix.kind, time: iso(fix.t), text: fix.text } : null,
      deliverable: deliverable(bank, { soc, mean, spent: this.scenario === "spent" && name === "drive" }),
      learned: counter ? null : learned(bank, this.start),
      start_known: this.scenario !== "unknown",
      method: counter ? "counter" : "filter",
      ahead: ahead(bank, { soc, low, high }, mean),
    };
  }

  /** As reckoned, or as stated by hand and reckoned on from there. */
  stated(name, { soc, soc_low, soc_high }) {
    const by = this.hand[name]?.by ?? 0;
    const cut = (value) => Math.min(1, Math.max(0, value + by));
    return { soc: cut(soc), soc_low: cut(soc_low), soc_high: cut(soc_high) };
  }

  fix(name, t_s, soc) {
    const was = this.now(name, t_s).soc;
    const by = (this.hand[name]?.by ?? 0) + soc - was;
    const text = `hand fix: reckoned ${(100 * was).toFixed(1)} %, now ${(100 * soc).toFixed(1)} %`;
    this.hand[name] = { kind: "hand", t: t_s, by, text };
    return { text };
  }

  endurance(name, t_s, load_a) {
    return endurance(banks[name], this.now(name, t_s), load_a);
  }

  history(name, from_ms, to_ms, points, channels, line) {
    const bank = banks[name];
    const units = { ...UNITS, ...Object.fromEntries(channelsOf(bank).map((each) => [each.name, each.unit])) };
    const wanted = (channels ?? Object.keys(units)).filter((each) => each in units);
    if (line === "both" && wanted.includes("soc")) wanted.push("soc_live");
    const step = [1000, 2000, 5000, 10_000, 30_000, 60_000, 120_000, 300_000, 600_000, 1_800_000, 3_600_000, 10_800_000, 86_400_000].find(
      (each) => (to_ms - from_ms) / each <= points,
    ) ?? 604_800_000;
    const fix = this.tracks[name].fixes.at(-1);
    const until = line !== "live" && fix && fix.t * 1000 >= from_ms && fix.t * 1000 < to_ms ? fix.t * 1000 : null;
    const answer = { from_ms, to_ms, step_ms: step, time_ms: [], reconciled_until_ms: until, channels: {}, marks: this.marks(name, from_ms, to_ms), unreadable: [] };
    for (const each of wanted) {
      answer.channels[each] = each.startsWith("soc") ? { unit: "1", low: [], mean: [], high: [] } : { unit: units[each], min: [], mean: [], max: [] };
    }
    const first = Math.max(from_ms, (this.start - PAST_S) * 1000);
    const last = Math.min(to_ms, Date.now());
    let missing = false;
    for (let ms = Math.ceil(first / step) * step; ms <= last; ms += step) {
      const looks = step <= 1000 ? 1 : 6;
      const seen = Array.from({ length: looks }, (_, k) => this.look(name, (ms + (k * step) / looks) / 1000, line)).filter(Boolean);
      if (seen.length === 0) {
        if (!missing) row(answer, wanted, ms, null);
        missing = true;
        continue;
      }
      missing = false;
      row(answer, wanted, ms, seen);
    }
    return answer;
  }

  /** A sample with the line of charge asked for, and that of the time beside it. */
  look(name, t_s, line) {
    const values = sample(name, this.tracks[name], t_s);
    if (!values) return null;
    const { soc, soc_low, soc_high } = values;
    const { by, wider } = liveDrift(name, this.tracks[name], t_s);
    const cut = (value) => Math.min(1, Math.max(0, value));
    const then = { soc: cut(soc + by), soc_low: cut(soc_low + by - wider), soc_high: cut(soc_high + by + wider) };
    return { ...values, ...(line === "live" && then), soc_live: then.soc, soc_live_low: then.soc_low, soc_live_high: then.soc_high };
  }

  note(name, { from, to, text }) {
    (this.notes[name] ??= []).push({ time_ms: Date.parse(to), kind: "event", title: "note", text });
    return { text: `note kept on ${from} to ${to}` };
  }

  marks(name, from_ms, to_ms) {
    const fixes = this.tracks[name].fixes.map((fix) => ({ time_ms: fix.t * 1000, kind: "fix", title: fix.kind, text: fix.text }));
    const events = [
      { time_ms: (this.start - 6 * 86_400) * 1000, kind: "event", title: "device-back", text: `${banks[name].device} is heard again` },
      { time_ms: (this.start - 30_000) * 1000, kind: "event", title: "bad-input", text: `${banks[name].device}: 3 lines could not be read since the start; last: not one JSON object: {"voltage_v":5` },
    ];
    return [...fixes, ...events, ...(this.notes[name] ?? [])].filter((mark) => mark.time_ms >= from_ms && mark.time_ms <= to_ms).sort((a, b) => a.time_ms - b.time_ms);
  }

  sums(name, from_ms, to_ms) {
    const sums = { from_ms, to_ms, charge_in_ah: 0, charge_out_ah: 0, energy_in_wh: 0, energy_out_wh: 0, covered_s: 0 };
    const step = Math.max(1, Math.min(60, (to_ms - from_ms) / 1000 / 200));
    const last = Math.min(to_ms / 1000, Date.now() / 1000);
    for (let t = Math.max(from_ms / 1000, this.start - PAST_S); t < last; t += step) {
      const values = sample(name, this.tracks[name], t);
      if (!values) continue;
      const way = values.current_a > 0 ? "in" : "out";
      sums[`charge_${way}_ah`] += (Math.abs(values.current_a) * step) / 3600;
      sums[`energy_${way}_wh`] += (Math.abs(values.power_w) * step) / 3600;
      sums.covered_s += step;
    }
    return sums;
  }

  /** The local days of Lisbon, of which the invented past knows no change of the clocks by itself. */
  days(name, from, to) {
    const zone = "Europe/Lisbon";
    const begin = (date) => {
      const utc = Date.parse(`${date}T00:00:00Z`);
      const shown = new Date(new Date(utc).toLocaleString("en-US", { timeZone: zone }) + " UTC").getTime();
      return utc - (shown - utc);
    };
    const days = [];
    for (let at = Date.parse(`${from}T12:00:00Z`); at <= Date.parse(`${to}T12:00:00Z`); at += 86_400_000) {
      const date = new Date(at).toISOString().slice(0, 10);
      const [start, end] = [begin(date), begin(new Date(at + 86_400_000).toISOString().slice(0, 10))];
      const { charge_in_ah, charge_out_ah, energy_in_wh, energy_out_wh, covered_s } = this.sums(name, start, end);
      days.push({ date, start: iso(start / 1000), length_s: (end - start) / 1000, covered_s, charge_in_ah, charge_out_ah, energy_in_wh, energy_out_wh, soc_min: null, soc_max: null });
    }
    return { zone, days };
  }

  setClock(ms) {
    if (this.scenario === "untrusted") this.scenario = "drawing";
    const moved_ms = Math.round(ms - Date.now());
    return { text: "time set by hand; times since the computer started moved forward by 56.9 years", moved_ms };
  }

  events() {
    return {
      events: [
        { time: iso(this.start - 30_000), bank: "drive", device: "drive-shunt", kind: "bad-input", text: "drive-shunt: 3 lines could not be read since the start; last: not one JSON object: {\"voltage_v\":5", count: 3, priority: "info" },
        { time: iso(this.start - 79_000), bank: "drive", device: "drive-shunt", kind: "device-silent", text: "nothing comes from drive-shunt: nothing came for 10 s: check the device's power and its data line", count: 1, priority: "caution" },
      ],
    };
  }

  health(uptime_s) {
    return {
      status: "ok",
      version: "0.0.0-mock",
      licence: "MIT OR Apache-2.0",
      uptime_s,
      clock: this.scenario === "untrusted" ? { trusted: false, trust: "untrusted" } : { trusted: true, trust: "synchronised" },
      store: { status: "ok", trouble: null, bytes: 1_234_567, waiting: 7, longest_wait_s: 9.1, thinned: 0, lost: 0 },
      devices: Object.entries(banks).map(([bank, { device }]) => ({ name: device, bank, state: "live", quiet_s: 0.4, samples: 1_800_000, bad_lines: 3, refused: 0, reopened: 1 })),
    };
  }
}

function row(answer, wanted, ms, seen) {
  answer.time_ms.push(ms);
  for (const each of wanted) {
    const column = answer.channels[each];
    const values = seen?.map((one) => one[each]);
    const mean = values ? values.reduce((a, b) => a + b, 0) / values.length : null;
    column.mean.push(mean);
    if (each.startsWith("soc")) {
      column.low.push(seen ? Math.min(...seen.map((one) => one[`${each}_low`])) : null);
      column.high.push(seen ? Math.max(...seen.map((one) => one[`${each}_high`])) : null);
    } else {
      column.min.push(values ? Math.min(...values) : null);
      column.max.push(values ? Math.max(...values) : null);
    }
  }
}

function waiting(bank, device, reserve) {
  const nothing = Object.fromEntries(
    ["voltage_v", "current_a", "power_w", "temperature_c", "soc", "soc_low", "soc_high", "charge_ah", "capacity_ah", "capacity_low_ah", "capacity_high_ah", "drawn_since_full_ah", "mean_current_a", "endurance_s", "endurance_low_s", "endurance_high_s", "reserve_s", "reserve_low_s", "reserve_high_s", "full_s", "full_low_s", "full_high_s"].map((key) => [key, null]),
  );
  return { bank, time: null, time_trusted: true, store_trouble: null, age_s: null, device, channels: {}, ...nothing, reserve, deliverable: { load_a: null, charge_ah: null, low_ah: null, high_ah: null, held_ah: 0, bound_ah: 0, text: "The bank rests and holds 60 Ah; how much of it comes out depends on the load." }, learned: null, last_fix: null, start_known: false, method: "filter", ahead: [] };
}

/** After a hard run: nothing comes out at this load. */
const spent = Object.fromEntries(["endurance", "reserve"].flatMap((what) => ["_s", "_low_s", "_high_s"].map((end) => [what + end, 0])));

/** Doubt of the mean load itself, as a ratio. */
const LOAD_DOUBT = 0.06;

function times(bank, { soc, low, high }, mean, reserve) {
  const none = { endurance_s: null, endurance_low_s: null, endurance_high_s: null, reserve_s: null, reserve_low_s: null, reserve_high_s: null, full_s: null, full_low_s: null, full_high_s: null };
  const seconds = (part, factor) => Math.max(0, (part * bank.capacity * 3600) / (Math.abs(mean) * factor));
  if (mean < -0.05) {
    return {
      ...none,
      endurance_s: seconds(soc, 1),
      endurance_low_s: seconds(low, 1 + LOAD_DOUBT),
      endurance_high_s: seconds(high, 1 - LOAD_DOUBT),
      reserve_s: seconds(soc - reserve, 1),
      reserve_low_s: seconds(low - reserve, 1 + LOAD_DOUBT),
      reserve_high_s: seconds(high - reserve, 1 - LOAD_DOUBT),
    };
  }
  if (mean > 0.05) {
    return { ...none, full_s: seconds(1 - soc, 0.9), full_low_s: seconds(1 - high, 1 + LOAD_DOUBT), full_high_s: seconds(1 - low, 0.75) };
  }
  return none;
}

function ahead(bank, { soc, low, high }, mean) {
  const points = [];
  const cut = (value) => Math.min(1, Math.max(0, value));
  for (let t_s = 0; t_s <= 48 * 3600; t_s += 900) {
    const by = (mean * t_s) / 3600 / bank.capacity;
    const doubt = Math.abs(by) * LOAD_DOUBT + t_s * 2e-8;
    const point = { t_s, soc: cut(soc + by), soc_low: cut(low + by - doubt), soc_high: cut(high + by + doubt) };
    points.push(point);
    if (point.soc_high === 0 || point.soc_low === 1) break;
  }
  return points;
}
