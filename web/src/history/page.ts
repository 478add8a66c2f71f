/** The History page. */
import { api, type History, type Sums } from "../api";
import { el, setText } from "../dom";
import { charge, clock, clockSeconds, current, day, dayAndClock, energy, joined } from "../format";
import { present } from "../live";
import type { Context } from "../main";
import { onPalette } from "../palette";
import { length } from "../range";
import { reason } from "../now/terms";
import { words } from "../words";
import { civil } from "../zone";
import { ByDay } from "./days";
import { listen } from "./gestures";
import { Latest } from "./load";
import { followed, fromQuery, moved, named, NAMED, toQuery, zoomed, type Limits, type Span } from "./span";
import { Stack, type Part } from "./stack";
import { unreadIn } from "./unread";

/** Asked for beyond either side of the span, as a share of it, so that a drag doesn't run into white. */
const MARGIN = 0.25;
const POINTS = 1500;
const ADDRESS_PAUSE_MS = 300;

export function mountHistory(main: HTMLElement, { boat, bank, live, query, go }: Context): () => void {
  return new HistoryPage(main, { boat, bank, live, query, go }).leave;
}

class HistoryPage {
  private readonly stack: Stack;
  private readonly buttons = new Map<string, HTMLButtonElement>();
  private readonly title = el("p", { class: "span-title" });
  private readonly sums = el("p", { class: "sums", role: "status" });
  private readonly unread = el("p", { class: "unread", role: "status", hidden: true });
  private readonly measure = el("button", { type: "button", class: "tool", "aria-pressed": "false" }, words.history.measure);
  private readonly clearing = el("button", { type: "button", class: "tool", hidden: true }, words.history.clear);
  private readonly then = el("button", { type: "button", class: "tool" }, words.history.then);
  private readonly days: ByDay;
  private readonly histories: Latest<History>;
  private readonly sumses: Latest<Sums>;
  private readonly ends: (() => void)[];
  private span: Span;
  private part: Part | null = null;
  /** Whether the line as reckoned at the time is shown beside the reconciled one. */
  private both: boolean;
  /** While measuring: the first tap, once made. */
  private measuring: { first: number | null } | null = null;
  private loadedTo = 0;
  private addressTimer: ReturnType<typeof setTimeout> | undefined;

  constructor(
    main: HTMLElement,
    private readonly context: Context,
  ) {
    this.stack = new Stack(context.bank, context.boat.zone);
    this.days = new ByDay(context.bank.name, context.boat.zone, () => this.limits().present);
    this.span = fromQuery(context.query, this.limits());
    this.both = context.query.get("line") === "both";
    this.histories = new Latest(
      (history) => this.take(history),
      (why) => setText(this.sums, words.history.failed(reason(why))),
    );
    this.sumses = new Latest(
      (sums) => this.tell(sums),
      () => setText(this.sums, ""),
      250,
    );
    const hint = el("p", { class: "hint" }, words.history.measureHint);
    const told = el("div", { class: "told" }, this.sums, hint);
    main.append(el("div", { class: "view" }, this.tools(), told, this.unread, this.stack.node), this.days.node);
    this.stack.build();
    this.ends = [
      listen(this.stack.node, {
        plot: () => this.stack.plot(),
        pan: (share) => this.show(moved(this.span, share, this.limits())),
        zoom: (factor, about) => this.show(zoomed(this.span, factor, this.moment(about), this.limits())),
        select: (a, b) => this.choose({ from: this.moment(Math.min(a, b)), to: this.moment(Math.max(a, b)) }),
        tap: (at) => this.tap(at),
        clear: () => this.choose(null),
      }),
      this.stack.onResize(() => this.rebuild()),
      onPalette(() => this.rebuild()),
      context.live.onChange(() => this.follow()),
      () => this.histories.end(),
      () => this.sumses.end(),
      () => this.days.end(),
      () => clearTimeout(this.addressTimer),
      () => this.stack.destroy(),
    ];
    void document.fonts.ready.then(() => this.rebuild());
    this.show(this.span);
  }

  readonly leave = (): void => this.ends.forEach((end) => end());

  private tools(): HTMLElement {
    const { history } = words;
    const spans = Object.keys(NAMED).map((name) => {
      const button = el(
        "button",
        { type: "button", class: "tool", onclick: () => this.show(named(name, this.limits())) },
        history.span[name]!,
      );
      this.buttons.set(name, button);
      return button;
    });
    const step = (share: number, label: string, sign: string): HTMLElement =>
      el(
        "button",
        { type: "button", class: "tool arrow", "aria-label": label, onclick: () => this.show(moved(this.span, share, this.limits())) },
        sign,
      );
    this.measure.addEventListener("click", () => this.setMeasuring(this.measuring === null));
    this.clearing.addEventListener("click", () => this.choose(null));
    this.then.setAttribute("aria-pressed", String(this.both));
    this.then.addEventListener("click", () => this.setBoth(!this.both));
    return el(
      "div",
      { class: "tools" },
      el("div", { class: "spans", role: "group", "aria-label": history.spans }, ...spans),
      el("div", { class: "steps" }, step(-0.5, history.earlier, "\u2039"), step(0.5, history.later, "\u203a")),
      this.title,
      el("div", { class: "measure" }, this.clearing, this.then, this.measure),
    );
  }

  private limits(): Limits {
    const { bank, live } = this.context;
    const now = present(live.heard.get(bank.name));
    return { first: bank.first_time ? Date.parse(bank.first_time) : now - NAMED["1d"]!, present: now };
  }

