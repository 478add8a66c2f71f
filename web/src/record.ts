/** Passages, ledger and health record, as the API tells them. Times are RFC 3339 UTC, ratios 0..1, bands 95 %; null where unknown. */
import { bankPath, get, send, utc } from "./api";

export interface Banded {
  value: number;
  low: number;
  high: number;
}

export interface BandedSoc {
  soc: number;
  low: number;
  high: number;
}

/** A value with the moment it was reached. */
export interface At {
  value: number;
  time: string | null;
}

export interface Summary {
  duration_s: number | null;
  covered_s: number;
  charge_in_ah: number;
  charge_out_ah: number;
  energy_in_wh: number;
  energy_out_wh: number;
  net_ah: number;
  net_wh: number;
  soc_begin: BandedSoc | null;
  soc_end: BandedSoc | null;
  soc_lowest: BandedSoc | null;
  soc_lowest_time: string | null;
  /** Whether its charge line is the reconciled one. */
  reconciled: boolean;
  voltage_min: At | null;
  voltage_max: At | null;
  current_min: At | null;
  current_max: At | null;
  power_min: At | null;
  power_max: At | null;
  temperature_min: At | null;
  temperature_max: At | null;
  above_c5_s: number;
  above_c2_s: number;
  above_1c_s: number;
  deep_excursions: number;
  mean_load_a: number | null;
  load_95_a: number | null;
  below_reserve_s: number;
  reserve_touched: boolean;
  distance_nm: number | null;
  wh_per_nm: number | null;
}

export interface Passage {
  id: number;
  /** Empty where nobody gave one. */
  name: string;
  note: string;
  origin: "found" | "hand";
  begin: string | null;
  end: string | null;
  going_on: boolean;
  settled: boolean;
  summary: Summary | null;
}

/** A sum is null where there are no samples of it: nothing is known, not 0. */
export interface LedgerBranch {
  name: string;
  title: string;
  role: "source" | "load";
  /** The remainder, not measured by a channel of its own. */
  computed: boolean;
  charge_in_ah: number | null;
  charge_out_ah: number | null;
  energy_in_wh: number | null;
  energy_out_wh: number | null;
  error_ah: number | null;
}

export interface Ledger {
  from: string | null;
  to: string | null;
  covered_s: number;
  unseen_s: number;
  charge_in_ah: number | null;
  charge_out_ah: number | null;
  energy_in_wh: number | null;
  energy_out_wh: number | null;
  branches: LedgerBranch[];
  own_loss_ah: Banded | null;
  unaccounted_ah: Banded | null;
  notes: string[];
}

export interface OnePassage {
  passage: Passage;
  /** Null while it goes on, or cannot be placed in time. */
  ledger: Ledger | null;
  notes: string[];
}

export interface CapacityFinding {
  time: string | null;
  from: string | null;
  watched: string;
  charge_ah: number;
  load_a: number;
  temperature_c: number | null;
  raw_ah: Banded;
  rated_ah: Banded;
  /** The same with what other findings tell of its errors taken off. */
  corrected_ah: Banded;
  combined_ah: Banded | null;
  /** False where it lies too far off to count. */
  believed: boolean;
  law: string;
}

export interface RatioPoint {
  time: string | null;
  ratio: number;
  low: number;
  high: number;
}

export interface Fade {
  /** Whether there is enough for a trend. */
  earned: boolean;
  text: string;
  per_year: Banded | null;
  /** The same at present. */
  now_per_year: Banded | null;
  line: RatioPoint[];
  forecast: RatioPoint[];
  knee: { time: string | null; text: string } | null;
  /** 90 % range. */
  end_of_life: { earliest: string | null; middle: string | null; latest: string | null } | null;
}

export interface CapacityTest {
  id: number;
  start: string | null;
  state: string;
  load_a: number | null;
  charge_ah: number | null;
  hours: number | null;
  temperature_c: number | null;
  time_adjusted: number | null;
  rate_adjusted: number | null;
  verdict: string | null;
  text: string;
}

export interface Resistance {
  reach: "second" | "minute";
  monobloc: number | null;
  points: { time: string | null; ohm: number; normal_ohm: number; steps: number }[];
  per_year: Banded | null;
  text: string;
}

export type BalanceState = "rest" | "load" | "charge-end";

export interface Balance {
  /** 0 where none is measured by itself. */
  monoblocs: number;
  now: {
    state: BalanceState;
    monobloc: number;
    deviation_v: number;
    /** With the balancer's contact open and closed; null where no channel has it. */
    contact_open_v: number | null;
    contact_closed_v: number | null;
    days: number;
  }[];
  spread: { time: string | null; state: BalanceState; spread_v: number }[];
  weak: { monobloc: number; shortfall: Banded; text: string } | null;
  text: string;
}

