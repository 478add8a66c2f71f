/** Health records of the invented boat: the drive bank is six years old and ages, the house bank is three weeks old and says "not enough yet". */
import { noise } from "./boat.mjs";

const DAY = 86_400;
const YEAR = 365.25 * DAY;
const iso = (s) => new Date(Math.round(s * 1000)).toISOString();
const band = (value, half) => ({ value, low: value - half, high: value + half });

/** Capacity over rating of the old bank after some years. */
const aged = (years) => 1.01 - 0.018 * years - (years > 5 ? 0.016 * (years - 5) : 0);

function findings(bank, start) {
  const found = [];
  for (let i = 0; i < 34; i += 1) {
    const years = 0.15 + i * 0.178;
    const watched = ["full-to-full", "full-to-rest", "full-to-rest", "full-to-empty", "rest-to-rest", "test"][(i * 5) % 6];
    const half = { test: 0.012, "full-to-full": 0.02, "full-to-empty": 0.022, "full-to-rest": 0.032, "rest-to-rest": 0.04 }[watched] * bank.rated_capacity_ah;
    const believed = i !== 21;
    const at = start - YEAR * (6.2 - years);
    const rated = aged(years) * bank.rated_capacity_ah + 0.55 * half * noise(i, 61) - (believed ? 0 : 17);
    found.push({
      time: iso(at),
      from: iso(at - 14 * 3600),
      watched,
      charge_ah: rated * (0.42 + 0.2 * noise(i, 62)),
      load_a: 14 + 8 * noise(i, 63),
      temperature_c: 18 + 6 * noise(i, 64),
      raw_ah: band(rated * 0.93, half),
      rated_ah: band(rated, half),
      corrected_ah: band(rated, half),
      combined_ah: band(aged(years) * bank.rated_capacity_ah, 1.2 + 4 / (i + 1)),
      believed,
      law: watched.endsWith("rest") || watched === "full-to-full" ? "no law: full and rest belong to the rated hours and 25 °C" : "described capacities against rate from the 20 h rate; IEC 60896 (λ 0.006 to 0.010 per K by rate), restated to 25 °C",
    });
  }
  return found;
}

function fade(start) {
  const first = start - 6.2 * YEAR;
  const line = Array.from({ length: 63 }, (_, i) => {
    const years = i / 10;
    const half = 0.011 + 0.02 / (1 + 2 * years);
    return { time: iso(first + years * YEAR), ratio: aged(years), low: aged(years) - half, high: aged(years) + half };
  });
  const forecast = Array.from({ length: 30 }, (_, i) => {
    const ahead = (i + 1) / 6;
    const ratio = aged(6.2 + ahead);
    return { time: iso(start + ahead * YEAR), ratio, low: ratio - 0.012 - 0.02 * ahead, high: ratio + 0.012 + 0.013 * ahead };
  });
  return {
    earned: true,
    text: "At the last finding the bank held 88 % of its rating (86 to 90). It reaches 80 % in 1.4 to 3.6 years from then (90 %), as likely before as after 2.2.",
    per_year: band(-0.034, 0.0085),
    line,
    forecast,
    knee: { time: iso(first + 5 * YEAR), text: "Capacity fell by 1.8 % of the rating a year before, and by 3.4 % a year since." },
    end_of_life: { earliest: iso(start + 1.4 * YEAR), middle: iso(start + 2.2 * YEAR), latest: iso(start + 3.6 * YEAR) },
  };
}

