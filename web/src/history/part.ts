/** A chosen span, under the charts: what it held, and what may be done with it. */
import { api, exportPath, type Bank, type History, type Sums } from "../api";
import { el, setText } from "../dom";
import { Asking } from "../now/asking";
import { reason } from "../now/terms";
import { ledgerSection } from "../passages/ledger";
import type { Reader } from "../passages/said";
import { duration, fromTo, length } from "../range";
import { record, type Ledger } from "../record";
import { factList, table, value } from "../tables";
import { words } from "../words";
import { said } from "../words/said";
import { Latest } from "./load";
import { channelsOf, type PanelSpec } from "./panels";
import { extremesOf, factsOf } from "./partsaid";
import type { Part } from "./stack";

const POINTS = 1500;
const PAUSE_MS = 300;
/** Samples a second apart need no word on how fine their times are. */
const FINE_MS = 2000;

export interface PartDoes {
  zoom: () => void;
  clear: () => void;
  /** A note was kept: the marks are others now. */
  noted: () => void;
  /** A passage was made of it. */
  marked: (id: number) => void;
}

export class PartSection {
  readonly node = el("section", { class: "part-section", hidden: true, tabindex: "-1" });
  private readonly title = el("h2", { class: "title" });
  private readonly note = el("p", { class: "sub", role: "status" });
  private readonly body = el("div", { class: "parts" });
  private readonly ledgerPlace = el("div");
  private readonly links = el("ul");
  private readonly asking = new Asking();
  private readonly specs: PanelSpec[];
  private readonly answers: Latest<[Sums, History]>;
  private readonly ledgers: Latest<Ledger>;
  private part: Part | null = null;

  constructor(
    private readonly bank: Bank,
    specs: PanelSpec[],
    private readonly reader: () => Reader,
    private readonly does: PartDoes,
  ) {
    // What the branches did is in the ledger.
    this.specs = specs.filter(({ key }) => key !== "sources" && key !== "loads");
    const failed = (why: unknown): void => setText(this.note, words.charts.part.failed(reason(why)));
    this.answers = new Latest(([sums, history]) => this.tell(sums, history), failed, PAUSE_MS);
    this.ledgers = new Latest((ledger) => this.ledgerPlace.replaceChildren(ledgerSection(ledger, false)), failed, PAUSE_MS);
    this.node.append(this.title, this.actions(), ...this.asking.nodes, this.note, this.body);
  }

  show(part: Part | null): void {
    this.part = part;
    this.node.hidden = part === null;
    if (!part) return;
    const { name, asking } = words.charts.part;
    const { present, zone } = this.reader();
    setText(this.title, `${name}: ${fromTo(part.from, part.to, present, zone)}, ${length(part.to - part.from)}`);
    if (!this.body.firstChild) setText(this.note, asking);
    this.links.replaceChildren(...this.exports(part));
    const ask = { from_ms: part.from, to_ms: part.to, points: POINTS, channels: channelsOf(this.specs) };
    this.answers.ask((signal) => Promise.all([api.sums(this.bank.name, part.from, part.to, signal), api.history(this.bank.name, ask, signal)]));
    this.ledgers.ask((signal) => record.ledger(this.bank.name, part.from, part.to, signal));
  }

  private exports({ from, to }: Part): HTMLElement[] {
    const w = words.charts.part;
    const link = (text: string, more: string, ...kind: ["samples" | "summary", "csv" | "parquet"]): HTMLElement =>
      el("li", {}, el("a", { href: exportPath(this.bank.name, from, to, ...kind), download: "", class: "onward" }, text), " ", el("span", { class: "sub" }, more));
    return [
      link(w.samples, w.samplesMore, "samples", "csv"),
      link(w.parquet, w.parquetMore, "samples", "parquet"),
      link(w.summary, w.summaryMore, "summary", "csv"),
    ];
  }

  end(): void {
    this.answers.end();
    this.ledgers.end();
  }

