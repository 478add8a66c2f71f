/** Two lines of charge over each other, both from their start: the one's own and what stands beside it. */
import { el, setText } from "../dom";
import { joined, number, percent } from "../format";
import { length as spanText } from "../range";
import { words } from "../words";
import { shape, water } from "./drawn";
import type { Drawn } from "./lines";
import { paths, spotAt, type Line } from "./trace";

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
/** Steps of the time since the start, and how many of them at most. */
const STEPS = [5 * MINUTE, 15 * MINUTE, 30 * MINUTE, HOUR, 2 * HOUR, 3 * HOUR, 6 * HOUR, 12 * HOUR, DAY, 2 * DAY, 7 * DAY, 14 * DAY];
const MOST = 5;

export type Kind = "other" | "typical";

export class Sides {
  readonly node = el("figure", { class: "sides", hidden: true });
  private readonly reading = el("output", { class: "reading" });
  private shown: { own: Line; beside: Line; length: number; kind: Kind } | null = null;
  private cursor: SVGElement | null = null;

  constructor(private readonly reserve: number) {}

  show(own: Drawn, beside: Drawn, kind: Kind): void {
    const length = Math.max(own.length, beside.length);
    this.shown = { own: own.line, beside: beside.line, length, kind };
    const w = words.compare;
    const plot = water("sides-plot", this.reserve);
    const [mine, theirs] = [paths(own.line, length), paths(beside.line, length)];
    const step = STEPS.find((each) => length / each <= MOST) ?? STEPS.at(-1)!;
    const ticks = Array.from({ length: Math.floor(length / step) + 1 }, (_, i) => i * step);
    const across = (ms: number): string => String((100 * ms) / length);
    this.cursor = shape("path", { class: "cursor", d: "" });
    plot.append(
      ...[25, 50, 75].map((y) => shape("path", { class: "grid", d: `M0 ${y}H100` })),
      ...ticks.slice(1).map((ms) => shape("path", { class: "grid", d: `M${across(ms)} 0V100` })),
      kind === "typical" ? shape("path", { class: "middle", d: theirs.band }) : shape("path", { class: "band", d: mine.band }),
      shape("path", { class: "beside", d: theirs.trace }),
      shape("path", { class: "line", d: mine.trace }),
      this.cursor,
    );
    const place = (text: string, side: "left" | "top", share: number): HTMLElement => {
      const node = el("span", {}, text);
      node.style[side] = `${share}%`;
      return node;
    };
    const box = el(
      "div",
      { class: "sides-box", role: "img", "aria-label": w.chartSays(said(own.line), said(beside.line)) },
      el("div", { class: "up", "aria-hidden": "true" }, ...[100, 50, 0].map((soc) => place(number(soc, 0), "top", 100 - soc))),
      el("div", { class: "plot-box" }, plot),
      el("div", { class: "along", "aria-hidden": "true" }, ...ticks.map((ms) => place(ms === 0 ? "0" : spanText(ms), "left", Number(across(ms))))),
    );
    box.addEventListener("pointermove", (event) => this.read(event.clientX, plot));
    box.addEventListener("pointerdown", (event) => this.read(event.clientX, plot));
    box.addEventListener("pointerleave", () => this.clear());
    const name = (mark: string, text: string): HTMLElement => el("span", {}, el("i", { class: mark, "aria-hidden": "true" }), text);
    this.node.hidden = false;
    this.node.replaceChildren(
      el("figcaption", {}, el("h3", {}, w.chart), this.reading),
      box,
      el("p", { class: "key" }, name("line", w.key.own), name(kind === "typical" ? "beside middle" : "beside", w.key[kind])),
    );
    this.clear();
  }

  hide(): void {
    this.shown = null;
    this.node.hidden = true;
  }

  private read(clientX: number, plot: SVGElement): void {
    if (!this.shown) return;
    const w = words.compare;
    const { own, beside, length, kind } = this.shown;
    const { left, width } = plot.getBoundingClientRect();
    const share = Math.min(Math.max((clientX - left) / width, 0), 1);
    const ms = share * length;
    const [a, b] = [spotAt(own, ms), spotAt(beside, ms)];
    const soc = (value: number): string => joined(percent(value));
    const parts = [a && w.underOwn(soc(a.soc)), b && (kind === "typical" ? w.underTypical : w.underOther)(soc(b.soc))].filter(Boolean);
    this.cursor?.setAttribute("d", `M${100 * share} 0V100`);
    setText(this.reading, parts.length ? w.under(spanText(Math.round(ms / MINUTE) * MINUTE), parts.join(", ")) : "");
  }

  private clear(): void {
    this.cursor?.setAttribute("d", "");
    setText(this.reading, "");
  }
}

/** From where to where a line goes, in words. */
function said(line: Line): string {
  const [first, last] = [line[0]?.[0], line.at(-1)?.at(-1)];
  return first && last ? words.compare.traceSays(joined(percent(first.soc)), joined(percent(last.soc))) : words.passages.notKnown;
}
