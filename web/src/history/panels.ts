/** Which panels a bank's channels make, and what each says of its data. Pure. */
import type { Bank, History, HistoryColumn } from "../api";
import { inReadersUnit, TEMPERATURE_UNIT } from "../format";
import { words } from "../words";

export interface Line {
  channel: string;
  /** Written at the line's end where the panel has several. */
  label: string;
}

export interface PanelSpec {
  key: string;
  title: string;
  unit: string;
  lines: Line[];
  /** Shaded from zero: what flows in above, out below. */
  signed: boolean;
  /** A channel drawn as a thin second line where the history has it. */
  beside: string | null;
}

const MAIN = ["soc", "voltage_v", "current_a", "power_w", "temperature_c"];
/** Charge as reckoned at the time, beside the reconciled line. */
export const LIVE = "soc_live";
const NUMBERED = /^(.*)_(\d+)_[a-z]+$/;

/** The main quantities first, then numbered channels of one kind together, then the rest each by itself. */
export function panelsOf(bank: Bank): PanelSpec[] {
  const units = new Map(bank.channels.map((channel) => [channel.name, channel.unit === "°C" ? TEMPERATURE_UNIT : channel.unit]));
  units.set("soc", "1").set("power_w", "W");
  const specs: PanelSpec[] = [];
  for (const name of [...MAIN.filter((each) => units.has(each)), ...bank.channels.map((each) => each.name)]) {
    if (specs.some((spec) => spec.lines.some((line) => line.channel === name))) continue;
    const unit = units.get(name) ?? "";
    const numbered = NUMBERED.exec(name);
    const key = numbered ? `${numbered[1]} ${unit}` : name;
    const group = specs.find((spec) => spec.key === key);
    if (group) group.lines.push({ channel: name, label: numbered![2]! });
    else {
      specs.push({
        key,
        title: words.history.channel[numbered ? numbered[1]! : name] ?? humane(numbered ? numbered[1]! : name),
        unit,
        lines: [{ channel: name, label: numbered?.[2] ?? "" }],
        signed: unit === "A" || unit === "W",
        beside: name === "soc" ? LIVE : null,
      });
    }
  }
  return specs;
}

/** A channel's name without its unit's suffix: "sea_water_c" reads "Sea water". */
function humane(name: string): string {
  const text = name.replace(/_[a-z]+$/, "").replaceAll("_", " ");
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** A channel's name for people: "monobloc_3_v" reads "Monobloc 3". */
export function channelTitle(name: string): string {
  const numbered = NUMBERED.exec(name);
  const kind = numbered ? numbered[1]! : name;
  const title = (numbered && words.history.oneOf[kind]) ?? words.history.channel[kind] ?? humane(kind);
  return numbered ? `${title} ${numbered[2]}` : title;
}

/** The same history with its temperatures in the reader's unit. */
export function inReadersUnits(history: History): History {
  if (TEMPERATURE_UNIT === "°C") return history;
  const turned = (values: (number | null)[]): (number | null)[] => values.map((each) => (each === null ? null : inReadersUnit(each)));
  const channels = Object.entries(history.channels).map(([name, column]) => {
    if (column.unit !== "°C") return [name, column];
    const { mean, min, max } = column;
    return [name, { unit: TEMPERATURE_UNIT, mean: turned(mean), ...(min && { min: turned(min) }), ...(max && { max: turned(max) }) }];
  });
  return { ...history, channels: Object.fromEntries(channels) as History["channels"] };
}

export const lowEdge = (column: HistoryColumn): (number | null)[] => column.low ?? column.min ?? column.mean;
export const highEdge = (column: HistoryColumn): (number | null)[] => column.high ?? column.max ?? column.mean;

/** Least and greatest of a panel's lines within a span; null where nothing is recorded there. */
export function extremes(history: History, spec: PanelSpec, from: number, to: number): { low: number; high: number } | null {
  let low = Infinity;
  let high = -Infinity;
  // For charge the trace counts, not its band: the band is doubt, no extreme that was reached.
  const lows = (column: HistoryColumn) => (column.low ? column.mean : lowEdge(column));
  const highs = (column: HistoryColumn) => (column.high ? column.mean : highEdge(column));
  for (const { channel } of spec.lines) {
    const column = history.channels[channel];
    if (!column) continue;
    history.time_ms.forEach((ms, i) => {
      if (ms < from || ms > to) return;
      low = Math.min(low, lows(column)[i] ?? Infinity);
      high = Math.max(high, highs(column)[i] ?? -Infinity);
    });
  }
  return low <= high ? { low, high } : null;
}

/** Columns for a chart: times, then per line its upper edge, lower edge and centre, then the line beside. Missing channels are all gap. */
export function table(history: History, spec: PanelSpec): (number | null)[][] {
  const none = (): null[] => history.time_ms.map(() => null);
  return [
    history.time_ms,
    ...spec.lines.flatMap(({ channel }) => {
      const column = history.channels[channel];
      return column ? [highEdge(column), lowEdge(column), column.mean] : [none(), none(), none()];
    }),
    ...(spec.beside ? [history.channels[spec.beside]?.mean ?? none()] : []),
  ];
}

/** Labels pushed apart so that none covers another; the order of the lines is kept. Pixels, down is greater. */
export function spread(wanted: number[], gap: number, top: number, bottom: number): number[] {
  const order = wanted.map((_, i) => i).sort((a, b) => wanted[a]! - wanted[b]!);
  const placed = [...wanted];
  let floor = top;
  for (const i of order) {
    placed[i] = Math.max(wanted[i]!, floor);
    floor = placed[i]! + gap;
  }
  let ceiling = bottom;
  for (const i of order.reverse()) {
    placed[i] = Math.min(placed[i]!, ceiling);
    ceiling = placed[i]! - gap;
  }
  return placed;
}