function tests(start) {
  const test = (id, ago, time, rate, verdict) => ({
    id,
    start: iso(start - ago * YEAR),
    state: "ended",
    load_a: 12,
    charge_ah: 117 * time,
    hours: 9.75 * time,
    temperature_c: 19.5,
    time_adjusted: time,
    rate_adjusted: rate,
    verdict,
    text: `${(117 * time).toFixed(1)} Ah in ${(9.75 * time).toFixed(2)} h at 12.0 A; the rating promises 9.75 h at this load. Capacity ${(100 * time).toFixed(1)} % ± 2.4 % of the rating, by time-adjusted method, 25 °C (IEEE 450 / IEEE 1188).`,
  });
  return [test(1, 5.1, 0.993, 0.991, "sound"), test(2, 2.9, 0.964, 0.961, "sound"), test(3, 0.8, 0.894, 0.889, "degraded")];
}

function resistance(start) {
  const one = (reach, monobloc, ohm, change, text = "") => ({
    reach,
    monobloc,
    points: Array.from({ length: 74 }, (_, i) => {
      const at = i / 12;
      const normal_ohm = ohm * (1 + change * at) * (1 + 0.03 * noise(i, 71 + (monobloc ?? 0)));
      return { time: iso(start - (6.2 - at) * YEAR), ohm: normal_ohm * 1.06, normal_ohm, steps: 40 };
    }),
    per_year: band(change, 0.008),
    text,
  });
  return [
    one("second", null, 0.031, 0.041, "Usually 34.72 mΩ at 25 °C. It changes by +4 % a year (+3 to +5)."),
    one("minute", null, 0.046, 0.052),
    ...[1, 2, 3, 4].map((n) => one("second", n, 0.0078, n === 2 ? 0.074 : 0.036)),
  ];
}

function balance(start) {
  const off = [
    [0.021, 0.034, -0.02],
    [-0.062, -0.214, 0.121],
    [0.018, 0.071, -0.052],
    [0.023, 0.109, -0.049],
  ];
  const states = ["rest", "load", "charge-end"];
  return {
    monoblocs: 4,
    now: off.flatMap((row, i) => row.map((deviation_v, k) => ({ state: states[k], monobloc: i + 1, deviation_v, contact_open_v: null, contact_closed_v: null, days: 30 }))),
    spread: states.flatMap((state, k) =>
      Array.from({ length: 60 }, (_, i) => ({ time: iso(start - (59 - i) * 38 * DAY), state, spread_v: [0.03, 0.08, 0.06][k] * (1 + i / (k === 1 ? 20 : 30)) })),
    ),
    weak: { monobloc: 2, shortfall: { value: 0.081, low: 0.056, high: 0.106 }, text: "Monobloc 2 holds 8 % less than the others (6 to 11)." },
    text: "Monobloc 2 holds 8 % less than the others (6 to 11).",
  };
}

function use(start) {
  const months = Array.from({ length: 26 }, (_, i) => {
    const at = new Date((start - (25 - i) * 30.44 * DAY) * 1000);
    const season = Math.max(0, Math.sin(((at.getUTCMonth() - 2.5) / 12) * 2 * Math.PI));
    return { month: at.toISOString().slice(0, 7), charge_out_ah: 90 + 900 * season + 40 * noise(i, 81), lowest_soc: 0.72 - 0.45 * season + 0.05 * noise(i, 82), full_days: Math.round(22 - 13 * season + 2 * noise(i, 83)) };
  });
  return {
    days: 2264,
    charge_out_ah: 38_410,
    charge_in_ah: 41_290,
    energy_out_wh: 1_921_000,
    energy_in_wh: 2_147_000,
    last_full: iso(start - 19 * DAY),
    days_since_full: 19.2,
    charging_h: 7.4,
    efficiency: { value: 0.93, low: 0.918, high: 0.942 },
    standing_a: { value: 0.84, low: 0.79, high: 0.9 },
    unaccounted_a: { value: 0.41, low: 0.33, high: 0.49 },
    soc_tenths: [0, 0, 0.004, 0.012, 0.031, 0.064, 0.118, 0.171, 0.213, 0.387],
    temperature_h: [
      { from_c: null, to_c: 0, hours: 12 },
      { from_c: 0, to_c: 10, hours: 4120 },
      { from_c: 10, to_c: 20, hours: 24_880 },
      { from_c: 20, to_c: 30, hours: 21_310 },
      { from_c: 30, to_c: 40, hours: 3960 },
      { from_c: 40, to_c: null, hours: 41 },
    ],
    by_month: months,
  };
}

