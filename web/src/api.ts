/** The daemon's HTTP API as this page uses it. Times are RFC 3339 UTC, positive current charges the bank, SoC is a ratio 0..1. */

export interface Channel {
  name: string;
  unit: string;
}

export interface Bank {
  name: string;
  title: string;
  chemistry: string;
  cells_in_series: number;
  rated_capacity_ah: number;
  rated_hours: number;
  reserve: number;
  first_time: string | null;
  channels: Channel[];
}

export interface Boat {
  boat: string;
  zone: string;
  banks: Bank[];
}

export type DeviceState = "live" | "silent" | "closed" | "waiting";
export type FixKind = "full" | "empty" | "rest" | "hand";

export interface AheadPoint {
  t_s: number;
  soc: number;
  soc_low: number;
  soc_high: number;
}

/** What comes out at the present load; load and charge are null at rest and while charging. `text` is for people. */
export interface Deliverable {
  load_a: number | null;
  charge_ah: number | null;
  low_ah: number | null;
  high_ah: number | null;
  held_ah: number;
  bound_ah: number;
  text: string;
}

export type LearnedName = "capacity_ah" | "charge_efficiency" | "sensor_offset_a" | "resistance_25_ohm" | "ocv_shift_v";

/** A quantity that was learned of bank or sensor, with its band and since when that is about as narrow as it is. */
export interface Learned {
  quantity: LearnedName;
  value: number;
  low: number;
  high: number;
  unit: string;
  since: string | null;
}

export interface Now {
  bank: string;
  time: string | null;
  time_trusted: boolean;
  store_trouble: string | null;
  age_s: number | null;
  device: { name: string; state: DeviceState; quiet_s: number | null };
  voltage_v: number | null;
  current_a: number | null;
  power_w: number | null;
  temperature_c: number | null;
  channels: Record<string, number | null>;
  soc: number | null;
  soc_low: number | null;
  soc_high: number | null;
  charge_ah: number | null;
  capacity_ah: number | null;
  capacity_low_ah: number | null;
  capacity_high_ah: number | null;
  drawn_since_full_ah: number | null;
  mean_current_a: number | null;
  reserve: number;
  endurance_s: number | null;
  endurance_low_s: number | null;
  endurance_high_s: number | null;
  reserve_s: number | null;
  reserve_low_s: number | null;
  reserve_high_s: number | null;
  full_s: number | null;
  full_low_s: number | null;
  full_high_s: number | null;
  deliverable: Deliverable;
  /** Null for a method that learns nothing. */
  learned: Learned[] | null;
  last_fix: { kind: FixKind; time: string; text: string } | null;
  start_known: boolean;
  method: string;
  ahead: AheadPoint[];
}

export interface Endurance {
  load_a: number;
  empty_low_s: number;
  empty_high_s: number;
  reserve_low_s: number;
  reserve_high_s: number;
  deliverable_low_ah: number;
  deliverable_high_ah: number;
}

/** A column of history; a null is a gap. Measured channels have min/mean/max, SoC has low/mean/high. */
export interface HistoryColumn {
  unit: string;
  mean: (number | null)[];
  min?: (number | null)[];
  max?: (number | null)[];
  low?: (number | null)[];
  high?: (number | null)[];
}

export interface Mark {
  time_ms: number;
  kind: "fix" | "event";
  title: string;
  text: string;
}

export interface History {
  from_ms: number;
  to_ms: number;
  step_ms: number;
  time_ms: number[];
  /** Up to here `soc` is reconciled, from there on as reckoned at the time; null where all of it is. */
  reconciled_until_ms: number | null;
  channels: Record<string, HistoryColumn>;
  marks: Mark[];
  unreadable: Unreadable[];
}

/** A stretch that is recorded but cannot be read; without times where it cannot be placed. */
export interface Unreadable {
  series: string;
  from: string | null;
  to: string | null;
  cause: string;
}

export interface Sums {
  from_ms: number;
  to_ms: number;
  charge_in_ah: number;
  charge_out_ah: number;
  energy_in_wh: number;
  energy_out_wh: number;
  covered_s: number;
}

/** One local day of the boat's zone. */
export interface Day {
  /** Such as 2026-11-25. */
  date: string;
  /** When it began. */
  start: string;
  /** 23 or 25 hours where the clocks changed. */
  length_s: number;
  covered_s: number;
  charge_in_ah: number;
  charge_out_ah: number;
  energy_in_wh: number;
  energy_out_wh: number;
  soc_min: number | null;
  soc_max: number | null;
}

