/** What the picture of capacity shows: findings, the line of all of them together, and where it goes. Pure. */
import type { HealthRecord, RatioPoint } from "../record";

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
  if (times.length === 0) return null;
  const ends = fade.end_of_life;
  const earliest = at(ends?.earliest ?? null);
  const end = ends && earliest !== null ? { earliest, middle: at(ends.middle), latest: at(ends.latest) } : null;
  const first = Math.min(...times);
  // The forecast is shown as far as it tells when the end of life comes, and no further.
  const reach = Math.max(present, ...times, Math.min(forecast.at(-1)?.ms ?? present, end?.latest ?? Infinity));
  const margin = Math.max(0.02 * (reach - first), 86_400_000);
  const [from, to] = [first - margin, reach + 2 * margin];
  const shown = [...dots.filter((dot) => dot.believed), ...line, ...forecast.filter(({ ms }) => ms <= to)];
  const bottom = Math.min(endOfLife - 0.05, ...shown.map(({ low }) => Math.max(low, endOfLife - 0.1)));
  const top = Math.max(1.02, ...shown.map(({ high }) => Math.min(high, 1.2)));
  return { from, to, bottom, top, now: present, endOfLife, dots, line, forecast, end };
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
