/** The daemon's HTTP API as this page uses it. Times are RFC 3339 UTC, positive current charges the bank, SoC is a ratio 0..1. */
import { permit, refusal, type Refusal } from "./permit";

export interface Channel {
  name: string;
  unit: string;
}

/** One circuit on a bank. */
export interface Branch {
  name: string;
  title: string;
  role: "source" | "load";
  purpose: "drive" | "shore" | "other";
  /** Device and channel that read it; null where it is what the others leave of the bank's current. */
  device: string | null;
  channel: string | null;
  /** Whether a positive reading discharges the bank. */
  reversed: boolean;
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
  branches: Branch[];
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

/** Where the charge would go at another current; fields that `Now` has too mean the same. */
export type Outlook = Pick<
  Now,
  | "endurance_s" | "endurance_low_s" | "endurance_high_s"
  | "reserve_s" | "reserve_low_s" | "reserve_high_s"
  | "full_s" | "full_low_s" | "full_high_s"
  | "deliverable" | "ahead"
> & { current_a: number };

/** What each branch with a sensor carries: now (mean of ten minutes, positive charges) and at the most (not negative), A. */
export interface Branches {
  branches: (Pick<Branch, "name" | "title" | "role" | "purpose"> & { now_a: number | null; most_a: number | null })[];
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

export type ClockTrust = "untrusted" | "plausible" | "hand" | "synchronised";

/** How the daemon itself fares. */
export interface Daemon {
  status: "ok" | "degraded";
  version: string;
  /** An SPDX expression. */
  licence: string;
  uptime_s: number;
  clock: { trusted: boolean; trust: ClockTrust };
  store: { trouble: string | null; bytes: number; waiting: number; longest_wait_s: number; thinned: number; lost: number };
}

export interface DeviceChannel {
  name: string;
  unit: string;
  value: number | null;
  unreadable: number;
  out_of_range: number;
}

export interface Device {
  name: string;
  bank: string;
  main: boolean;
  port: string;
  baud: number;
  frame: "json-lines" | "delimited";
  state: DeviceState;
  reason: string | null;
  quiet_s: number | null;
  quiet_after_s: number;
  bytes: number;
  lines: number;
  samples: number;
  lost: number;
  overlong: number;
  bad_lines: { reason: string; count: number }[];
  reopened: number;
  last_bad: string | null;
  last_refused: string | null;
  channels: DeviceChannel[];
}

/** A bank as its configuration describes it, with what was left to the preset filled in. */
export interface Description extends Pick<Bank, "name" | "title" | "chemistry" | "cells_in_series" | "rated_capacity_ah" | "rated_hours" | "reserve"> {
  /** Fastest first; empty where an exponent says them. */
  rates: { hours: number; capacity_ah: number }[];
  peukert_exponent: number | null;
  /** Nothing was said of rates: the exponent is the chemistry's usual one. */
  rates_assumed: boolean;
  method: string;
  /** 1 σ each. */
  sensor_gain_error: number;
  sensor_offset_a: number;
  standing_load_a: number;
  temperature_law: string;
  full: { voltage_v: number; compensation_v_per_k: number; tail_current_a: number; hold_s: number };
}

/** Whether the page may change something; `needs` says what it lacks, `text` the same for people. */
export interface PermitView {
  may: boolean;
  needs: "pin" | "local" | null;
  pin_set: boolean;
  text: string;
}

/** A request that failed, with what the daemon said about it (RFC 9457) where it said anything. */
export class ApiError extends Error {
  constructor(
    message: string,
    /** True where the daemon would do it all the same for somebody who insists. */
    readonly canInsist = false,
    /** What it lacked that wanted to change something. */
    readonly refusal: Refusal | null = null,
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

export async function get<T>(path: string, signal?: AbortSignal, further: Record<string, string> = {}): Promise<T> {
  const answer = await fetch(path, { headers: { accept: "application/json", ...further }, signal: patient(signal) });
  if (!answer.ok) throw await problem(answer, "authorization" in further);
  return (await answer.json()) as T;
}

export async function send<T>(method: "POST" | "PATCH" | "DELETE", path: string, body: unknown = {}): Promise<T> {
  const pin = permit.headers();
  const answer = await fetch(path, {
    method,
    headers: { accept: "application/json", "content-type": "application/json", ...pin },
    body: JSON.stringify(body),
  });
  if (!answer.ok) throw await problem(answer, "authorization" in pin);
  return (await answer.json()) as T;
}

async function problem(answer: Response, pinSent: boolean): Promise<ApiError> {
  try {
    const said = (await answer.json()) as { title?: string; detail?: string; insist?: string; needs?: string; retry_after_s?: number };
    const text = said.detail ?? said.title ?? String(answer.status);
    const lacked = refusal(answer.status, said, pinSent);
    if (lacked?.needs === "pin" && lacked.wrong) permit.forget();
    return new ApiError(text, said.insist !== undefined, lacked);
  } catch {
    return new ApiError(String(answer.status));
  }
}

/** Files that the browser takes along by itself. */
export const files = { backup: "/api/v1/backup", configuration: "/api/v1/configuration" };

export const bankPath = (bank: string): string => `/api/v1/banks/${encodeURIComponent(bank)}`;

/** A moment as the API takes it. */
export const utc = (ms: number): string => new Date(ms).toISOString();

/** Where a span of the record is served as a file: every sample, or a row for each local day. */
export const exportPath = (bank: string, from_ms: number, to_ms: number, what: "samples" | "summary", format: "csv" | "parquet"): string =>
  `${bankPath(bank)}/export?${new URLSearchParams({ from: utc(from_ms), to: utc(to_ms), what, format })}`;

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
  /** Whether this page may change something, and whether its PIN is right. */
  permit: (signal?: AbortSignal) => get<PermitView>("/api/v1/permit", signal, permit.headers()),
  /** What if so much flowed; positive charges. */
  outlook: (bank: string, current_a: number, signal?: AbortSignal) =>
    get<Outlook>(`${bankPath(bank)}/outlook?current_a=${current_a}`, signal),
  branches: (bank: string, signal?: AbortSignal) => get<Branches>(`${bankPath(bank)}/branches`, signal),
  daemon: (signal?: AbortSignal) => get<Daemon>("/api/v1/health", signal),
  devices: (signal?: AbortSignal) => get<{ devices: Device[] }>("/api/v1/devices", signal),
  description: (bank: string, signal?: AbortSignal) => get<Description>(`${bankPath(bank)}/description`, signal),
  /** A hand fix; `std_dev` is 1 σ. Hands back what was done, for people. */
  fix: (bank: string, soc: number, std_dev: number) => send<{ text: string }>("POST", `${bankPath(bank)}/fixes`, { soc, std_dev }),
  /** No current flows now: what the sensor reads is its offset. */
  zero: (bank: string) => send<{ text: string }>("POST", `${bankPath(bank)}/zero`, {}),
  /** What time it is, in UTC milliseconds; `evenSo` where it lies behind the record. Hands back what was done, for people. */
  clock: (utc_ms: number, evenSo: boolean) =>
    send<{ text: string; moved_ms: number }>("POST", "/api/v1/clock", { time: new Date(utc_ms).toISOString(), even_so: evenSo }),
  /** A note on a span, kept as an event. Hands back what was done, for people. */
  note: (bank: string, from_ms: number, to_ms: number, text: string) =>
    send<{ text: string }>("POST", `${bankPath(bank)}/notes`, { from: utc(from_ms), to: utc(to_ms), text }),
  events: (limit: number, signal?: AbortSignal) =>
    get<{ events: Notice[] }>(`/api/v1/events?limit=${limit}`, signal),
};
