/** The five figures: what each says for a given now. Pure. */
import type { Bank, History, Now } from "../api";
import { charge, current, joined, NONE, number, percent, power, temperature, temperatureChange, voltage, type Quantity } from "../format";
import { durations } from "../range";
import { nearest } from "../picture/frame";
import { heldThoughSpent } from "../sentence";
import { words } from "../words";

export interface Figure {
  key: "charge" | "reserve" | "current" | "voltage" | "temperature";
  label: string;
  value: string;
  unit: string;
  /** The doubt set beside the unit, where the figure has one. */
  doubt: string;
  sub: string;
}

/** A band wider than this on one side is shown as a range instead of a value with its doubt. */
const WIDE = 0.1;
/** Temperatures that moved less than this in an hour count as steady. */
const STEADY_C = 0.5;
const HOUR_MS = 3_600_000;

const nothing = (sub: string): Pick<Figure, "value" | "unit" | "doubt" | "sub"> => ({ value: NONE, unit: "", doubt: "", sub });

export function figures(bank: Bank, now: Now, past: History | null): Figure[] {
  return [
    { key: "charge", label: words.figure.charge, ...chargeLeft(now) },
    untilReserve(now),
    { key: "current", label: words.figure.current, ...flow(now) },
    { key: "voltage", label: words.figure.voltage, ...volts(bank, now) },
    { key: "temperature", label: words.figure.temperature, ...warmth(now, past) },
  ];
}

/** The places before anything was heard. */
export const noFigures = (): Figure[] =>
  (["charge", "reserve", "current", "voltage", "temperature"] as const).map((key) => ({ key, label: words.figure[key], ...nothing("") }));

function chargeLeft(now: Now): Omit<Figure, "key" | "label"> {
  const held =
    now.charge_ah === null || now.capacity_ah === null
      ? ""
      : words.figure.chargeOf(
          number(now.charge_ah, now.capacity_ah < 30 ? 1 : 0),
          joined(round(now.capacity_ah)),
          now.drawn_since_full_ah === null ? "" : number(now.drawn_since_full_ah, now.capacity_ah < 30 ? 1 : 0),
        );
  const shown = withDoubt(now);
  return shown ? { ...shown, sub: held } : nothing(words.figure.unknown);
}

/** SoC with its doubt, or as a range where the band is wide; null before it is known. */
export function withDoubt({ soc, soc_low: low, soc_high: high }: Now): Pick<Figure, "value" | "unit" | "doubt"> | null {
  if (soc === null || low === null || high === null) return null;
  const side = Math.max(high - soc, soc - low);
  if (side > WIDE) return { value: `${percent(low).value}\u2013${percent(high).value}`, unit: "%", doubt: "" };
  // Rounded up: the doubt is never made to look smaller than it is.
  const points = Math.max(1, Math.ceil(side * 100 - 1e-6));
  return { value: percent(soc).value, unit: "%", doubt: words.figure.doubt(number(points, 0)) };
}

const round = (ah: number): Quantity => ({ value: number(ah, ah < 30 ? 1 : 0), unit: charge(ah).unit });

const meanFlow = (now: Now): string => (now.mean_current_a === null ? "" : words.picture.mean(joined(current(now.mean_current_a, true))));

function untilReserve(now: Now): Figure {
  if (now.full_low_s !== null && now.full_high_s !== null) {
    const span = durations(now.full_low_s, now.full_high_s);
    return { key: "reserve", label: words.figure.full, value: span.value, unit: span.unit, doubt: "", sub: meanFlow(now) };
  }
  const label = words.figure.reserve;
  const { endurance_low_s: low, endurance_high_s: high, reserve_low_s, reserve_high_s } = now;
  if (low === null || high === null) return { key: "reserve", label, ...nothing(now.soc === null ? words.figure.unknown : words.figure.noEnd) };
  const empty = durations(low, high);
  const held = heldThoughSpent(now);
  if (held !== null || now.reserve_s === 0 || reserve_low_s === null || reserve_high_s === null) {
    return {
      key: "reserve",
      label: words.figure.untilEmpty,
      value: empty.value,
      unit: empty.unit,
      doubt: "",
      sub: held === null ? words.figure.isBelow : words.figure.stillHeld(joined(round(held))),
    };
  }
  const span = durations(reserve_low_s, reserve_high_s);
  return {
    key: "reserve",
    label,
    value: span.value,
    unit: span.unit,
    doubt: "",
    sub: words.figure.empty(`${empty.value} ${empty.unit}`),
  };
}

function flow(now: Now): Omit<Figure, "key" | "label"> {
  if (now.current_a === null) return nothing(words.figure.noSensor);
  const shown = current(now.current_a, true);
  // A value that is shown as nothing but zeros flows neither way.
  const way = !/[1-9]/.test(shown.value) ? words.figure.neither : now.current_a > 0 ? words.figure.into : words.figure.outOf;
  const sub = now.power_w === null ? way : `${joined(power(Math.abs(now.power_w)))} ${way}`;
  return { ...shown, doubt: "", sub };
}

function volts(bank: Bank, now: Now): Omit<Figure, "key" | "label"> {
  if (now.voltage_v === null) return nothing(words.figure.noSensor);
  const lithium = bank.chemistry === "lfp" || bank.chemistry === "nmc";
  const cell = joined({ value: number(now.voltage_v / bank.cells_in_series, lithium ? 3 : 2), unit: "V" });
  return { ...voltage(now.voltage_v), doubt: "", sub: words.figure.cell(cell) };
}

function warmth(now: Now, past: History | null): Omit<Figure, "key" | "label"> {
  if (now.temperature_c === null) return nothing(words.figure.noSensor);
  return { ...temperature(now.temperature_c), doubt: "", sub: drift(now, past) };
}

/** Against the mean of an hour ago; unsaid where that isn't recorded. */
function drift(now: Now, past: History | null): string {
  if (!past || now.time === null || now.temperature_c === null) return "";
  const ago = Date.parse(now.time) - HOUR_MS;
  const i = nearest(past.time_ms, ago);
  const then = past.channels["temperature_c"]?.mean[i];
  if (then === null || then === undefined || Math.abs(past.time_ms[i]! - ago) > 10 * 60_000) return "";
  const by = now.temperature_c - then;
  if (Math.abs(by) < STEADY_C) return words.figure.steady;
  const size = joined(temperatureChange(Math.abs(by)));
  return by > 0 ? words.figure.warmer(size) : words.figure.colder(size);
}
