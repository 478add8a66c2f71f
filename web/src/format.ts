/** Numbers and times as text, in the page's locale. No unit is ever written without its number. */
import { clockHours, locale as LOCALE, temperatureUnit } from "./settings";
import { civil, isAmbiguous, type Tick } from "./zone";

const MINUS = "\u2212";
/** Between a number and its unit: thin and unbreakable. */
export const THIN = "\u202f";
export const NONE = "\u2013";

const numbers = new Map<string, Intl.NumberFormat>();

/** A number with a fixed count of decimals; a value that rounds to nothing carries no sign. */
export function number(value: number, decimals: number, plus = false): string {
  const key = `${decimals}${plus}`;
  let format = numbers.get(key);
  if (!format) {
    format = new Intl.NumberFormat(LOCALE, {
      minimumFractionDigits: decimals,
      maximumFractionDigits: decimals,
      signDisplay: plus ? "exceptZero" : "negative",
    } as Intl.NumberFormatOptions);
    numbers.set(key, format);
  }
  return format.format(value).replace("-", MINUS);
}

export interface Quantity {
  value: string;
  unit: string;
}

export const joined = (q: Quantity): string => (q.unit ? `${q.value}${THIN}${q.unit}` : q.value);

export function current(a: number, plus = false): Quantity {
  const size = Math.abs(a);
  return { value: number(a, size < 1 ? 2 : size < 100 ? 1 : 0, plus), unit: "A" };
}

/** A bank's voltage: hundredths up to 30 V, tenths above. */
export const voltage = (v: number): Quantity => ({ value: number(v, Math.abs(v) < 30 ? 2 : 1), unit: "V" });

export function power(w: number, plus = false): Quantity {
  const size = Math.abs(w);
  if (size < 999.5) return { value: number(w, 0, plus), unit: "W" };
  const kw = w / 1000;
  return { value: number(kw, size < 9995 ? 2 : 1, plus), unit: "kW" };
}

/** A temperature in the reader's unit. */
export const inReadersUnit = (c: number): number => (temperatureUnit === "F" ? c * 1.8 + 32 : c);
export const TEMPERATURE_UNIT = `°${temperatureUnit}`;

export const temperature = (c: number, decimals = 1): Quantity => ({ value: number(inReadersUnit(c), decimals), unit: TEMPERATURE_UNIT });

/** A difference of temperatures, K, in the reader's unit. */
export const temperatureChange = (k: number): Quantity => ({ value: number(temperatureUnit === "F" ? k * 1.8 : k, 1), unit: TEMPERATURE_UNIT });

export function energy(wh: number, plus = false): Quantity {
  const kwh = wh / 1000;
  return { value: number(kwh, Math.abs(kwh) < 10 ? 2 : Math.abs(kwh) < 100 ? 1 : 0, plus), unit: "kWh" };
}

export const charge = (ah: number, plus = false): Quantity => ({
  value: number(ah, Math.abs(ah) < 10 ? 2 : Math.abs(ah) < 100 ? 1 : 0, plus),
  unit: "Ah",
});

export const percent = (ratio: number): Quantity => ({ value: number(ratio * 100, 0), unit: "%" });

/** A percentage band rounded outward: no doubt is made to look smaller than it is. */
export function percents(low: number, high: number): string {
  const a = number(Math.floor(low * 100 + 1e-6), 0);
  const b = number(Math.ceil(high * 100 - 1e-6), 0);
  return a === b ? a : `${a}\u2013${b}`;
}

/** Decimals with which two digits of a band's half-width are seen: all that is known. */
export const bandDecimals = (low: number, high: number, most: number): number =>
  Math.min(Math.max(0, 1 - Math.floor(Math.log10(Math.max((high - low) / 2, 1e-12)))), most);

/** A channel's value, in the unit it is shown in, with the decimals that unit deserves. */
export function channel(value: number, unit: string): Quantity {
  switch (unit) {
    case "A":
      return current(value);
    case "V":
      return voltage(value);
    case "W":
      return power(value);
    case "°C":
    case "°F":
      return { value: number(value, 1), unit };
    case "1":
      return { value: number(value * 100, 1), unit: "%" };
    case "r/min":
      return { value: number(value, 0), unit };
    case "kn":
      return { value: number(value, 1), unit };
    default:
      return { value: number(value, Math.abs(value) < 10 ? 2 : 1), unit };
  }
}