export interface Days {
  zone: string;
  /** The earliest first. */
  days: Day[];
}

export interface Notice {
  time: string | null;
  bank: string | null;
  device: string | null;
  kind: string;
  text: string;
  count: number;
  priority: "info" | "caution" | "warning";
}

/** A request that failed, with what the daemon said about it (RFC 9457) where it said anything. */
export class ApiError extends Error {
  constructor(
    message: string,
    /** True where the daemon would do it all the same for somebody who insists. */
    readonly canInsist = false,
  ) {
    super(message);
  }
}

/** Longer than any answer takes. A computer that is gone says nothing, and the few connections that a browser allows would stay taken. */
const PATIENCE_MS = 20_000;

function patient(signal: AbortSignal | undefined): AbortSignal {
  const late = AbortSignal.timeout(PATIENCE_MS);
  // Older browsers cannot join two signals: there, the one that was given holds alone.
  return signal ? ("any" in AbortSignal ? AbortSignal.any([signal, late]) : signal) : late;
}

export async function get<T>(path: string, signal?: AbortSignal): Promise<T> {
  const answer = await fetch(path, { headers: { accept: "application/json" }, signal: patient(signal) });
  if (!answer.ok) {
    throw await problem(answer);
  }
  return (await answer.json()) as T;
}

export async function send<T>(method: "POST" | "PATCH" | "DELETE", path: string, body: unknown = {}): Promise<T> {
  const answer = await fetch(path, {
    method,
    headers: { accept: "application/json", "content-type": "application/json" },
    body: JSON.stringify(body),
  });
  if (!answer.ok) throw await problem(answer);
  return (await answer.json()) as T;
}

async function problem(answer: Response): Promise<ApiError> {
  try {
    const said = (await answer.json()) as { title?: string; detail?: string; insist?: string };
    return new ApiError(said.detail ?? said.title ?? String(answer.status), said.insist !== undefined);
  } catch {
    return new ApiError(String(answer.status));
  }
}

export const bankPath = (bank: string): string => `/api/v1/banks/${encodeURIComponent(bank)}`;

export const api = {
  boat: (signal?: AbortSignal) => get<Boat>("/api/v1/banks", signal),
  now: (bank: string, signal?: AbortSignal) => get<Now>(`${bankPath(bank)}/now`, signal),
  history: (
    bank: string,
    ask: { from_ms: number; to_ms: number; points: number; channels?: string[]; line?: "both" },
    signal?: AbortSignal,
  ) => {
    const query = new URLSearchParams({
      from_ms: String(Math.round(ask.from_ms)),
      to_ms: String(Math.round(ask.to_ms)),
      points: String(Math.round(ask.points)),
    });
    if (ask.channels) query.set("channels", ask.channels.join(","));
    if (ask.line) query.set("line", ask.line);
    return get<History>(`${bankPath(bank)}/history?${query}`, signal);
  },
  sums: (bank: string, from_ms: number, to_ms: number, signal?: AbortSignal) =>
    get<Sums>(`${bankPath(bank)}/sums?from_ms=${Math.round(from_ms)}&to_ms=${Math.round(to_ms)}`, signal),
  /** Local days, the last one included; at most 400. */
  days: (bank: string, from: string, to: string, signal?: AbortSignal) =>
    get<Days>(`${bankPath(bank)}/days?from=${from}&to=${to}`, signal),
  endurance: (bank: string, load_a: number, signal?: AbortSignal) =>
    get<Endurance>(`${bankPath(bank)}/endurance?load_a=${load_a}`, signal),
  /** A hand fix; `std_dev` is 1 σ. Hands back what was done, for people. */
  fix: (bank: string, soc: number, std_dev: number) => send<{ text: string }>("POST", `${bankPath(bank)}/fixes`, { soc, std_dev }),
  /** No current flows now: what the sensor reads is its offset. */
  zero: (bank: string) => send<{ text: string }>("POST", `${bankPath(bank)}/zero`, {}),
  /** What time it is, in UTC milliseconds; `evenSo` where it lies behind the record. Hands back what was done, for people. */
  clock: (utc_ms: number, evenSo: boolean) =>
    send<{ text: string; moved_ms: number }>("POST", "/api/v1/clock", { time: new Date(utc_ms).toISOString(), even_so: evenSo }),
  events: (limit: number, signal?: AbortSignal) =>
    get<{ events: Notice[] }>(`/api/v1/events?limit=${limit}`, signal),
};
