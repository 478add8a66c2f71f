/** What stands beside a panel: its range in view, or its values under the cursor. Pure. */
import type { History } from "../api";
import { channel, joined, percent, span as extent } from "../format";
import { words } from "../words";
import { extremes } from "./columns";
import type { PanelSpec } from "./panels";
import type { Part } from "./stack";
import { unreadIn } from "./unread";

/** Between two values; the values themselves do not break. */
const APART = "  ";
/** A branch that carries less than this says nothing, A: it is off. */
const OFF_A = 0.05;

export function rangeText(data: History | null, spec: PanelSpec, span: Part): string {
  const range = data && extremes(data, spec, span.from, span.to);
  if (!range) return "";
  const ends = extent(range.low.value, range.high.value, spec.unit);
  return words.history.ranges(ends.low, joined(ends.high));
}

export function saysPanel(data: History | null, spec: PanelSpec, span: Part): string {
  const range = data && extremes(data, spec, span.from, span.to);
  if (!range) return `${spec.title}. ${words.history.none}`;
  return words.history.saysPanel(spec.title, joined(channel(range.low.value, spec.unit)), joined(channel(range.high.value, spec.unit)));
}

export function underCursor(data: History, spec: PanelSpec, index: number): string {
  const values = spec.lines.flatMap(({ channel: name, label, sign }) => {
    const value = data.channels[name]?.mean[index];
    return typeof value === "number" ? [{ label, value: sign * value }] : [];
  });
  const branches = spec.key === "sources" || spec.key === "loads";
  // The greatest first: what is off may be left out where there is no room.
  const told = branches ? values.filter(({ value }) => Math.abs(value) >= OFF_A).sort((a, b) => Math.abs(b.value) - Math.abs(a.value)) : values;
  if (branches && values.length > 0 && told.length === 0) return words.charts.panel.off;
  const said = told.map(({ label, value }) => {
    const text = values.length > 1 && !branches ? channel(value, spec.unit).value : joined(channel(value, spec.unit));
    return label ? `${label}\u00a0${text}` : text;
  });
  const column = spec.key === "soc" ? data.channels["soc"] : undefined;
  const [low, high] = [column?.low?.[index], column?.high?.[index]];
  if (said.length && typeof low === "number" && typeof high === "number") {
    said.push(`(${channel(low, "1").value}\u2013${channel(high, "1").value})`);
  }
  const then = spec.beside ? data.channels[spec.beside]?.mean[index] : undefined;
  if (said.length && typeof then === "number") said.push(words.history.thenValue(joined(percent(then))));
  return said.join(APART) || gapWords(data, index);
}

function gapWords(data: History, index: number): string {
  const at = data.time_ms[index]!;
  const bin = { from: at, to: at + data.step_ms - 1 };
  return unreadIn(data.unreadable, bin) ? words.history.unreadGap : words.picture.gap;
}
