/** Civil time in a named zone. All arithmetic goes through the zone's offset at a moment, so days of 23 and 25 hours come out right. */

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

const formats = new Map<string, Intl.DateTimeFormat>();
const offsets = new Map<string, number>();

/** Milliseconds that the zone's civil time is ahead of UTC at a moment. Offsets change on quarter hours only, so they are kept per quarter. */
export function offsetMs(ms: number, zone: string): number {
  const quarter = Math.floor(ms / (15 * MINUTE));
  const key = `${zone} ${quarter}`;
  const kept = offsets.get(key);
  if (kept !== undefined) return kept;
  let format = formats.get(zone);
  if (!format) {
    format = new Intl.DateTimeFormat("en-US", {
      timeZone: zone,
      hourCycle: "h23",
      year: "numeric",
      month: "numeric",
      day: "numeric",
      hour: "numeric",
      minute: "numeric",
      second: "numeric",
    });
    formats.set(zone, format);
  }
  const at = quarter * 15 * MINUTE;
  const part: Record<string, number> = {};
  for (const { type, value } of format.formatToParts(at)) part[type] = Number(value);
  const civil = Date.UTC(part["year"]!, part["month"]! - 1, part["day"]!, part["hour"]!, part["minute"]!, part["second"]!);
  const offset = civil - at;
  if (offsets.size > 20_000) offsets.clear();
  offsets.set(key, offset);
  return offset;
}

export interface Civil {
  year: number;
  /** 1..12 */
  month: number;
  day: number;
  /** 0 is Sunday. */
  weekday: number;
  hour: number;
  minute: number;
  second: number;
  /** Civil days since 1970-01-01: differences count calendar days. */
  dayNumber: number;
}

export function civil(ms: number, zone: string): Civil {
  const local = ms + offsetMs(ms, zone);
  const date = new Date(local);
  return {
    year: date.getUTCFullYear(),
    month: date.getUTCMonth() + 1,
    day: date.getUTCDate(),
    weekday: date.getUTCDay(),
    hour: date.getUTCHours(),
    minute: date.getUTCMinutes(),
    second: date.getUTCSeconds(),
    dayNumber: Math.floor(local / DAY),
  };
}

/** The moment at which the zone's clocks show the civil time given as if it were UTC. In a skipped hour: as if the clocks hadn't jumped; in a repeated one: the first. */
export function moment(localMs: number, zone: string): number {
  const shows = (ms: number): boolean => ms + offsetMs(ms, zone) === localMs;
  const [before, after] = [-DAY, DAY].map((away) => localMs - offsetMs(localMs + away, zone)) as [number, number];
  return !shows(before) && shows(after) ? after : before;
}

export function startOfDay(ms: number, zone: string): number {
  return moment(civil(ms, zone).dayNumber * DAY, zone);
}

/** Whether the zone's clocks show this time twice that day. */
export function isAmbiguous(ms: number, zone: string): boolean {
  const here = offsetMs(ms, zone);
  return [-1, 1].some((side) => {
    const there = offsetMs(ms + side * 3 * HOUR, zone);
    const twin = ms + here - there;
    return there !== here && twin !== ms && offsetMs(twin, zone) === there;
  });
}

export type TickLevel = "second" | "minute" | "day" | "month" | "year";

export interface Tick {
  ms: number;
  level: TickLevel;
}

interface Step {
  unit: "ms" | "day" | "month" | "year";
  count: number;
  about: number;
}

const CLOCK_STEPS = [1, 2, 5, 10, 15, 30].map((s) => s * 1000).concat(
  [1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720].map((m) => m * MINUTE),
);
const STEPS: Step[] = [
  ...CLOCK_STEPS.map((ms): Step => ({ unit: "ms", count: ms, about: ms })),
  ...[1, 2, 7, 14].map((d): Step => ({ unit: "day", count: d, about: d * DAY })),
  ...[1, 3, 6].map((m): Step => ({ unit: "month", count: m, about: m * 30 * DAY })),
  ...[1, 2, 5, 10].map((y): Step => ({ unit: "year", count: y, about: y * 365 * DAY })),
];

/** Ticks on round civil times within a span, at most about `most` of them. */
export function ticks(from: number, to: number, zone: string, most: number): Tick[] {
  const step = STEPS.find((s) => (to - from) / s.about <= most) ?? STEPS[STEPS.length - 1]!;
  return step.unit === "ms" ? clockTicks(from, to, zone, step.count) : calendarTicks(from, to, zone, step);
}

function clockTicks(from: number, to: number, zone: string, step: number): Tick[] {
  const stride = step >= 15 * MINUTE ? 15 * MINUTE : step === 10 * MINUTE ? 5 * MINUTE : step;
  const found: Tick[] = [];
  for (let ms = Math.ceil(from / stride) * stride; ms <= to; ms += stride) {
    const sinceMidnight = (((ms + offsetMs(ms, zone)) % DAY) + DAY) % DAY;
    if (sinceMidnight % step === 0) {
      found.push({ ms, level: sinceMidnight === 0 ? "day" : step < MINUTE ? "second" : "minute" });
    }
  }
  return found;
}

function calendarTicks(from: number, to: number, zone: string, step: Step): Tick[] {
  const found: Tick[] = [];
  const first = civil(from, zone);
  if (step.unit === "day") {
    const last = civil(to, zone).dayNumber;
    for (let day = first.dayNumber; day <= last; day += 1) {
      // 1970-01-05 was a Monday: weeks start there.
      if ((((day - 4) % step.count) + step.count) % step.count === 0) {
        found.push({ ms: moment(day * DAY, zone), level: "day" });
      }
    }
  } else {
    const months = step.unit === "year" ? 12 * step.count : step.count;
    const start = Math.floor((first.year * 12 + first.month - 1) / months) * months;
    for (let month = start; ; month += months) {
      const ms = moment(Date.UTC(Math.floor(month / 12), month % 12, 1), zone);
      if (ms > to) break;
      found.push({ ms, level: month % 12 === 0 ? "year" : "month" });
    }
  }
  return found.filter((tick) => tick.ms >= from && tick.ms <= to);
}

/** Midnights within a span: the day boundaries. */
export function midnights(from: number, to: number, zone: string): number[] {
  return calendarTicks(from, to, zone, { unit: "day", count: 1, about: DAY }).map((tick) => tick.ms);
}