  private moment(share: number): number {
    return this.span.from + share * (this.span.to - this.span.from);
  }

  private show(span: Span): void {
    this.span = span;
    this.stack.setSpan(span);
    for (const [name, button] of this.buttons) button.setAttribute("aria-pressed", String(name === span.name));
    setText(this.title, this.spanText(span, true));
    this.load();
    clearTimeout(this.addressTimer);
    this.addressTimer = setTimeout(() => this.address(), ADDRESS_PAUSE_MS);
  }

  private address(): void {
    this.context.go("history", { bank: this.context.bank.name, ...toQuery(this.span), line: this.both ? "both" : null }, true);
  }

  private load(): void {
    const { from, to } = this.span;
    const margin = MARGIN * (to - from);
    const ask = { from_ms: from - margin, to_ms: to + margin, points: POINTS, ...(this.both && { line: "both" as const }) };
    this.histories.ask((signal) => api.history(this.context.bank.name, ask, signal));
    this.askSums();
    this.days.show(this.span);
  }

  private askSums(): void {
    const { from, to } = this.part ?? this.span;
    this.sumses.ask((signal) => api.sums(this.context.bank.name, from, to, signal));
  }

  private take(history: History): void {
    this.loadedTo = this.limits().present;
    this.stack.setData(history);
    this.tellUnread(history);
  }

  /** What the charts lack although it was recorded. */
  private tellUnread({ unreadable }: History): void {
    const gap = unreadIn(unreadable, this.span);
    this.unread.hidden = gap === null;
    if (!gap) return;
    const { zone } = this.context.boat;
    const at = (ms: number): string => dayAndClock(ms, zone, this.limits().present);
    setText(this.unread, words.history.unread(words.history.unreadSpan(at(gap.from), at(gap.to)), gap.pieces));
  }

  /** A named span walks on with time; asked anew when a bin, or five seconds, have passed. */
  private follow(): void {
    if (this.span.name === null) return;
    const next = followed(this.span, this.limits());
    const bin = (next.to - next.from) / (POINTS / (1 + 2 * MARGIN));
    if (next.to - this.loadedTo < Math.max(5000, bin)) return;
    this.loadedTo = next.to;
    this.span = next;
    this.stack.setSpan(next);
    setText(this.title, this.spanText(next, true));
    this.load();
  }

  private setBoth(both: boolean): void {
    this.both = both;
    this.then.setAttribute("aria-pressed", String(both));
    this.address();
    this.load();
  }

  private rebuild(): void {
    this.stack.build();
  }

  private setMeasuring(on: boolean): void {
    this.measuring = on ? { first: null } : null;
    this.measure.setAttribute("aria-pressed", String(on));
    this.stack.node.classList.toggle("measuring", on);
    if (on) setText(this.sums, words.history.measureOn);
    else this.askSums();
  }

  private tap(at: number): void {
    if (!this.measuring) return;
    const { first } = this.measuring;
    const here = this.moment(at);
    if (first === null) {
      this.measuring.first = here;
      this.stack.setPart({ from: here, to: here });
      return;
    }
    this.setMeasuring(false);
    this.choose({ from: Math.min(first, here), to: Math.max(first, here) });
  }

  private choose(part: Part | null): void {
    this.part = part && part.to > part.from ? part : null;
    this.stack.setPart(this.part);
    this.clearing.hidden = this.part === null;
    if (part === null && this.measuring) this.setMeasuring(false);
    this.askSums();
  }

  private tell(sums: Sums): void {
    if (this.measuring) return;
    const { history } = words;
    const span = this.part ?? this.span;
    const hours = sums.covered_s / 3600;
    const name = this.part ? `${history.chosen} ${this.spanText(span, false)}, ${length(span.to - span.from)}` : `${history.shown}, ${length(span.to - span.from)}`;
    const pieces: string[][] =
      hours > 0
        ? [
            [history.in, joined(charge(sums.charge_in_ah)), joined(energy(sums.energy_in_wh))],
            [history.out, joined(charge(sums.charge_out_ah)), joined(energy(sums.energy_out_wh))],
            [history.mean, joined(current((sums.charge_in_ah - sums.charge_out_ah) / hours, true))],
          ]
        : [];
    this.sums.replaceChildren(
      el("span", { class: this.part ? "name part" : "name" }, name),
      ...(pieces.length ? pieces.map(([label, ...values]) => el("span", { class: "sum" }, `${label} `, ...values.map((value) => el("b", {}, value)))) : [el("span", { class: "sum" }, history.none)]),
    );
  }

  private spanText(span: Part, withZone: boolean): string {
    const { zone } = this.context.boat;
    const sameDay = civil(span.from, zone).dayNumber === civil(span.to, zone).dayNumber;
    const long = span.to - span.from > 14 * 86_400_000;
    const fine = span.to - span.from < 10 * 60_000;
    const at = (ms: number): string => (long ? day(ms, zone, this.limits().present) : dayAndClock(ms, zone, this.limits().present));
    const end = fine ? clockSeconds(span.to, zone) : clock(span.to, zone);
    const start = fine ? `${day(span.from, zone, span.to)} ${clockSeconds(span.from, zone)}` : at(span.from);
    const text = words.history.fromTo(start, sameDay ? end : at(span.to));
    return withZone ? `${text}, ${zone}` : text;
  }
}
