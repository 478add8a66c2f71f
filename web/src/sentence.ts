/** The sentence on top of the page: what is happening and what follows from it. */
import type { Now } from "./api";
import { charge, joined, power } from "./format";
import { clockRange, duration, durations, when } from "./range";
import { words } from "./words";
import { said } from "./words/said";

export interface Piece {
  text: string;
  tone: "plain" | "strong" | "mute";
}

export interface Circumstance {
  now: Now | null;
  /** The daemon's present, UTC milliseconds. */
  present: number;
  zone: string;
  link: "joining" | "up" | "away";
}

/** Below this power, in watts, and with no endurance given, the bank is said to rest. */
const REST_W = 1;

/** With less than this left at the present load, in seconds, nothing comes out. */
const SPENT_S = 30;

/** Neither daemon nor device has been heard of since: the figures belong to the time of the last sample. */
export function isOld(now: Now, link: Circumstance["link"]): boolean {
  return link !== "up" || now.device.state === "silent" || now.device.state === "closed";
}

/** Less than this part of the capacity is not worth a word as still held. */
const HELD = 0.03;

/** At this load nothing comes out any more, and yet the bank is not empty: the charge held, Ah; null otherwise. */
export function heldThoughSpent(now: Now): number | null {
  const { endurance_s, charge_ah, capacity_ah } = now;
  if (endurance_s === null || endurance_s >= SPENT_S || charge_ah === null || capacity_ah === null) return null;
  return charge_ah > HELD * capacity_ah ? charge_ah : null;
}

export function sentence(at: Circumstance): Piece[] {
  const { now, link } = at;
  if (!now) return pieces(link === "away" ? words.say.away : words.say.joining);
  if (now.time === null) {
    return link === "away" ? pieces(words.say.away) : pieces(words.say.waiting(now.device.name));
  }
  const sampled = when(Date.parse(now.time), at.present, at.zone);
  if (link === "away") return pieces(words.say.awaySince(sampled));
  if (link === "joining") return pieces(words.say.joiningSince(sampled));
  if (now.device.state === "closed") return pieces(words.say.closed(now.device.name, sampled));
  if (now.device.state === "silent") {
    const quiet = now.device.quiet_s ?? (at.present - Date.parse(now.time)) / 1000;
    return pieces(words.say.silent(now.device.name, duration(quiet), sampled));
  }
  const main = [happening(now), ...following(now, at)];
  const aside = [...asides(now, at)].map((said) => ` ${said}`);
  return [...pieces(main.join(" ")), ...pieces(aside.join(""), "mute")];
}

function happening(now: Now): string {
  const w = now.power_w ?? 0;
  if (Math.abs(w) < REST_W && now.endurance_s === null && now.full_s === null) return words.say.resting;
  const size = joined(power(Math.abs(w)));
  return w < 0 ? words.say.drawing(size) : words.say.charging(size);
}

function following(now: Now, at: Circumstance): string[] {
  const below = now.soc !== null && now.soc < now.reserve;
  const said: string[] = below ? [words.say.reserveBelow] : [];
  const range = (low: number | null, high: number | null): string | null => {
    if (low === null || high === null) return null;
    if (now.time_trusted) return clockRange(at.present, low, high, at.zone);
    const span = durations(low, high);
    return words.range.within(`${span.value} ${span.unit}`);
  };
  const full = range(now.full_low_s, now.full_high_s);
  if (full) {
    said.push((now.full_high_s ?? 0) > 0 ? words.say.full(full) : words.say.fullBy);
    return said;
  }
  const held = heldThoughSpent(now);
  if (held !== null) {
    said.push(words.say.spent(load(now), joined(charge(held))));
    return said;
  }
  const reserve = range(now.reserve_low_s, now.reserve_high_s);
  if (reserve && !below && (now.reserve_s ?? 0) > 0) {
    said.push(words.say.reserveReached(load(now), reserve));
    return said;
  }
  const empty = range(now.endurance_low_s, now.endurance_high_s);
  if (empty) said.push(words.say.emptyReached(load(now), empty));
  return said;
}

/** The endurance is reckoned from the recent mean load; where the present one differs by a fifth, the sentence says so. */
function load(now: Now): string {
  if (now.mean_current_a === null || now.voltage_v === null || now.power_w === null) return words.say.atThisLoad;
  const mean = now.mean_current_a * now.voltage_v;
  if (Math.abs(mean - now.power_w) <= 0.2 * Math.abs(mean)) return words.say.atThisLoad;
  return words.say.atMeanLoad(joined(power(Math.abs(mean))));
}

function* asides(now: Now, at: Circumstance): Generator<string> {
  if (now.store_trouble) yield words.say.storeTrouble(said(now.store_trouble));
  if (!now.time_trusted) yield words.say.clockUntrusted;
  if (!now.start_known) yield words.say.startUnknown;
  if (now.last_fix) yield words.say.lastFix(now.last_fix.kind, when(Date.parse(now.last_fix.time), at.present, at.zone));
  else if (now.start_known) yield words.say.noFix;
}

/** Takes `*...*` as strong; everything else has the given tone. */
export function pieces(text: string, tone: "plain" | "mute" = "plain"): Piece[] {
  return text
    .split("*")
    .map((part, index): Piece => ({ text: part, tone: index % 2 ? "strong" : tone }))
    .filter((piece) => piece.text !== "");
}
