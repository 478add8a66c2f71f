/** One passage compared: with the typical one, or with another that is chosen and kept in the address. */
import { el, setText } from "../dom";
import { number } from "../format";
import type { Context } from "../main";
import { reason } from "../now/terms";
import { record, type Passage } from "../record";
import { address } from "../route";
import { table, value } from "../tables";
import { words } from "../words";
import { ChoiceList, type Choice } from "./choice";
import { besideTypical, compared, type Compared } from "./compare";
import { Lines, type Drawn } from "./lines";
import { spanText, titleOf, type Reader } from "./said";
import { Sides, type Kind } from "./sides";
import { LEAST, ones, typicalLine } from "./typical";

/** So many passages can be chosen from. */
const OFFERED = 60;
const TYPICAL = "typical";

export class Beside {
  private readonly said = el("p", { class: "with" });
  private readonly choice = new ChoiceList();
  private readonly note = el("p", { class: "sub", role: "status" });
  private readonly figures = el("div", { class: "figures" });
  private readonly sides: Sides;
  readonly node: HTMLElement;
  private readonly lines: Lines;
  private readonly stop = new AbortController();
  private passage: Passage | null = null;
  private others: Passage[] | null = null;
  private chosen: string | null;
  private round = 0;

  constructor(
    private readonly context: Context,
    private readonly reader: () => Reader,
  ) {
    const { bank, query } = context;
    this.chosen = query.get("with");
    this.lines = new Lines(bank.name);
    this.sides = new Sides(bank.reserve);
    this.node = el(
      "section",
      { class: "compare", hidden: true },
      el("h2", {}, words.compare.name),
      el("div", { class: "chooser" }, this.said, this.choice.node),
      this.note,
      el("div", { class: "side-by-side" }, this.figures, this.sides.node),
    );
  }

  end(): void {
    this.stop.abort();
    this.lines.end();
  }

  show(passage: Passage): void {
    this.passage = passage;
    if (this.others) void this.compare();
    else void this.read();
  }

  private async read(): Promise<void> {
    const { name } = this.context.bank;
    try {
      const { passages } = await record.passages(name, { limit: OFFERED }, this.stop.signal);
      this.others = passages.filter((each) => each.id !== this.passage?.id);
      await this.compare();
    } catch (why) {
      if (!this.stop.signal.aborted) this.fail(why);
    }
  }

  private fail(why: unknown): void {
    this.node.hidden = false;
    setText(this.note, words.compare.gone(reason(why)));
    this.figures.replaceChildren();
    this.sides.hide();
  }

  /** Draws the comparison that is chosen; without a choice that with the typical one, where there is one. */
  private async compare(): Promise<void> {
    const { passage, others } = this;
    if (!passage || !others) return;
    const round = ++this.round;
    const w = words.compare;
    const usual = ones(others, passage.id);
    const typical = usual.length >= LEAST;
    const wanted = this.chosen ?? (typical ? TYPICAL : null);
    this.node.hidden = false;
    this.choice.show(this.choices(others, typical, wanted));
    const few = typical || others.length === 0 ? "" : w.tooFew(number(LEAST, 0), number(usual.length, 0));
    if (wanted === null || (wanted === TYPICAL && !typical)) {
      this.present(others.length ? w.nothing : "", others.length ? few : w.alone, []);
      return this.sides.hide();
    }
    if (wanted === TYPICAL) {
      this.present(w.typical, w.typicalMeans(number(usual.length, 0)), passage.summary && besideTypical(passage.summary, usual), w.column.typical);
      return this.draw(passage, usual, TYPICAL, round);
    }
    try {
      const id = Number(wanted);
      const other = others.find((each) => each.id === id) ?? (await record.passage(this.context.bank.name, id, this.stop.signal)).passage;
      if (round !== this.round) return;
      const { summary } = other;
      const title = titleOf(other, this.reader());
      this.present(other.name ? `${title}, ${spanText(other, this.reader())}` : title, few, passage.summary && summary && compared(passage.summary, summary), w.column.other);
      this.draw(passage, [other], "other", round);
    } catch (why) {
      if (round === this.round && !this.stop.signal.aborted) this.fail(why);
    }
  }

  private choices(others: Passage[], typical: boolean, wanted: string | null): Choice[] {
    const { bank, go } = this.context;
    const query = (beside: string): Record<string, string> => ({ bank: bank.name, passage: String(this.passage!.id), with: beside });
    const one = (beside: string, text: string, more: string): Choice => ({
      text,
      more,
      href: address("passages", query(beside)),
      chosen: beside === wanted,
      // The page stays as it is, and only notes in the address what it compares.
      go: () => {
        this.chosen = beside;
        go("passages", query(beside), true);
        void this.compare();
      },
    });
    return [
      ...(typical ? [one(TYPICAL, words.compare.typical, "")] : []),
      ...others.filter(({ begin }) => begin !== null).map((each) => one(String(each.id), each.name || spanText(each, this.reader()), each.name ? spanText(each, this.reader()) : "")),
    ];
  }

  private present(beside: string, means: string, rows: Compared[] | null, column = ""): void {
    const w = words.compare;
    this.said.replaceChildren(...(beside ? [`${w.with} `, el("b", {}, beside)] : []));
    setText(this.note, [means, rows === null ? w.notSummed : this.passage?.going_on && rows.length ? w.goingOn : ""].filter(Boolean).join(" "));
    const cells = (rows ?? []).map(({ name, own, other, difference }) => ({ cells: [[name], value(own), value(...other), value(...difference)] }));
    this.figures.replaceChildren(...(cells.length ? [table([w.column.figure, w.column.own, column, w.column.difference], cells, "wide")] : []));
  }

  /** The lines, when all of them have come. */
  private draw(passage: Passage, beside: Passage[], kind: Kind, round: number): void {
    const found: Drawn[] = [];
    const wanted = [passage, ...beside];
    wanted.forEach((each, i) =>
      this.lines.ask(each, this.reader(), (drawn) => {
        found[i] = drawn;
        if (round !== this.round || Object.keys(found).length < wanted.length) return;
        const [own, ...others] = found as [Drawn, ...Drawn[]];
        const line = kind === TYPICAL ? typicalLine(others.map((each) => each.line)) : others[0]!.line;
        const length = kind === TYPICAL ? (line[0]?.at(-1)?.ms ?? 0) : others[0]!.length;
        this.sides.show(own, { line, length }, kind);
      }),
    );
  }
}
