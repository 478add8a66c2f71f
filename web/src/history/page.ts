/** The History page: what span is shown, what is chosen of it, and who is told of either. */
import { api, type History, type Sums } from "../api";
import { el, setText } from "../dom";
import { dayAndClock } from "../format";
import { present } from "../live";
import type { Context } from "../main";
import { reason } from "../now/terms";
import { onPalette } from "../palette";
import { address } from "../route";
import { words } from "../words";
import { ByDay } from "./days";
import { listen } from "./gestures";
import { Latest, Steady } from "./load";
import { Measure } from "./measure";
import { channelsOf, panelsOf } from "./panels";
import { PartSection } from "./part";
import { Passing } from "./passing";
import { atEdge, followed, fromQuery, kept, MARGIN, moved, named, NAMED, serves, toQuery, withMargins, zoomed, type Limits, type Loaded, type Span } from "./span";
import { Stack, type Part } from "./stack";
import { spanText, SumLine } from "./sums";
import { keysHint, Toggles } from "./toggles";
import { Tools } from "./tools";
import { unreadIn } from "./unread";

const POINTS = 2000;
const ADDRESS_PAUSE_MS = 300;

export function mountHistory(main: HTMLElement, { boat, bank, live, query, go }: Context): () => void {
  return new HistoryPage(main, { boat, bank, live, query, go }).leave;
}

class HistoryPage {
  private readonly stack: Stack;
  private readonly tools: Tools;
  private readonly sums: SumLine;
  private readonly unread = el("p", { class: "unread", role: "status", hidden: true });
  private readonly toggles: Toggles;
  private readonly section: PartSection;
  private readonly days: ByDay;
  private readonly passing: Passing;
  private readonly histories: Steady<History>;
  private readonly sumses: Latest<Sums>;
  private readonly ends: (() => void)[];
  private readonly measure = new Measure();
  private span: Span;
  private part: Part | null = null;
  /** Whether the line as reckoned at the time is shown beside the reconciled one. */
  private both: boolean;
  private loaded: Loaded | null = null;
  private loadedAt = 0;
  private addressTimer: ReturnType<typeof setTimeout> | undefined;

  constructor(
    main: HTMLElement,
    private readonly context: Context,
  ) {
    const { bank, boat, live, query, go } = context;
    const specs = panelsOf(bank);
    this.toggles = new Toggles(specs, () => this.choosePanels());
    const passage = (id: number): { href: string; go: () => void } => {
      const to = { bank: bank.name, passage: String(id) };
      return { href: address("passages", to), go: () => go("passages", to) };
    };
    this.stack = new Stack(bank, boat.zone, this.toggles.shown, { show: (part) => this.showPart(part), passage });
    this.tools = new Tools({
      named: (name) => this.show(named(name, this.limits())),
      move: (share) => this.show(moved(this.span, share, this.limits())),
      clear: () => this.choose(null),
      both: () => this.setBoth(!this.both),
      measure: () => (this.measure.on ? this.stopMeasuring() : this.startMeasuring(words.history.measureOn)),
    });
    this.sums = new SumLine(() => this.seeSection());
    this.section = new PartSection(bank, specs, () => ({ present: this.limits().present, zone: boat.zone }), {
      zoom: () => this.part && this.showPart(this.part),
      clear: () => this.choose(null),
      noted: () => this.load(true),
      marked: (id) => passage(id).go(),
    });
    this.days = new ByDay(bank.name, boat.zone, () => this.limits().present);
    this.passing = new Passing(bank.name, (passages) => this.stack.setPassages(passages, this.limits().present));
    this.span = fromQuery(query, this.limits());
    this.both = query.get("line") === "both";
    this.histories = new Steady(
      (history) => this.take(history),
      (why) => this.failed(why),
      (slow) => this.tools.setSlow(slow),
    );
    this.sumses = new Latest((sums) => this.tell(sums), () => this.sums.say(""), 250);
    const view = el("div", { class: "view" }, this.tools.node, this.sums.node, this.unread, this.stack.node, this.toggles.node);
    main.append(view, keysHint(), this.section.node, this.days.node);
    this.stack.build();
    this.ends = [
      this.listen(),
      this.stack.onResize(() => this.stack.build()),
      onPalette(() => this.stack.build()),
      live.onChange(() => this.follow()),
      () => this.histories.end(),
      () => this.sumses.end(),
      () => this.section.end(),
      () => this.passing.end(),
      () => this.days.end(),
      () => clearTimeout(this.addressTimer),
      () => this.stack.destroy(),
    ];
    void document.fonts.ready.then(() => this.stack.build());
    this.tellState();
    this.show(this.span);
  }

  readonly leave = (): void => this.ends.forEach((end) => end());