/** A channel's value as a device gives it, in the reader's unit. */
export const reading = (value: number, unit: string): Quantity => (unit === "°C" ? temperature(value) : channel(value, unit));

/** Least and greatest of a channel with the unit and decimals of the greater size: "−0.47 to 1.50 kW". */
export function span(low: number, high: number, unit: string): { low: string; high: Quantity } {
  const greater = channel(Math.abs(low) > Math.abs(high) ? low : high, unit);
  // Fractions have at most two digits here, groups of thousands three.
  const decimals = /\d\D(\d{1,2})$/.exec(greater.value)?.[1]?.length ?? 0;
  const scale = greater.unit === "kW" ? 1e-3 : unit === "1" ? 100 : 1;
  return { low: number(low * scale, decimals), high: { value: number(high * scale, decimals), unit: greater.unit } };
}

const dates = new Map<string, Intl.DateTimeFormat>();

function date(ms: number, zone: string, options: Intl.DateTimeFormatOptions): string {
  const key = zone + JSON.stringify(options);
  let format = dates.get(key);
  if (!format) {
    format = new Intl.DateTimeFormat(LOCALE, { timeZone: zone, ...options });
    dates.set(key, format);
  }
  return format.format(ms);
}

/** Whole minutes on a clock of 24 hours, or of twice 12. */
const MINUTES: Intl.DateTimeFormatOptions =
  clockHours === "12" ? { hour: "numeric", minute: "2-digit", hourCycle: "h12" } : { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };

/** Clock time such as 07:10. Where the clocks show it twice that day, the zone's short name says which. */
export function clock(ms: number, zone: string): string {
  const text = date(ms, zone, MINUTES);
  if (!isAmbiguous(ms, zone)) return text;
  const parts = new Intl.DateTimeFormat(LOCALE, { timeZone: zone, timeZoneName: "short" }).formatToParts(ms);
  const name = parts.find((part) => part.type === "timeZoneName")?.value ?? "";
  return `${text} ${name}`;
}

export const clockSeconds = (ms: number, zone: string): string =>
  date(ms, zone, { ...MINUTES, second: "2-digit" });

/** Day such as "Wed 25 Nov"; the year too where it isn't the year of `near`. */
export function day(ms: number, zone: string, near: number): string {
  const sameYear = civil(ms, zone).year === civil(near, zone).year;
  const text = date(ms, zone, {
    weekday: "short",
    day: "numeric",
    month: "short",
    ...(!sameYear && { year: "numeric" }),
  });
  return text.replace(/^(\S+),/, "$1");
}

/** Day without its weekday, such as "25 Nov"; the year too where it isn't the year of `near`. */
export const dayOfMonth = (ms: number, zone: string, near: number): string =>
  date(ms, zone, { day: "numeric", month: "short", ...(civil(ms, zone).year !== civil(near, zone).year && { year: "numeric" }) });

/** Month and year such as "May 2031". */
export const month = (ms: number, zone: string): string => date(ms, zone, { month: "short", year: "numeric" });

export const weekday = (ms: number, zone: string): string => date(ms, zone, { weekday: "long" });

export const dayAndClock = (ms: number, zone: string, near: number): string =>
  `${day(ms, zone, near)} ${clock(ms, zone)}`;

/** Label of an axis tick: midnight carries its day, January its year. */
export function tickLabel(tick: Tick, zone: string, wide: boolean): string {
  switch (tick.level) {
    case "second":
      return clockSeconds(tick.ms, zone);
    case "minute":
      return clock(tick.ms, zone);
    case "day":
      return wide ? day(tick.ms, zone, tick.ms) : date(tick.ms, zone, { day: "numeric", month: "short" });
    case "month":
      return date(tick.ms, zone, { month: "short" });
    case "year":
      return date(tick.ms, zone, { year: "numeric" });
  }
}

/** A size of storage, in decimal multiples as cards and drives are sold. */
export function bytes(count: number): string {
  const units = ["B", "kB", "MB", "GB", "TB"];
  let size = count;
  let at = 0;
  while (size >= 999.5 && at < units.length - 1) {
    size /= 1000;
    at += 1;
  }
  return joined({ value: number(size, at === 0 || size >= 100 ? 0 : 1), unit: units[at]! });
}
