/** An invented boat for developing the page: two banks whose past is a function of time alone, so every question gets the same answer. */

const HOUR = 3600;
const DAY = 24 * HOUR;
export const PAST_S = 21 * DAY;

export const banks = {
  drive: {
    title: "Drive bank",
    chemistry: "lead-carbon",
    cells_in_series: 24,
    rated_capacity_ah: 120,
    rated_hours: 20,
    reserve: 0.3,
    device: "drive-shunt",
    blocks: 4,
    capacity: 118.6,
    // Volts a cell when empty and per unit of SoC; ohms of the whole bank.
    volts: [1.96, 0.19],
    ohm: 0.035,
    kelvin: 19,
    seed: 1,
    branches: [
      { name: "generator", title: "Generator", role: "source", purpose: "generator", channel: "generator_a", reversed: false },
      { name: "regeneration", title: "Regeneration", role: "source", purpose: "other", channel: "regeneration_a", reversed: false },
      { name: "motor", title: "Motor", role: "load", purpose: "drive", channel: "motor_a", reversed: true },
      { name: "dc-dc", title: "Converter to the house bank", role: "load", purpose: "other", channel: "dc_dc_a", reversed: false },
      { name: "standing", title: "Standing loads", role: "load", purpose: "other", channel: null, reversed: false },
    ],
    further: [["motor_temperature_c", "°C"], ["shaft_speed_rpm", "r/min"], ["speed_over_ground_kn", "kn"]],
  },
  house: {
    title: "House bank",
    chemistry: "lfp",
    cells_in_series: 8,
    rated_capacity_ah: 280,
    rated_hours: 20,
    reserve: 0.2,
    device: "house-shunt",
    blocks: 0,
    capacity: 281.5,
    volts: [3.24, 0.075],
    ohm: 0.006,
    kelvin: 21,
    seed: 7,
    branches: [
      { name: "solar", title: "Solar", role: "source", purpose: "solar", channel: "solar_a", reversed: false },
      { name: "loads", title: "Household", role: "load", purpose: "other", channel: null, reversed: false },
    ],
    further: [],
  },
};

/** Noise in -1..1 from whole numbers. */
export function noise(n, seed) {
  let h = Math.imul((n | 0) ^ 0x9e3779b9, 0x85ebca6b) ^ Math.imul(seed + 101, 0xc2b2ae35);
  h ^= h >>> 15;
  h = Math.imul(h, 0x2c1b3ce5);
  h ^= h >>> 13;
  return ((h >>> 0) / 4294967296) * 2 - 1;
}

/** Load and source by time before the start of the mock: motoring now and then, a generator in the morning, the house all day. */
function flow(name, t_s, soc, scenario, sinceStart_s) {
  const hour = (t_s % DAY) / HOUR;
  const day = Math.floor(t_s / DAY);
  const slow = noise(Math.floor(t_s / 600), banks[name].seed);
  if (scenario && sinceStart_s > -1.5 * HOUR && name === "drive") {
    if (scenario === "charging") return 31 * Math.min(1, (1.02 - soc) / 0.12) + 0.4 * slow;
    if (scenario === "resting") return 0.004 * slow;
  }
  if (name === "house") {
    const sun = Math.max(0, Math.sin(((hour - 7.5) / 9.5) * Math.PI)) * (27 + 12 * noise(day, 3));
    const fridge = noise(Math.floor(t_s / 900), 5) > 0.1 ? -4.2 : 0;
    return Math.min(sun, soc > 0.985 ? 6 : 60) - 2.6 + fridge - (hour > 17 && hour < 22 ? 7 : 0);
  }
  if (sinceStart_s > -3.2 * HOUR) return -9.4 + 0.5 * slow;
  const motoring = day % 3 !== 1 && hour > 13 && hour < 14.6 ? -34 - 7 * noise(Math.floor(t_s / 180), 2) : 0;
  const leaving = day % 4 === 2 && hour > 18 && hour < 19.2 ? -47 : 0;
  const generator = soc < 0.985 && ((hour > 7 && hour < 11.5) || (hour > 20 && hour < 22)) ? 29 * Math.min(1, (1.015 - soc) / 0.1) : 0;
  return motoring + leaving + generator - 0.9 + 0.25 * slow;
}