export interface Use {
  days: number;
  charge_out_ah: number;
  charge_in_ah: number;
  energy_out_wh: number;
  energy_in_wh: number;
  last_full: string | null;
  days_since_full: number | null;
  charging_h: number | null;
  efficiency: Banded | null;
  standing_a: Banded | null;
  unaccounted_a: Banded | null;
  /** The lowest first; all 0 where nothing is known. */
  soc_tenths: number[];
  temperature_h: { from_c: number | null; to_c: number | null; hours: number }[];
  by_month: { month: string; charge_out_ah: number; lowest_soc: number | null; full_days: number }[];
}

export interface Stress {
  used: number | null;
  remaining_years: { low: number; high: number } | null;
  measured_remaining_years: { low: number; high: number } | null;
  believe: "measured" | "stress" | "neither";
  text: string;
  rules: string[];
}

export interface Advice {
  rule: string;
  priority: "note" | "caution" | "warning";
  title: string;
  reason: string;
  evidence: string;
  action: string;
  source: string;
}

export interface HealthRecord {
  bank: string;
  title: string;
  chemistry: string;
  rated_capacity_ah: number;
  rated_hours: number;
  /** Of the rating. */
  end_of_life: number;
  first: string | null;
  surveyed_to: string | null;
  notes: string[];
  capacity: {
    latest: (Banded & { ratio: number; ratio_low: number; ratio_high: number; time: string | null }) | null;
    findings: CapacityFinding[];
  };
  fade: Fade;
  tests: CapacityTest[];
  test_due: { time: string | null; text: string };
  resistance: Resistance[];
  balance: Balance;
  use: Use;
  cycles: { equivalent_full: number; counted: number; by_depth: number[] };
  stress: Stress;
  reach: {
    bins: { from_kn: number; to_kn: number; wh_per_nm: Banded; minutes: number }[];
    left_nm: { speed_kn: number; low: number; high: number }[];
  } | null;
  advice: Advice[];
  ventilation: { air_m3_h: number; area_cm2: number; text: string } | null;
}

/** Whether more is missing than the sensors' errors explain. */
export const unexplained = (unaccounted: Banded): boolean => unaccounted.low > 0 || unaccounted.high < 0;

/** What came of a change, for people; the passage that it made or left. */
export interface Done {
  id: number;
  text: string;
}

const passages = (bank: string): string => `${bankPath(bank)}/passages`;

/** Where the self-contained reports are served. */
export const reports = {
  passage: (bank: string, id: number): string => `${passages(bank)}/${id}/report`,
  health: (bank: string): string => `${bankPath(bank)}/record/report`,
};

export const record = {
  /** Newest first; those that reach into the span. */
  passages: (bank: string, ask: { from?: number; to?: number; limit: number }, signal?: AbortSignal) => {
    const query = new URLSearchParams({ limit: String(ask.limit) });
    if (ask.from !== undefined) query.set("from", utc(ask.from));
    if (ask.to !== undefined) query.set("to", utc(ask.to));
    return get<{ passages: Passage[] }>(`${passages(bank)}?${query}`, signal);
  },
  passage: (bank: string, id: number, signal?: AbortSignal) => get<OnePassage>(`${passages(bank)}/${id}`, signal),
  /** What went through each branch in a span. */
  ledger: (bank: string, from: number, to: number, signal?: AbortSignal) =>
    get<Ledger>(`${bankPath(bank)}/ledger?${new URLSearchParams({ from: utc(from), to: utc(to) })}`, signal),
  mark: (bank: string, begin: number, end: number, name: string | null) =>
    send<Done>("POST", passages(bank), { begin: utc(begin), end: utc(end), ...(name && { name }) }),
  describe: (bank: string, id: number, name: string, note: string) => send<Done>("PATCH", `${passages(bank)}/${id}`, { name, note }),
  /** Null leaves an end as it is. */
  ends: (bank: string, id: number, begin: number | null, end: number | null) =>
    send<Done>("PATCH", `${passages(bank)}/${id}`, { ...(begin !== null && { begin: utc(begin) }), ...(end !== null && { end: utc(end) }) }),
  merge: (bank: string, ids: number[]) => send<Done>("POST", `${passages(bank)}/merge`, { ids }),
  split: (bank: string, id: number, at: number) => send<Done>("POST", `${passages(bank)}/${id}/split`, { at: utc(at) }),
  remove: (bank: string, id: number) => send<Done>("DELETE", `${passages(bank)}/${id}`),
  health: (bank: string, signal?: AbortSignal) => get<HealthRecord>(`${bankPath(bank)}/record`, signal),
};
