/** The panels under one cursor. Knows pixels and data; what span to show it is told. */
import uPlot from "uplot";
import type { Bank, History } from "../api";
import { el, rem, setText } from "../dom";
import { clockSeconds, day, dayAndClock } from "../format";
import { colours } from "../palette";
import type { Passage } from "../record";
import { words } from "../words";
import { axisWidth, chart, endWidth, footHeight, SYNC } from "./chart";
import { inReadersUnits, table } from "./columns";
import { MarkRow, type Ways } from "./markrow";
import { panelsOf, type PanelSpec } from "./panels";
import { rangeText, saysPanel, underCursor } from "./readings";

interface Panel {
  spec: PanelSpec;
  node: HTMLElement;
  plot: HTMLElement;
  value: HTMLElement;
  note: HTMLElement;
  chart: uPlot | null;
}

export interface Part {
  from: number;
  to: number;
}

/** Long names of lines get this much room at most, in rem; less where the screen is narrow. */
const WIDE_END = 7;
const NARROW_END = 3;
const NARROW = 40;

export class Stack {
  readonly node = el("div", { class: "stack", tabindex: "0", role: "group" });
  private readonly marks: MarkRow;
  private readonly time = el("output", { class: "cursor-time", hidden: true });
  private readonly chosen = el("div", { class: "chosen", hidden: true });
  private panels: Panel[] = [];
  private resized: (() => void) | null = null;
  private readonly observer = new ResizeObserver(() => this.resized?.());
  /** As it came, and in the reader's units. */
  private recorded: History | null = null;
  private data: History | null = null;
  private passages: Passage[] = [];
  private present = 0;
  private shown: Part = { from: 0, to: 1 };
  private part: Part | null = null;
  private cursor: number | null = null;
  /** Where the cursor was put by keyboard: a gap has no bin to stand on. */
  private aimed: number | null = null;

  constructor(
    private readonly bank: Bank,
    private readonly zone: string,
    specs = panelsOf(bank),
    ways: Ways | null = null,
  ) {
    this.marks = new MarkRow(ways);
    this.node.append(this.marks.node, this.chosen, this.time);
    this.setSpecs(specs);
    // The cursor's home is the mouse; leaving takes it away from all panels at once.
    this.node.addEventListener("pointerleave", () => this.setCursor(null));
    this.node.addEventListener("pointermove", () => (this.aimed = null));
  }

  /** Which panels are shown, in this order. They are built by the next `build`. */
  setSpecs(specs: PanelSpec[]): void {
    this.drop();
    this.panels = specs.map((spec, i) => {
      const plot = el("div", { class: "plot", role: "img", "aria-label": spec.title });
      const value = el("span", { class: "value" });
      const note = el("span", { class: "sub" });
      // Under the cursor, numbers of two lines stand in a row, those with names each in its own.
      const named = spec.lines.some((line) => line.label.length > 2);
      const kinds = ["panel", spec.key === "soc" && "charge", named && "named", i === specs.length - 1 && "foot"];
      const node = el("div", { class: kinds.filter(Boolean).join(" ") }, el("div", { class: "head" }, el("h2", {}, spec.title), value, note), plot);
      node.style.setProperty("--rows", String(named ? Math.min(spec.lines.length, 3) : Math.ceil(spec.lines.length / 2)));
      return { spec, node, plot, value, note, chart: null };
    });
    this.marks.node.after(...this.panels.map((panel) => panel.node));
    this.observe();
  }

  /** Calls when the room for the plots has changed. Returns the function that ends it. */
  onResize(changed: () => void): () => void {
    this.resized = changed;
    this.observe();
    return () => {
      this.resized = null;
      this.observer.disconnect();
    };
  }

  private observe(): void {
    this.observer.disconnect();
    for (const panel of new Set([this.panels[0], this.panels.at(-1)])) if (panel) this.observer.observe(panel.plot);
  }