/** Every minute from three weeks ago to `end_s` (UTC seconds): SoC, band, current and temperature, and the fixes and gaps on the way. */
export function past(name, end_s, scenario) {
  const bank = banks[name];
  const first = Math.floor((end_s - PAST_S) / 60);
  const count = Math.ceil(end_s / 60) - first + 1;
  const track = { first, soc: [], half: [], current: [], temperature: [], gap: [], fixes: [] };
  let soc = 0.93;
  let half = 0.03;
  let warm = 0;
  for (let i = 0; i < count; i += 1) {
    const t = (first + i) * 60;
    const a = flow(name, t, soc, scenario, t - end_s);
    soc = Math.min(1, Math.max(0.04, soc + ((a > 0 ? 0.97 : 1) * a) / 60 / bank.capacity));
    half += 6e-6 + (Math.abs(a) / 60 / bank.capacity) * 0.03;
    warm += (Math.abs(a) * 0.02 - warm) / 180;
    const lastFix = track.fixes.at(-1);
    if (soc > 0.984 && a < 8 && a > -2 && (!lastFix || t - lastFix.t > 18 * HOUR)) {
      track.fixes.push({ t, kind: "full", text: `full fix: reckoned ${(100 * soc - 1.6).toFixed(1)} %, now 100.0 %` });
      half = 0.006;
    }
    const night = Math.sin((((t % DAY) / HOUR - 9) / 24) * 2 * Math.PI);
    track.soc.push(soc);
    track.half.push(Math.min(half, 0.12));
    track.current.push(a);
    track.temperature.push(bank.kelvin + 1.8 * night + warm + 0.6 * noise(Math.floor(t / DAY), 11));
    // Twice the power was off: five days ago for some hours, and yesterday for one.
    const ago = end_s - t;
    track.gap.push((ago > 5 * DAY && ago < 5 * DAY + 4 * HOUR) || (name === "drive" && ago > 21 * HOUR && ago < 22 * HOUR));
  }
  return track;
}

/** All channels at a moment (UTC seconds); null in a gap. */
export function sample(name, track, t_s) {
  const bank = banks[name];
  const place = t_s / 60 - track.first;
  const i = Math.min(Math.max(Math.floor(place), 0), track.soc.length - 1);
  if (place < 0 || track.gap[i]) return null;
  const n = Math.min(i + 1, track.soc.length - 1);
  const part = Math.min(Math.max(place - i, 0), 1);
  const between = (row) => row[i] + (row[n] - row[i]) * part;
  const second = Math.floor(t_s);
  const soc = between(track.soc);
  const half = between(track.half);
  const current = track.current[i] + 0.12 * noise(second, bank.seed) * (1 + Math.abs(track.current[i]) / 12);
  const [empty, slope] = bank.volts;
  const voltage =
    bank.cells_in_series * (empty + slope * soc + 0.02 * Math.max(0, soc - 0.9)) + current * bank.ohm * 1.6 + 0.015 * noise(second, bank.seed + 1);
  const values = {
    soc,
    soc_low: Math.max(0, soc - half),
    soc_high: Math.min(1, soc + half),
    voltage_v: voltage,
    current_a: current,
    power_w: voltage * current,
    temperature_c: between(track.temperature) + 0.04 * noise(second, 13),
  };
  for (let b = 1; b <= bank.blocks; b += 1) {
    values[`monobloc_${b}_v`] = voltage / bank.blocks + [0.02, -0.05, 0.015, 0.03][b - 1] * (1 + Math.abs(current) / 25) + 0.004 * noise(second, 20 + b);
  }
  Object.assign(values, name === "drive" ? aboard(current, second) : { solar_a: Math.max(0, current + 2.6) });
  return values;
}

/** What drew and gave the drive bank's current: the generator what goes in, the motor what is hard, the converter the rest. */
function aboard(current, second) {
  const motor = current < -7 ? -current - 1.1 : 0;
  const regeneration = motor > 0 || current > 2 ? 0 : 0.7 * Math.max(0, noise(Math.floor(second / 900), 71));
  const speed = motor > 0 ? 1.1 + motor / 11 : 0;
  return {
    generator_a: Math.max(0, current + 1.1),
    regeneration_a: regeneration,
    // Its sensor counts what leaves the bank as positive.
    motor_a: motor + 0.03 * noise(second, 72),
    dc_dc_a: Math.min(0, -0.9 + 0.2 * noise(Math.floor(second / 60), 73)),
    motor_temperature_c: 18 + 0.7 * motor + 0.1 * noise(second, 74),
    shaft_speed_rpm: 215 * speed + (motor > 0 ? 9 * noise(second, 75) : 0),
    speed_over_ground_kn: Math.max(0, speed + 0.2 * noise(Math.floor(second / 30), 76)),
  };
}

/** How far the line of the time lay from the reconciled one: the error that a run gathered until its fix. */
export function liveDrift(name, track, t_s) {
  const next = track.fixes.findIndex((fix) => fix.t > t_s);
  if (next < 1) return { by: 0, wider: 0 };
  const [from, to] = [track.fixes[next - 1].t, track.fixes[next].t];
  const part = (t_s - from) / (to - from);
  return { by: part * (0.05 + 0.03 * noise(next, banks[name].seed + 40)), wider: 0.05 * part };
}
