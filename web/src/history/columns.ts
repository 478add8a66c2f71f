/** What panels take from a history: their columns, and the least and greatest in them. Pure. */
import type { History, HistoryColumn } from "../api";
import { inReadersUnit, TEMPERATURE_UNIT } from "../format";
import type { Line, PanelSpec } from "./panels";

type Column = (number | null)[];

/** The same history with its temperatures in the reader's unit. */
export function inReadersUnits(history: History): History {
  if (TEMPERATURE_UNIT === "°C") return history;
  const turned = (values: Column): Column => values.map((each) => (each === null ? null : inReadersUnit(each)));
  const channels = Object.entries(history.channels).map(([name, column]) => {
    if (column.unit !== "°C") return [name, column];
    const { mean, min, max } = column;
    return [name, { unit: TEMPERATURE_UNIT, mean: turned(mean), ...(min && { min: turned(min) }), ...(max && { max: turned(max) }) }];
  });
  return { ...history, channels: Object.fromEntries(channels) as History["channels"] };
}

/** A line's upper edge, lower edge and centre; null where the history does not have it. */
export function edges(history: History, { channel, sign }: Line): { high: Column; low: Column; mean: Column } | null {
  const column: HistoryColumn | undefined = history.channels[channel];
  if (!column) return null;
  const [high, low] = [column.high ?? column.max ?? column.mean, column.low ?? column.min ?? column.mean];
  if (sign === 1) return { high, low, mean: column.mean };
  const turned = (values: Column): Column => values.map((each) => (each === null ? null : 0 - each));
  return { high: turned(low), low: turned(high), mean: turned(column.mean) };
}

/** Columns for a chart: times, then per line its upper edge, lower edge and centre, then the line beside. Missing channels are all gap. */
export function table(history: History, spec: PanelSpec): Column[] {
  const none = (): null[] => history.time_ms.map(() => null);
  return [
    history.time_ms,
    ...spec.lines.flatMap((line) => {
      const found = edges(history, line);
      return found ? [found.high, found.low, found.mean] : [none(), none(), none()];
    }),
    ...(spec.beside ? [history.channels[spec.beside]?.mean ?? none()] : []),
  ];
}

/** A value that was reached, when, and on which line. */
export interface Reached {
  value: number;
  at: number;
  label: string;
}

/** Least and greatest of a panel's lines within a span; null where nothing is recorded there. */
export function extremes(history: History, spec: PanelSpec, from: number, to: number): { low: Reached; high: Reached } | null {
  let low: Reached | null = null;
  let high: Reached | null = null;
  for (const line of spec.lines) {
    const found = edges(history, line);
    if (!found) continue;
    // For charge the trace counts, not its band: the band is doubt, no extreme that was reached.
    const [lows, highs] = history.channels[line.channel]?.low ? [found.mean, found.mean] : [found.low, found.high];
    history.time_ms.forEach((at, i) => {
      if (at < from || at > to) return;
      const [least, most] = [lows[i], highs[i]];
      if (typeof least === "number" && (low === null || least < low.value)) low = { value: least, at, label: line.label };
      if (typeof most === "number" && (high === null || most > high.value)) high = { value: most, at, label: line.label };
    });
  }
  return low && high && { low, high };
}

/** Mean of a line over a history; null where nothing is recorded. */
export function mean(history: History, line: Line): number | null {
  const values = (edges(history, line)?.mean ?? []).filter((value) => value !== null);
  return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;
}