  private tell(sums: Sums, history: History): void {
    const { part } = this;
    if (!part) return;
    const w = words.charts.part;
    setText(this.note, sums.covered_s > 0 ? "" : w.none);
    if (sums.covered_s <= 0) {
      this.body.replaceChildren();
      return;
    }
    const { column } = w;
    const rows = extremesOf(sums, history, this.specs, part, this.reader()).map(({ name, mean, least, most }) => ({
      cells: [[name], mean ? value(mean) : [], value(...least), value(...most)],
    }));
    this.body.replaceChildren(
      el("section", { class: "summary" }, el("h2", {}, w.sums), factList(factsOf(sums, history, part))),
      this.ledgerPlace,
      el(
        "section",
        { class: "extremes whole" },
        el("h2", {}, w.extremes),
        table([column.quantity, column.mean, column.least, column.most], rows, "wide one-by-one"),
        history.step_ms > FINE_MS && el("p", { class: "sub" }, w.within(duration(history.step_ms / 1000))),
      ),
    );
  }

  private actions(): HTMLElement {
    const w = words.charts.part;
    const button = (text: string, act: () => void): HTMLButtonElement => el("button", { type: "button", class: "order", onclick: act }, text);
    const folds = [
      { id: "span-passage", text: w.passage, body: this.passageForm() },
      { id: "span-note", text: w.note, body: this.noteForm() },
      { id: "span-export", text: w.export, body: this.links },
    ].map(({ id, text, body }) => ({ button: button(text, () => open(id)), body: el("div", { id, hidden: true }, body) }));
    /** Opens one and closes the others, or closes it. */
    const open = (id: string): void => {
      for (const fold of folds) {
        fold.body.hidden = fold.body.id !== id || !fold.body.hidden;
        fold.button.setAttribute("aria-expanded", String(!fold.body.hidden));
      }
    };
    for (const fold of folds) {
      fold.button.setAttribute("aria-expanded", "false");
      fold.button.setAttribute("aria-controls", fold.body.id);
    }
    const buttons = [button(w.zoom, () => this.does.zoom()), ...folds.map((fold) => fold.button), button(w.clear, () => this.does.clear())];
    return el("div", { class: "with-span" }, el("div", { class: "ways", role: "group", "aria-label": w.do }, ...buttons), ...folds.map((fold) => fold.body));
  }

  private passageForm(): HTMLElement {
    const w = words.charts.part;
    const name = el("input", { type: "text", class: "amount field", maxlength: "200", "aria-label": w.passageName, placeholder: w.passageName });
    const ask = (from: HTMLElement | null): void => {
      const { part } = this;
      if (!part) return;
      const called = name.value.trim() || null;
      const send = async (): Promise<{ text: string }> => {
        const done = await record.mark(this.bank.name, part.from, part.to, called);
        this.does.marked(done.id);
        return done;
      };
      this.asking.ask({ ask: w.askMark(length(part.to - part.from)), after: w.byHand, act: w.markIt, send }, from);
    };
    return form(ask, name, " ", el("button", { type: "submit", class: "order" }, w.markIt));
  }

  private noteForm(): HTMLElement {
    const w = words.charts.part;
    const text = el("textarea", { class: "field", rows: "2", maxlength: "2000", "aria-label": w.noteText, placeholder: w.noteText });
    const outcome = el("p", { class: "outcome", role: "status" });
    const tell = (said: string, trouble: boolean): void => {
      outcome.classList.toggle("trouble", trouble);
      setText(outcome, said);
    };
    const keep = async (): Promise<void> => {
      const { part } = this;
      const written = text.value.trim();
      if (!part) return;
      if (!written) return tell(w.noNote, true);
      tell(words.orders.sending, false);
      try {
        const done = await api.note(this.bank.name, part.from, part.to, written);
        text.value = "";
        tell(said(done.text), false);
        this.does.noted();
      } catch (why) {
        tell(reason(why), true);
      }
    };
    return form(() => void keep(), text, el("p", {}, el("button", { type: "submit", class: "order" }, w.keepNote)), outcome);
  }
}

function form(submit: (from: HTMLElement | null) => void, ...children: (Node | string)[]): HTMLElement {
  const onsubmit = (event: Event): void => {
    event.preventDefault();
    submit((event as SubmitEvent).submitter);
  };
  return el("form", { novalidate: true, onsubmit }, ...children);
}
