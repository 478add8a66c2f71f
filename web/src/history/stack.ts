/** The panels under one cursor. Knows pixels and data; what span to show it is told. */
import uPlot from "uplot";
import type { Bank, History } from "../api";
import { el, onResize, rem, setText } from "../dom";
import { channel, clockSeconds, day, dayAndClock, joined, percent, span as extent } from "../format";
import { colours } from "../palette";
import { words } from "../words";
import { axisWidth, chart, endWidth, footHeight, SYNC } from "./chart";
import { MarkRow } from "./marks";
import { extremes, inReadersUnits, panelsOf, table, type PanelSpec } from "./panels";
import { unreadIn } from "./unread";

interface Panel {
  spec: PanelSpec;
  plot: HTMLElement;
  value: HTMLElement;
  note: HTMLElement;
  chart: uPlot | null;
}

export interface Part {
  from: number;
  to: number;
}

export class Stack {
  readonly node = el("div", { class: "stack", tabindex: "0", role: "group" });
  private readonly marks: MarkRow;
  private readonly time = el("output", { class: "cursor-time", hidden: true });
  private readonly chosen = el("div", { class: "chosen", hidden: true });
  private readonly panels: Panel[];
  /** As it came, and in the reader's units. */
  private recorded: History | null = null;
  private data: History | null = null;
  private shown: Part = { from: 0, to: 1 };
  private part: Part | null = null;
  private cursor: number | null = null;

  constructor(
    private readonly bank: Bank,
    private readonly zone: string,
    specs = panelsOf(bank),
  ) {
    this.marks = new MarkRow(zone);
    this.panels = specs.map((spec) => ({
      spec,
      plot: el("div", { class: "plot", role: "img", "aria-label": spec.title }),
      value: el("span", { class: "value" }),
      note: el("span", { class: "sub" }),
      chart: null,
    }));
    this.node.append(
      this.marks.node,
      ...this.panels.map(({ spec, plot, value, note }) => {
        const panel = el("div", { class: "panel" }, el("div", { class: "head" }, el("h2", {}, spec.title), value, note), plot);
        // Two lines' values stand in a row under the cursor.
        panel.style.setProperty("--rows", String(Math.ceil(spec.lines.length / 2)));
        return panel;
      }),
      this.chosen,
      this.time,
    );
    // The cursor's home is the mouse; leaving takes it away from all panels at once.
    this.node.addEventListener("pointerleave", () => this.setCursor(null));
  }

  /** Calls when the room for the plots has changed. Returns the function that ends it. */
  onResize(changed: () => void): () => void {
    const ends = this.panels.map(({ plot }, i) => onResize(plot, () => (i === 0 || plot === this.panels.at(-1)?.plot) && changed()));
    return () => ends.forEach((end) => end());
  }

  /** Client pixels of the common plot area. */
  plot(): { left: number; width: number } {
    // Reckoned, not measured: uPlot lays itself out a moment after it is made.
    const room = this.panels[0]?.plot.getBoundingClientRect();
    const unit = rem();
    if (!room) return { left: 0, width: 1 };
    return { left: room.left + axisWidth(unit), width: Math.max(1, room.width - axisWidth(unit) - endWidth(unit)) };
  }

  /** Builds the charts anew: at first, when the size or the light changes. */
  build(): void {
    const unit = rem();
    const light = colours();
    const last = this.panels.at(-1);
    for (const panel of this.panels) {
      panel.chart?.destroy();
      const foot = panel === last;
      const { width, height } = panel.plot.getBoundingClientRect();
      panel.chart = chart(
        panel.spec,
        {
          colours: light,
          rem: unit,
          zone: this.zone,
          reserve: this.bank.reserve,
          foot,
          width: Math.max(width, axisWidth(unit) * 2),
          height: Math.max(height, footHeight(unit) + 2 * unit),
          spanMs: () => this.shown.to - this.shown.from,
          onCursor: (index) => panel === this.panels[0] && this.setCursor(index),
        },
        panel.plot,
      );
    }
    if (this.recorded) this.setData(this.recorded);
    else this.setSpan(this.shown);
  }

  setData(history: History): void {
    const shown = inReadersUnits(history);
    this.recorded = history;
    this.data = shown;
    for (const { chart: each, spec } of this.panels) {
      each?.setData(table(shown, spec) as uPlot.AlignedData, false);
    }
    this.sayReconciled(history);
    this.setSpan(this.shown);
  }

