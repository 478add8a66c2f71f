/** What the picture of capacity shows: findings, the line of all of them together, and where it goes. Pure. */
import type { HealthRecord, RatioPoint } from "../record";

const DAY_MS = 86_400_000;
/** A trend takes half a year: the picture of a young bank has room for it. */
const HALF_YEAR_MS = 183 * DAY_MS;
/** At most so many times as far ahead as back, and a year back at least: the findings are what the picture is about. */
const AHEAD = 3;
/** With fewer findings than this the whole of their bands is shown; later ones are known better than the first. */
const FEW = 6;

export interface Place {
  ms: number;
  ratio: number;
  low: number;
  high: number;
}

export interface Dot extends Place {
  believed: boolean;
}

export interface Picture {
  from: number;
  to: number;
  /** Ends of the scale, parts of the rating. */
  bottom: number;
  top: number;
  now: number;
  endOfLife: number;
  dots: Dot[];
  line: Place[];
  forecast: Place[];
  /** When the end of life is reached, UTC milliseconds; null where it is not known. */
  end: { earliest: number; middle: number | null; latest: number | null } | null;
}

const places = (points: RatioPoint[]): Place[] =>
  points.flatMap(({ time, ratio, low, high }) => (time === null ? [] : [{ ms: Date.parse(time), ratio, low, high }]));
const at = (time: string | null): number | null => (time === null ? null : Date.parse(time));

/** Null where there is nothing to draw. */
export function picture(record: HealthRecord, present: number): Picture | null {
  const { capacity, fade, rated_capacity_ah: rated, end_of_life: endOfLife } = record;
  const dots = capacity.findings.flatMap(({ time, corrected_ah: { value, low, high }, believed }): Dot[] => {
    if (time === null) return [];
    return [{ ms: Date.parse(time), ratio: value / rated, low: low / rated, high: high / rated, believed }];
  });
  const line = places(fade.line);
  const last = line.at(-1);
  const ahead = places(fade.forecast);
  // The way ahead goes on from where the line ends.
  const forecast = last && ahead[0] && ahead[0].ms > last.ms ? [last, ...ahead] : ahead;
  const times = [...dots, ...line].map(({ ms }) => ms);
  // One finding makes no coast.
  if (new Set(times).size < 2) return null;
  const ends = fade.end_of_life;
  const earliest = at(ends?.earliest ?? null);
  const end = ends && earliest !== null ? { earliest, middle: at(ends.middle), latest: at(ends.latest) } : null;
  const first = Math.min(...times);
  // A record from ahead of this clock was made in its own present.
  const now = Math.max(present, ...times, at(record.surveyed_to) ?? present);
  // The forecast is shown as far as it tells when the end of life comes, and no further.
  const told = Math.min(forecast.at(-1)?.ms ?? now, end?.latest ?? Infinity);
  const most = now + AHEAD * Math.max(now - first, 2 * HALF_YEAR_MS);
  const reach = Math.max(now, Math.min(told, most), first + HALF_YEAR_MS);
  const margin = 0.02 * (reach - first);
  const [from, to] = [first - margin, reach + 2 * margin];
  const counted = dots.filter((dot) => dot.believed);
  const shown = [...counted, ...line, ...forecast.filter(({ ms }) => ms <= to)];
  const [least, greatest] = counted.length < FEW ? [endOfLife - 0.4, 1.4] : [endOfLife - 0.1, 1.2];
  const bottom = Math.min(endOfLife - 0.05, ...shown.map(({ low }) => Math.max(low - 0.01, least)));
  const top = Math.max(1.02, ...shown.map(({ high }) => Math.min(high + 0.01, greatest)));
  return { from, to, bottom, top, now, endOfLife, dots, line, forecast, end };
}

/** Columns for a chart: times, then upper edge, lower edge and centre of the line, then those of the forecast. */
export function columns({ line, forecast }: Picture): (number | null)[][] {
  const times = [...new Set([...line, ...forecast].map(({ ms }) => ms))].sort((a, b) => a - b);
  const of = (places: Place[]): (number | null)[][] => {
    const known = new Map(places.map((each) => [each.ms, each]));
    return (["high", "low", "ratio"] as const).map((edge) => times.map((ms) => known.get(ms)?.[edge] ?? null));
  };
  return [times, ...of(line), ...of(forecast)];
}