  private listen(): () => void {
    return listen(this.stack.node, {
      plot: () => this.stack.plot(),
      pan: (share) => this.show(moved(this.span, share, this.limits())),
      zoom: (factor, about) => this.show(zoomed(this.span, factor, this.moment(about), this.limits())),
      select: (a, b) => this.choose({ from: this.moment(Math.min(a, b)), to: this.moment(Math.max(a, b)) }),
      tap: (at) => this.tap(at),
      clear: () => this.stack.closeNote() || this.choose(null),
      edge: (which) => this.show(atEdge(this.span, which, this.limits())),
      cursor: (share) => this.moveCursor(share),
      mark: () => this.markByKey(),
      marking: () => this.measure.drawing,
    });
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
    this.tellSpan();
    this.load(false);
    clearTimeout(this.addressTimer);
    this.addressTimer = setTimeout(() => this.address(), ADDRESS_PAUSE_MS);
  }

  private showPart(part: Part): void {
    this.show(kept({ ...part, name: null }, this.limits()));
  }

  private tellSpan(): void {
    const { zone } = this.context.boat;
    const text = spanText(this.span, zone, this.limits().present);
    this.tools.show(this.span.name, `${text}, ${zone}`);
    this.stack.node.setAttribute("aria-label", words.charts.says(text, zone));
  }

  private address(): void {
    this.context.go("history", { bank: this.context.bank.name, ...toQuery(this.span), line: this.both ? "both" : null }, true);
  }

  /** Asks for what is shown, where what is at hand does not serve; `anew` in any case. */
  private load(anew: boolean): void {
    if (anew || !this.loaded || !serves(this.loaded, this.span)) {
      const wanted = withMargins(this.span);
      this.loaded = wanted;
      this.loadedAt = this.limits().present;
      const ask = { from_ms: Math.max(0, wanted.from), to_ms: wanted.to, points: POINTS, channels: channelsOf(this.toggles.shown), ...(this.both && { line: "both" as const }) };
      this.histories.ask((signal) => api.history(this.context.bank.name, ask, signal));
    }
    this.askSums();
    this.days.show(this.span);
    this.passing.show(this.span, this.limits().present);
  }

  private askSums(): void {
    const { from, to } = this.part ?? this.span;
    this.sumses.ask((signal) => api.sums(this.context.bank.name, from, to, signal));
  }

  private take(history: History): void {
    this.stack.setData(history);
    this.tellUnread(history);
  }

  private failed(why: unknown): void {
    // The next move asks again.
    this.loaded = null;
    this.sums.say(words.history.failed(reason(why)));
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
    if (next.to - this.loadedAt < Math.max(5000, bin)) return;
    this.span = next;
    this.stack.setSpan(next);
    this.tellSpan();
    this.load(true);
  }

  private choosePanels(): void {
    this.stack.setSpecs(this.toggles.shown);
    this.stack.build();
    this.stack.setPart(this.part);
    this.load(true);
  }

  private setBoth(both: boolean): void {
    this.both = both;
    this.tellState();
    this.address();
    this.load(true);
  }

  private startMeasuring(hint: string): void {
    this.measure.begin();
    this.sums.say(hint);
    this.tellState();
  }

  private stopMeasuring(): void {
    this.measure.end();
    this.tellState();
    this.askSums();
  }

  private tap(at: number): boolean {
    if (!this.measure.on) return false;
    this.setEnd(this.moment(at));
    return true;
  }

  /** One end of a span that is measured. */
  private setEnd(at: number): void {
    const part = this.measure.set(at);
    if (part) this.choose(part);
    else this.stack.setPart(this.measure.until(at));
  }

  /** The cursor, or the middle of the charts where there is none. */
  private pointed(): number {
    return this.stack.pointed() ?? this.moment(0.5);
  }

  private moveCursor(share: number): void {
    const { from, to } = this.span;
    const at = Math.min(Math.max(this.pointed() + share * (to - from), from), to);
    this.stack.pointAt(at);
    if (this.measure.drawing) this.stack.setPart(this.measure.until(at));
  }

  private markByKey(): void {
    const at = this.pointed();
    if (!this.measure.on) this.startMeasuring(words.charts.keys.measuring);
    this.stack.pointAt(at);
    this.setEnd(at);
  }

  private choose(part: Part | null): void {
    this.part = part && part.to > part.from ? part : null;
    if (this.measure.on) this.measure.end();
    this.stack.setPart(this.part);
    this.section.show(this.part);
    this.tellState();
    this.askSums();
  }

  private tellState(): void {
    this.tools.setState({ chosen: this.part !== null, both: this.both, measuring: this.measure.on });
    this.sums.setChosen(this.part !== null);
    this.stack.node.classList.toggle("measuring", this.measure.on);
  }

  private seeSection(): void {
    this.section.node.scrollIntoView({ block: "start" });
    this.section.node.focus({ preventScroll: true });
  }

  private tell(sums: Sums): void {
    if (this.measure.on) return;
    const { zone } = this.context.boat;
    const name = this.part && spanText(this.part, zone, this.limits().present);
    this.sums.show(sums, this.part ?? this.span, name);
  }
}