function advice() {
  return [
    {
      rule: "full-recharge-overdue",
      priority: "warning",
      title: "Charge until full",
      reason: "Sulphate that is not charged away hardens. Incomplete recharge is the main cause of early loss of capacity.",
      evidence: "Last full 19 days ago; at least each 7 days is usual for this chemistry.",
      action: "Charge until the tail current stays low at the absorption voltage, from shore or generator, for as long as it takes.",
      source: "Hund, Sandia: Capacity Loss in PV Batteries and Recovery Procedures; interval: common practice, no source",
    },
    {
      rule: "weak-monobloc",
      priority: "caution",
      title: "Monobloc 2 is weak",
      reason: "The weakest of a string ends its discharge and is overcharged by the others.",
      evidence: "About 8 % less than the others (6 to 11 %), from its voltage against depth.",
      action: "Charge fully and balance. If it stays behind, have it tested by itself and replaced; a string is best renewed as a whole when it is old.",
      source: "Same charge through all of a string; threshold: common practice, no source",
    },
    {
      rule: "unaccounted-load",
      priority: "caution",
      title: "Something draws charge that no branch accounts for",
      reason: "A load that nobody knows of empties a bank that lies for weeks.",
      evidence: "0.41 A (±0.08 A) beside the measured branches: 10 Ah a day.",
      action: "Switch off one circuit after the other and watch the bank's current; a sensor whose zero has moved looks the same.",
      source: "Sum of currents; error from the sensors' stated offsets",
    },
    {
      rule: "test-due",
      priority: "note",
      title: "A capacity test is due",
      reason: "Only a test shows the capacity without a model in between.",
      evidence: "Due for 12 days.",
      action: "Charge fully, let it rest, then run the guided test on a day in harbour, with somebody beside it.",
      source: "Intervals of IEEE 1188, as cited by trade pages (12 to 18 months)",
    },
  ];
}

function old(name, bank, start) {
  const all = findings(bank, start);
  const latest = aged(6.2) * bank.rated_capacity_ah;
  const rated = bank.rated_capacity_ah;
  return {
    ...head(name, bank, start, 6.2 * YEAR),
    notes: [],
    capacity: { latest: { ...band(latest, 1.5), ratio: latest / rated, ratio_low: (latest - 1.5) / rated, ratio_high: (latest + 1.5) / rated, time: iso(start - 3 * DAY) }, findings: all },
    fade: fade(start),
    tests: tests(start),
    test_due: { time: iso(start + 0.2 * YEAR), text: "Each year while the capacity is below 90 % (FIST 3-6) or falls fast." },
    resistance: resistance(start),
    balance: balance(start),
    use: use(start),
    cycles: { equivalent_full: 320.1, counted: 2381.5, by_depth: [1320.5, 512, 240, 131, 88, 52, 24, 12, 2, 0] },
    stress: {
      used: 0.58,
      remaining_years: { low: 2.8, high: 6.1 },
      measured_remaining_years: { low: 1.4, high: 3.6 },
      believe: "measured",
      text: "Believe the measured fade: it is what this bank did. The stress sum is a rule of thumb for banks of its kind.",
      rules: [
        "By the calendar: 10 years to 80 % at 25 °C (10 years at 25 °C: trade pages on valve-regulated lead (read); for other lead: assumed); life halves with each 8 K above 25 °C (as an activation energy of 66 kJ/mol would have it).",
        "By cycles: 500 to 80 % at 80 % depth, 1000 at half (assumed to be as AGM (1000 cycles at 50 %, 500 at 80 %): no source was found), added up by the linear rule of Palmgren and Miner.",
      ],
    },
    reach: {
      bins: [
        { from_kn: 2, to_kn: 3, wh_per_nm: band(142, 18), minutes: 310 },
        { from_kn: 3, to_kn: 4, wh_per_nm: band(208, 21), minutes: 1240 },
        { from_kn: 4, to_kn: 5, wh_per_nm: band(331, 40), minutes: 2110 },
        { from_kn: 5, to_kn: 6, wh_per_nm: band(560, 75), minutes: 264 },
      ],
      left_nm: [
        { speed_kn: 2.5, low: 15.1, high: 20.2 },
        { speed_kn: 3.5, low: 10.6, high: 13.4 },
        { speed_kn: 4.5, low: 6.3, high: 8.4 },
        { speed_kn: 5.5, low: 3.4, high: 4.9 },
      ],
    },
    advice: advice(),
    ventilation: { air_m3_h: 1.2, area_cm2: 34, text: "While it is filled, 24 cells of 120 Ah need 1.20 m³/h of air, or an inlet and an outlet of 34 cm² each with natural draught. Information for the builder, by the formula of EN 50272-2 / IEC 62485-2; no proof of a design. Hydrogen explodes from 4 % in air. The standard in force, the maker's figures for gas and charge current, and a qualified marine electrician decide." },
  };
}

