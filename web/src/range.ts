/** Ranges of time, rounded outward to steps no finer than the range deserves. */
import { clock, day, dayAndClock, number, weekday } from "./format";
import { words } from "./words";
import { civil } from "./zone";

const MINUTE = 60;
const HOUR = 3600;
const DAY = 86_400;

export interface Span {
  /** "10–13", or "13" where both ends round to the same. */
  value: string;
  unit: string;
}

/** Smallest step that isn't finer than `least`; the coarsest where all are finer. */
function stepOf(steps: number[], least: number): number {
  return steps.find((step) => step >= least) ?? steps[steps.length - 1]!;
}

/** A range of durations in one unit. The step is at least a twelfth of the range, so a wide band never shows fine digits. */
export function durations(low_s: number, high_s: number): Span {
  const low = Math.max(0, low_s);
  const high = Math.max(low, high_s);
  const least = (high - low) / 12;
  const [unit, second, steps] =
    high < 100 * MINUTE
      ? ([words.unit.minutes, MINUTE, [1, 2, 5, 10, 15, 30]] as const)
      : high < 72 * HOUR
        ? ([words.unit.hours, HOUR, high < 10 * HOUR ? [0.1, 0.2, 0.5, 1] : [1, 2, 5, 10]] as const)
        : ([words.unit.days, DAY, high < 10 * DAY ? [0.5, 1, 2] : [1, 2, 5, 10, 20, 50, 100]] as const);
  const step = stepOf([...steps], least / second);
  const a = Math.floor(low / second / step + 1e-9) * step;
  const b = Math.ceil(high / second / step - 1e-9) * step;
  const decimals = Number.isInteger(a) && Number.isInteger(b) ? 0 : 1;
  const first = number(a, a === 0 ? 0 : decimals);
  const last = number(b, decimals);
  return { value: first === last ? first : `${first}\u2013${last}`, unit };
}

/** A single duration, as for an age: never finer than two steps of its unit. */
export function duration(s: number): string {
  if (s < 90) return `${number(s, 0)} ${words.unit.seconds}`;
  if (s < 90 * MINUTE) return `${number(s / MINUTE, 0)} ${words.unit.minutes}`;
  if (s < 48 * HOUR) return `${number(s / HOUR, 0)} ${words.unit.hours}`;
  return `${number(s / DAY, 0)} ${words.unit.days}`;
}

/** Length of a shown span: exact where it is round, else two units. */
export function length(ms: number): string {
  const s = Math.round(ms / 1000);
  const pairs: [number, string][] = [
    [DAY, words.unit.days],
    [HOUR, words.unit.hours],
    [MINUTE, words.unit.minutes],
    [1, words.unit.seconds],
  ];
  const top = pairs.findIndex(([size]) => s >= size);
  if (top < 0) return `0 ${words.unit.seconds}`;
  const [size, unit] = pairs[top]!;
  const whole = Math.floor(s / size);
  const next = pairs[top + 1];
  const rest = next ? Math.round((s - whole * size) / next[0]) : 0;
  return rest && next ? `${whole} ${unit} ${rest} ${next[1]}` : `${whole} ${unit}`;
}

/** Clock times from `low_s` to `high_s` after `now`, with the day in words: "between 07:10 and 10:50 tomorrow". */
export function clockRange(now: number, low_s: number, high_s: number, zone: string): string {
  const width = Math.max(0, high_s - low_s);
  if (width > 3 * DAY || low_s > 6 * DAY) return dayRange(now, low_s, high_s, zone);
  const step = stepOf([5, 10, 15, 30, 60], width / MINUTE / 24) * MINUTE * 1000;
  const from = Math.floor((now + low_s * 1000) / step) * step;
  const to = Math.ceil((now + high_s * 1000) / step) * step;
  const a = clock(from, zone);
  const b = clock(to, zone);
  const dayA = dayWord(from, now, zone);
  const dayB = dayWord(to, now, zone);
  if (from <= now) return words.range.before(b, dayB);
  if (dayA === dayB) {
    return a === b ? words.range.about(a, dayA) : words.range.sameDay(a, b, dayA);
  }
  return words.range.twoDays(a, dayA || words.day.today, b, dayB);
}

/** The same without words, for a label on the picture: "07:10–10:50". */
export function clockLabel(now: number, low_s: number, high_s: number, zone: string): string {
  const width = Math.max(0, high_s - low_s);
  const step = stepOf([5, 10, 15, 30, 60], width / MINUTE / 24) * MINUTE * 1000;
  const from = clock(Math.floor((now + low_s * 1000) / step) * step, zone);
  const to = clock(Math.ceil((now + high_s * 1000) / step) * step, zone);
  return from === to ? from : `${from}\u2013${to}`;
}

function dayRange(now: number, low_s: number, high_s: number, zone: string): string {
  const from = day(now + low_s * 1000, zone, now);
  const to = day(now + high_s * 1000, zone, now);
  return from === to ? words.range.onDay(from) : words.range.days(from, to);
}

/** Today is left unsaid; yesterday and tomorrow by word, within six days by name, further by date. */
export function dayWord(ms: number, now: number, zone: string): string {
  const away = civil(ms, zone).dayNumber - civil(now, zone).dayNumber;
  if (away === 0) return "";
  if (away === 1) return words.day.tomorrow;
  if (away === -1) return words.day.yesterday;
  return Math.abs(away) < 7 ? weekday(ms, zone) : day(ms, zone, now);
}

/** A past moment in words: "14:20", "yesterday 14:20", "Sunday 09:05", "3 Nov 14:20". */
export function when(ms: number, now: number, zone: string): string {
  const word = dayWord(ms, now, zone);
  const at = clock(ms, zone);
  return word ? `${word} ${at}` : at;
}

/** From one moment to another: "Thu 12 Nov 09:12 to 17:40". */
export function fromTo(from: number, to: number, now: number, zone: string): string {
  const sameDay = civil(from, zone).dayNumber === civil(to, zone).dayNumber;
  return words.history.fromTo(dayAndClock(from, zone, now), sameDay ? clock(to, zone) : dayAndClock(to, zone, now));
}
