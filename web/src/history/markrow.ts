/** The row of marks above the charts, and the note that one of them opens. */
import type { Mark } from "../api";
import { el, inner, setAttribute, setText } from "../dom";
import { number } from "../format";
import type { Reader } from "../passages/said";
import type { Passage } from "../record";
import { spoken } from "../spoken";
import { words } from "../words";
import { bars, clusters, labelOf, LEAST_PX, toldOfMark, toldOfPassage, type Told } from "./marks";
import type { Part } from "./stack";

/** A note lists no more than these. */
const MOST_TOLD = 40;
/** A narrower bracket carries no name. */
const NAMED_PX = 56;

/** Where the row lies, and what it shows. */
export interface Row {
  marks: Mark[];
  passages: Passage[];
  x: (ms: number) => number;
  left: number;
  width: number;
  reader: Reader;
}

/** What a note offers; nothing where the page cannot do it. */
export interface Ways {
  show: (span: Part) => void;
  passage: (id: number) => { href: string; go: () => void };
}

/** A button of the row. */
interface Item {
  key: string;
  kind: string;
  x: number;
  /** Null for a mark, which has its own. */
  width: number | null;
  told: Told[];
  label: string;
}

export class MarkRow {
  readonly node = el("div", { class: "marks", role: "group", "aria-label": words.charts.mark.row });
  private readonly lane = el("div", { class: "lane" });
  private readonly row = el("div", { class: "row" });
  private readonly note = el("div", { class: "mark-note", id: "mark-note", role: "group", tabindex: "-1", hidden: true });
  private readonly buttons = new Map<string, HTMLButtonElement>();
  private items = new Map<string, Item>();
  /** The item whose note is open, and whether it stays when the pointer leaves. */
  private open: { item: Item; stays: boolean } | null = null;
  private last: Row | null = null;