function young(name, bank, start) {
  return {
    ...head(name, bank, start, 21 * DAY),
    notes: ["For up to 4.0 h the computer's clock was not believed: what is shown for that time may belong to another."],
    capacity: { latest: null, findings: [] },
    fade: { earned: false, text: "Not enough yet: 0 of 6 capacity findings. Each needs a deep discharge between two moments at which the charge is known, such as full and rest.", per_year: null, line: [], forecast: [], knee: null, end_of_life: null },
    tests: [],
    test_due: { time: null, text: "No test yet: the first one is what all later ones are held against." },
    resistance: [{ reach: "second", monobloc: null, points: [{ time: iso(start - 2 * DAY), ohm: 0.0061, normal_ohm: 0.0058, steps: 4 }], per_year: null, text: "Usually 5.80 mΩ at 25 °C. No trend yet: that takes days with load steps over half a year." }],
    balance: { monoblocs: 0, now: [], spread: [], weak: null, text: "No monobloc or cell is measured by itself, or not long enough yet." },
    use: {
      days: 20,
      charge_out_ah: 1840,
      charge_in_ah: 1870,
      energy_out_wh: 48_100,
      energy_in_wh: 50_200,
      last_full: iso(start - 1.2 * DAY),
      days_since_full: 1.2,
      charging_h: null,
      efficiency: null,
      standing_a: { value: 2.4, low: 2.2, high: 2.7 },
      unaccounted_a: null,
      soc_tenths: [0, 0, 0, 0, 0, 0.01, 0.06, 0.21, 0.34, 0.38],
      temperature_h: [{ from_c: 10, to_c: 20, hours: 170 }, { from_c: 20, to_c: 30, hours: 310 }],
      by_month: [],
    },
    cycles: { equivalent_full: 6.6, counted: 19.5, by_depth: [4, 8.5, 5, 2, 0, 0, 0, 0, 0, 0] },
    stress: { used: 0.004, remaining_years: null, measured_remaining_years: null, believe: "neither", text: "Neither the measured fade nor the stress sum says anything yet.", rules: [] },
    reach: null,
    advice: [],
    ventilation: null,
  };
}

function head(name, bank, start, lived_s) {
  return {
    bank: name,
    title: bank.title,
    chemistry: bank.chemistry,
    rated_capacity_ah: bank.rated_capacity_ah,
    rated_hours: bank.rated_hours,
    end_of_life: 0.8,
    first: iso(start - lived_s),
    surveyed_to: iso(start - 1800),
  };
}

export const record = (name, bank, start) => (name === "drive" ? old : young)(name, bank, start);