  /** Room right of the plots, pixels. */
  private end(): number {
    const unit = rem();
    const longest = Math.max(...this.panels.flatMap(({ spec }) => spec.lines.map((line) => line.label.length)));
    const most = this.node.clientWidth < NARROW * unit ? NARROW_END : WIDE_END;
    return Math.round(Math.max(endWidth(unit), Math.min(most, 0.9 + 0.45 * longest) * unit));
  }

  /** Client pixels of the common plot area. */
  plot(): { left: number; width: number } {
    // Reckoned, not measured: uPlot lays itself out a moment after it is made.
    const room = this.panels[0]?.plot.getBoundingClientRect();
    const unit = rem();
    if (!room) return { left: 0, width: 1 };
    return { left: room.left + axisWidth(unit), width: Math.max(1, room.width - axisWidth(unit) - this.end()) };
  }

  /** Builds the charts anew: at first, when the size or the light changes. */
  build(): void {
    const unit = rem();
    const light = colours();
    const last = this.panels.at(-1);
    const end = this.end();
    for (const panel of this.panels) {
      panel.chart?.destroy();
      const foot = panel === last;
      const { width, height } = panel.plot.getBoundingClientRect();
      panel.chart = chart(
        panel.spec,
        {
          colours: light,
          rem: unit,
          end,
          zone: this.zone,
          reserve: this.bank.reserve,
          foot,
          width: Math.max(width, axisWidth(unit) * 2),
          height: Math.max(height, 2 * unit + (foot ? footHeight(unit) : 0)),
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

  /** The passages that may be in view; one that is under way reaches to the present. */
  setPassages(passages: Passage[], present: number): void {
    this.passages = passages;
    this.present = present;
    this.drawMarks();
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

  /** Puts the cursor of all panels at a moment. */
  pointAt(ms: number): void {
    this.aimed = ms;
    for (const { chart: each } of this.panels) each?.setCursor({ left: this.offset(ms), top: 1 });
  }

  /** The moment under the cursor; null where there is none. */
  pointed(): number | null {
    return this.aimed ?? (this.cursor === null ? null : (this.data?.time_ms[this.cursor] ?? null));
  }

  /** Closes the note of a mark. True if one was open. */
  closeNote(): boolean {
    return this.marks.close();
  }

  destroy(): void {
    this.observer.disconnect();
    this.drop();
  }

  private drop(): void {
    const group = uPlot.sync(SYNC);
    for (const { chart: each, node } of this.panels) {
      if (each) group.unsub(each);
      each?.destroy();
      node.remove();
    }
    this.panels = [];
    this.cursor = null;
    this.time.hidden = true;
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
    const { width } = this.plot();
    const { from, to } = this.shown;
    const x = (ms: number): number => ((ms - from) / (to - from)) * width;
    const reader = { present: this.present || to, zone: this.zone };
    this.marks.show({ marks: this.data?.marks ?? [], passages: this.passages, x, left: this.inset(), width, reader });
  }

  private drawPart(): void {
    const part = this.part;
    this.chosen.hidden = part === null;
    if (!part) return;
    const { width } = this.plot();
    const clamp = (x: number): number => Math.min(Math.max(x, 0), width);
    const a = clamp(this.offset(part.from));
    const b = clamp(this.offset(part.to));
    this.chosen.style.left = `${this.inset() + a}px`;
    this.chosen.style.width = `${Math.max(b - a, 1)}px`;
    this.chosen.style.top = `${this.marks.node.offsetHeight}px`;
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
      this.time.style.top = `${this.marks.node.offsetHeight - this.time.offsetHeight}px`;
    }
    this.readings();
  }

  /** Beside each panel: the values under the cursor, or the extremes of the part chosen or shown. */
  private readings(): void {
    const { data, cursor } = this;
    const span = this.part ?? this.shown;
    for (const { spec, value, plot } of this.panels) {
      const label = saysPanel(data, spec, span);
      if (plot.getAttribute("aria-label") !== label) plot.setAttribute("aria-label", label);
      setText(value, data && cursor !== null ? underCursor(data, spec, cursor) : rangeText(data, spec, span));
    }
  }
}