  constructor(private readonly ways: Ways | null) {
    if (ways) this.node.append(this.lane);
    this.node.append(this.row, this.note);
    this.node.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !this.close()) return;
      event.stopPropagation();
    });
  }

  show(row: Row): void {
    this.last = row;
    const lane = bars(row.passages, row.x, row.width, row.reader).map((bar): Item => {
      const told = bar.passages.map((passage) => toldOfPassage(passage, row.reader));
      const width = Math.max(LEAST_PX, bar.to - bar.from);
      return { key: `passage ${bar.passages[0]!.id}`, kind: "passage", x: bar.from, width, told, label: labelOf(told, words.charts.mark.passages) };
    });
    const marks = clusters(row.marks, row.x, row.width).map((cluster): Item => {
      const [first] = cluster.marks;
      const told = cluster.marks.map((mark) => toldOfMark(mark, row.reader));
      const kind = cluster.marks.some((mark) => mark.kind === "fix") ? "fix" : "event";
      return { key: `${first!.kind} ${first!.time_ms} ${first!.title}`, kind, x: cluster.x, width: null, told, label: labelOf(told, words.charts.mark.marks) };
    });
    const items = [...lane, ...marks];
    this.items = new Map(items.map((item) => [item.key, item]));
    for (const [key, button] of this.buttons) {
      if (this.items.has(key)) continue;
      button.remove();
      this.buttons.delete(key);
    }
    const focused = document.activeElement as HTMLElement | null;
    lane.forEach((item, i) => this.place(item, row, this.lane, i));
    marks.forEach((item, i) => this.place(item, row, this.row, i));
    // A node that is moved loses the focus.
    if (focused && this.node.contains(focused) && document.activeElement !== focused) focused.focus();
    this.follow();
  }

  /** Closes the note. True if one was open that the reader had opened. */
  close(): boolean {
    const was = this.open;
    if (!was) return false;
    const button = this.buttons.get(was.item.key);
    button?.setAttribute("aria-expanded", "false");
    // Before it is hidden: what is hidden has lost the focus already.
    if (this.note.contains(document.activeElement)) (button ?? this.node.closest<HTMLElement>("[tabindex]"))?.focus();
    this.open = null;
    this.note.hidden = true;
    return was.stays;
  }

  /** A button that was there already stays the same node, so that it keeps the focus. */
  private place(item: Item, { left }: Row, among: HTMLElement, order: number): void {
    let button = this.buttons.get(item.key);
    if (!button) {
      button = this.made(item.key);
      this.buttons.set(item.key, button);
    }
    // In the order of time, for whoever goes through them by keyboard.
    if (among.children[order] !== button) among.insertBefore(button, among.children[order] ?? null);
    setAttribute(button, "class", `mark ${item.kind}`);
    setAttribute(button, "aria-label", item.label);
    button.style.left = `${left + item.x}px`;
    if (item.width === null) return;
    button.style.width = `${item.width}px`;
    const name = item.told.length === 1 ? item.told[0]!.title : words.charts.mark.passages(number(item.told.length, 0));
    setText(button, item.width < NAMED_PX ? "" : name);
  }

  private made(key: string): HTMLButtonElement {
    const button = el("button", { type: "button", "aria-expanded": "false", "aria-controls": "mark-note" });
    button.addEventListener("click", (event) => {
      if (this.open?.item.key === key && this.open.stays) this.close();
      else this.tell(key, true, event.detail === 0);
    });
    // A mouse sees what there is before it opens it; a finger has only the tap.
    button.addEventListener("pointerenter", (event) => event.pointerType === "mouse" && !this.open?.stays && this.tell(key, false, false));
    button.addEventListener("pointerleave", () => this.open?.stays || this.close());
    return button;
  }

  private tell(key: string, stays: boolean, byKey: boolean): void {
    const item = this.items.get(key);
    if (!item) return;
    this.close();
    this.open = { item, stays };
    this.buttons.get(key)?.setAttribute("aria-expanded", String(stays));
    this.note.hidden = false;
    this.note.classList.toggle("stays", stays);
    this.note.setAttribute("aria-label", item.label);
    const more = item.told.length - MOST_TOLD;
    this.note.replaceChildren(
      ...item.told.slice(0, MOST_TOLD).map((told) => this.entry(told, stays)),
      ...(more > 0 ? [el("p", { class: "sub" }, words.charts.mark.more(number(more, 0)))] : []),
      ...(stays ? [el("button", { type: "button", class: "order", onclick: () => this.close() }, words.charts.mark.close)] : []),
    );
    this.follow();
    if (byKey) this.note.focus();
  }

  private entry({ title, when, text, daemon, span, passage }: Told, stays: boolean): HTMLElement {
    const { ways } = this;
    const link = ways && passage !== null ? ways.passage(passage) : null;
    const actions = stays && ways
      ? el(
          "p",
          { class: "ways" },
          link && inner({ href: link.href, class: "onward" }, link.go, words.charts.mark.open),
          el("button", { type: "button", class: "order", onclick: () => ways.show(span) }, words.charts.mark.here),
        )
      : null;
    return el("div", { class: "entry" }, el("p", {}, el("b", {}, title), " ", el("span", { class: "sub" }, when)), text && el("p", { class: "text" }, ...(daemon ? spoken(text) : [text])), actions);
  }

  /** Keeps the note under what it is of; one whose mark has left the charts is closed. */
  private follow(): void {
    if (!this.open || !this.last) return;
    const { left, width, x } = this.last;
    const { item } = this.open;
    const now = this.items.get(item.key);
    const middle = now ? now.x + (now.width ?? 0) / 2 : x((item.told[0]!.span.from + item.told[0]!.span.to) / 2);
    if (!now && (middle < 0 || middle > width)) {
      this.close();
      return;
    }
    const w = this.note.offsetWidth;
    this.note.style.left = `${Math.min(Math.max(left + middle - w / 2, 0), Math.max(0, this.node.clientWidth - w))}px`;
  }
}
