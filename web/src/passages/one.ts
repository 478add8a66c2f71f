/** One passage: what happened, its picture, its sums, its ledger, its extremes, and what may be changed. */
import { api, type History } from "../api";
import { el, inner, setText } from "../dom";
import { Latest } from "../history/load";
import { panelsOf } from "../history/panels";
import { toQuery } from "../history/span";
import { Stack } from "../history/stack";
import { present } from "../live";
import type { Context } from "../main";
import { reason } from "../now/terms";
import { onPalette } from "../palette";
import { record, reports, type OnePassage, type Passage } from "../record";
import { address } from "../route";
import { spoken } from "../spoken";
import { factList, table, value } from "../tables";
import { words } from "../words";
import { Beside } from "./beside";
import { ChangeSection, describeSection, type Then } from "./edit";
import { ledgerSection } from "./ledger";
import { extremes, facts, sentence, spanOf, spanText, titleOf, type Reader } from "./said";

/** Shown on either side of a passage, as a share of it. */
const MARGIN = 0.03;
const POINTS = 1500;
const DAY_MS = 86_400_000;
/** Passages to join with are looked for this far around. */
const AROUND_MS = 30 * DAY_MS;

export class OneView {
  readonly node = el("div", { class: "passage", hidden: true });
  private readonly head = el("div", { class: "passage-head" });
  private readonly say = el("p", { class: "say-passage" });
  private readonly notes = el("div", { class: "notes" });
  private readonly chartNote = el("p", { class: "sub", role: "status" });
  private readonly parts = el("div", { class: "parts" });
  private readonly beside: Beside;
  private readonly work = el("div", { class: "work" });
  private readonly stack: Stack;
  private readonly histories: Latest<History>;
  private readonly ends: (() => void)[];
  private readonly stop = new AbortController();
  private change: ChangeSection | null = null;
  private shown = { from: 0, to: 1 };

  constructor(
    private readonly context: Context,
    private readonly then: Then,
  ) {
    const { bank, boat } = context;
    this.stack = new Stack(bank, boat.zone, panelsOf(bank).filter(({ key }) => key === "soc" || key === "current_a"));
    this.histories = new Latest(
      (history) => this.take(history),
      (why) => setText(this.chartNote, words.passages.chartFailed(reason(why))),
    );
    this.beside = new Beside(context, () => this.reader());
    this.node.append(
      this.head,
      this.say,
      this.notes,
      el("section", { class: "view", "aria-label": words.passages.chart }, this.stack.node, this.chartNote),
      this.parts,
      this.beside.node,
      this.work,
    );
    this.stack.node.removeAttribute("tabindex");
    const rebuild = (): void => this.stack.build();
    this.stack.node.addEventListener("click", (event) => this.tap(event.clientX));
    this.ends = [
      this.stack.onResize(rebuild),
      onPalette(rebuild),
      () => this.histories.end(),
      () => this.stack.destroy(),
      () => this.beside.end(),
      () => this.stop.abort(),
    ];
  }

  /** Called once the node stands in the page; the charts are built when they get their room. */
  begin(): void {
    void document.fonts.ready.then(() => this.stop.signal.aborted || this.stack.build());
  }

  end(): void {
    this.ends.forEach((end) => end());
  }

  private reader(): Reader {
    const { bank, boat, live } = this.context;
    return { present: present(live.heard.get(bank.name)), zone: boat.zone };
  }

  show({ passage, ledger, notes }: OnePassage): void {
    const { bank } = this.context;
    const reader = this.reader();
    this.node.hidden = false;
    this.showHead(passage, reader);
    this.say.replaceChildren(...sentence(passage).map((piece) => el("span", { class: piece.tone }, piece.text)));
    this.notes.replaceChildren(...notes.map((note) => el("p", {}, ...spoken(note))));
    const w = words.passages;
    const { summary } = passage;
    const span = spanOf(passage, reader);
    const rows = (summary ? extremes(summary, span, reader) : []).map(({ name, least, most }) => ({ cells: [[name], value(...least), value(...most)] }));
    this.parts.replaceChildren(
      el("section", { class: "summary" }, el("h2", {}, w.summary.name), summary ? factList(facts(summary, bank, span, reader)) : el("p", { class: "sub" }, w.notSummed)),
      ledgerSection(ledger, passage.going_on),
      el(
        "section",
        { class: "extremes" },
        el("h2", {}, w.extremes.name),
        rows.length ? table([w.extremes.quantity, w.extremes.least, w.extremes.most], rows) : el("p", { class: "sub" }, w.extremes.unknown),
      ),
    );
    this.beside.show(passage);
    this.showChart(passage, reader);
    if (!this.change) this.offer(passage);
  }

  private showHead(passage: Passage, reader: Reader): void {
    const { bank, go } = this.context;
    const w = words.passages;
    const span = spanOf(passage, reader);
    const list = { bank: bank.name };
    const history = span && { bank: bank.name, ...toQuery({ ...span, name: null }) };
    this.head.replaceChildren(
      el("p", { class: "back" }, inner({ href: address("passages", list) }, () => go("passages", list), `\u2039 ${w.all}`)),
      el("h2", { class: "title" }, titleOf(passage, reader)),
      el(
        "p",
        { class: "about" },
        el("span", {}, `${spanText(passage, reader)}, ${reader.zone}; ${passage.origin === "hand" ? w.byHand : w.foundWord}`),
        el("a", { href: reports.passage(bank.name, passage.id), class: "onward" }, w.report),
        history && inner({ href: address("history", history), class: "onward" }, () => go("history", history), w.inHistory),
      ),
    );
  }

  private showChart(passage: Passage, reader: Reader): void {
    const span = spanOf(passage, reader);
    if (!span) return;
    const margin = Math.max(MARGIN * (span.to - span.from), 60_000);
    const [from, to] = [span.from - margin, Math.min(span.to + margin, Math.max(reader.present, span.to))];
    this.shown = { from, to };
    this.stack.setSpan(this.shown);
    this.stack.setPart(span);
    this.stack.node.classList.toggle("still", passage.going_on);
    this.stack.node.setAttribute("aria-label", words.passages.chartSays(spanText(passage, reader), reader.zone));
    const ask = { from_ms: from, to_ms: to, points: POINTS, channels: ["soc", "current_a"] };
    this.histories.ask((signal) => api.history(this.context.bank.name, ask, signal));
  }

  private take(history: History): void {
    setText(this.chartNote, "");
    this.stack.setData(history);
  }

  /** Forms that may be half filled in: made once, not with each answer. */
  private offer(passage: Passage): void {
    const { bank } = this.context;
    this.change = new ChangeSection(bank.name, passage, () => this.reader(), this.then);
    this.work.append(describeSection(bank.name, passage, () => this.renamed(passage.id)), this.change.node);
    const span = spanOf(passage, this.reader());
    if (!span) return;
    const ask = { from: span.from - AROUND_MS, to: span.to + AROUND_MS, limit: 200 };
    record.passages(bank.name, ask, this.stop.signal).then(
      ({ passages }) => this.change?.setNeighbours(passages),
      () => undefined,
    );
  }

  private renamed(id: number): void {
    record.passage(this.context.bank.name, id, this.stop.signal).then(
      ({ passage }) => this.showHead(passage, this.reader()),
      () => undefined,
    );
  }

  private tap(clientX: number): void {
    const { left, width } = this.stack.plot();
    const share = (clientX - left) / width;
    if (share >= 0 && share <= 1) this.change?.setCut(this.shown.from + share * (this.shown.to - this.shown.from));
  }
}