  setSpan(shown: Part): void {
    this.shown = shown;
    for (const { chart: each } of this.panels) {
      each?.setScale("x", { min: shown.from, max: shown.to });
    }
    this.drawMarks();
    this.drawPart();
    this.readings();
  }

  setPart(part: Part | null): void {
    this.part = part;
    this.drawPart();
    this.readings();
  }

  destroy(): void {
    for (const panel of this.panels) panel.chart?.destroy();
    const group = uPlot.sync(SYNC);
    for (const panel of this.panels) if (panel.chart) group.unsub(panel.chart);
  }

  /** Which part of the charge line is reconciled; nothing where none is. */
  private sayReconciled({ reconciled_until_ms: until }: History): void {
    const note = this.panels.find(({ spec }) => spec.key === "soc")?.note;
    if (note) setText(note, until === null ? "" : words.history.reconciled(dayAndClock(until, this.zone, this.shown.to)));
  }

  private offset(ms: number): number {
    return ((ms - this.shown.from) / (this.shown.to - this.shown.from)) * this.plot().width;
  }

  private inset(): number {
    return this.plot().left - this.node.getBoundingClientRect().left;
  }

  private drawMarks(): void {
    if (this.data) this.marks.show(this.data.marks, (ms) => this.offset(ms), this.inset(), this.plot().width, this.shown.to);
  }

  private drawPart(): void {
    const part = this.part;
    this.chosen.hidden = part === null;
    if (!part) return;
    const clamp = (x: number): number => Math.min(Math.max(x, 0), this.plot().width);
    const a = clamp(this.offset(part.from));
    const b = clamp(this.offset(part.to));
    this.chosen.style.left = `${this.inset() + a}px`;
    this.chosen.style.width = `${Math.max(b - a, 1)}px`;
  }

  private setCursor(index: number | null): void {
    const time = index === null ? undefined : this.data?.time_ms[index];
    this.cursor = time === undefined ? null : index;
    this.time.hidden = time === undefined;
    if (time !== undefined) {
      const fine = this.data!.step_ms < 60_000;
      const text = fine
        ? `${day(time, this.zone, this.shown.to)} ${clockSeconds(time, this.zone)}`
        : dayAndClock(time, this.zone, this.shown.to);
      setText(this.time, text);
      const w = this.time.offsetWidth;
      const x = this.inset() + this.offset(time) - w / 2;
      this.time.style.left = `${Math.min(Math.max(x, 0), this.node.clientWidth - w)}px`;
    }
    this.readings();
  }

  /** Beside each panel: the values under the cursor, or the extremes of the part chosen or shown. */
  private readings(): void {
    const span = this.part ?? this.shown;
    for (const { spec, value, plot } of this.panels) {
      const range = this.data && extremes(this.data, spec, span.from, span.to);
      const ends = range && extent(range.low, range.high, spec.unit);
      const text = ends ? words.history.ranges(ends.low, joined(ends.high)) : "";
      const label = range
        ? words.history.saysPanel(spec.title, joined(channel(range.low, spec.unit)), joined(channel(range.high, spec.unit)))
        : `${spec.title}. ${words.history.none}`;
      if (plot.getAttribute("aria-label") !== label) plot.setAttribute("aria-label", label);
      setText(value, this.cursor === null ? text : this.underCursor(spec, this.cursor));
    }
  }

  private gapWords(index: number): string {
    const at = this.data!.time_ms[index]!;
    const bin = { from: at, to: at + this.data!.step_ms - 1 };
    return unreadIn(this.data!.unreadable, bin) ? words.history.unreadGap : words.picture.gap;
  }

  private underCursor(spec: PanelSpec, index: number): string {
    const said = spec.lines.flatMap(({ channel: name, label }) => {
      const value = this.data?.channels[name]?.mean[index];
      if (value === null || value === undefined) return [];
      const text = spec.lines.length > 1 ? channel(value, spec.unit).value : joined(channel(value, spec.unit));
      return [label ? `${label}\u00a0${text}` : text];
    });
    const column = spec.key === "soc" ? this.data?.channels["soc"] : undefined;
    const [low, high] = [column?.low?.[index], column?.high?.[index]];
    if (said.length && typeof low === "number" && typeof high === "number") {
      said.push(`(${channel(low, "1").value}\u2013${channel(high, "1").value})`);
    }
    const then = spec.beside ? this.data?.channels[spec.beside]?.mean[index] : undefined;
    if (said.length && typeof then === "number") said.push(words.history.thenValue(joined(percent(then))));
    return said.join("  ") || this.gapWords(index);
  }
}
