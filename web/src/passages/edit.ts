/** What a reader may do with a passage: name it, set its ends, cut it, join it, take it away; or mark one. Each change is asked back. */
import { ApiError } from "../api";
import { el, setText } from "../dom";
import { dayAndClock } from "../format";
import { Asking, type Order } from "../now/asking";
import { fieldMoment, fieldText } from "../now/clock";
import { askPin } from "../now/pin";
import { reason } from "../now/terms";
import { fromTo, length } from "../range";
import { record, type Done, type Passage } from "../record";
import { words } from "../words";
import { lasted, spanOf, titleOf, type Reader } from "./said";

/** Called when something was done; with the passage to be shown next, or null for the list. */
export type Then = (done: Done, next: number | null) => void;

/** The passages before and after one, in time; null where there is none. Overlapping ones count by where they begin. */
export function neighbours(passages: Passage[], id: number): { before: Passage | null; after: Passage | null } {
  const begin = (passage: Passage): number => (passage.begin === null ? -Infinity : Date.parse(passage.begin));
  const order = [...passages].sort((a, b) => begin(a) - begin(b));
  const at = order.findIndex((passage) => passage.id === id);
  return { before: order[at - 1] ?? null, after: at < 0 ? null : (order[at + 1] ?? null) };
}

const button = (text: string, act: (from: HTMLElement) => void): HTMLElement => {
  const node = el("button", { type: "button", class: "order" }, text);
  node.addEventListener("click", () => act(node));
  return node;
};

function moments(zone: string, ...names: string[]): HTMLInputElement[] {
  return names.map((name) => el("input", { type: "datetime-local", class: "amount field", "aria-label": words.passages.edit.fieldIn(name, zone) }));
}

/** A form that leads to a question. */
function form(submit: (from: HTMLElement | null) => void, ...children: (Node | string)[]): HTMLElement {
  return el(
    "form",
    {
      novalidate: true,
      onsubmit: (event) => {
        event.preventDefault();
        submit((event as SubmitEvent).submitter);
      },
    },
    ...children,
  );
}

/** Name and note; kept without being asked back, but for the PIN where it needs that. */
export function describeSection(bank: string, passage: Passage, then: () => void): HTMLElement {
  const { edit } = words.passages;
  const name = el("input", { type: "text", class: "amount field", id: "passage-name", maxlength: "200" });
  const note = el("textarea", { class: "field", id: "passage-note", rows: "3", maxlength: "20000" });
  const outcome = el("p", { class: "outcome", role: "status" });
  const question = el("div", { class: "question", role: "group", tabindex: "-1", hidden: true });
  const submit = el("button", { type: "submit", class: "order" }, edit.keep);
  name.value = passage.name;
  note.value = passage.note;
  const keep = async (): Promise<void> => {
    outcome.classList.remove("trouble");
    setText(outcome, words.orders.sending);
    try {
      await record.describe(bank, passage.id, name.value.trim(), note.value.trim());
      setText(outcome, edit.kept);
      then();
    } catch (why) {
      if (why instanceof ApiError && why.refusal?.needs === "pin") {
        setText(outcome, "");
        return askPin(question, why.refusal, () => void keep(), submit);
      }
      outcome.classList.add("trouble");
      setText(outcome, reason(why));
    }
  };
  return el(
    "section",
    { class: "describe" },
    el("h2", {}, edit.describe),
    form(
      () => void keep(),
      el("p", {}, el("label", { for: "passage-name" }, edit.nameField), name),
      el("p", {}, el("label", { for: "passage-note" }, edit.noteField), note),
      el("p", {}, submit),
    ),
    question,
    outcome,
  );
}

export class ChangeSection {
  readonly node = el("section", { class: "change" });
  private readonly asking = new Asking();
  private readonly joining = el("div");
  private readonly ends: HTMLInputElement[];
  private readonly asFound: string[];
  private readonly cut: HTMLInputElement;

  constructor(
    private readonly bank: string,
    private readonly passage: Passage,
    private readonly reader: () => Reader,
    private readonly then: Then,
  ) {
    const { edit } = words.passages;
    const { zone } = reader();
    this.ends = moments(zone, edit.from, edit.to);
    this.cut = moments(zone, edit.splitAt)[0]!;
    const span = spanOf(passage, reader());
    if (span) {
      this.ends[0]!.value = fieldText(span.from, zone);
      this.ends[1]!.value = fieldText(span.to, zone);
      this.setCut((span.from + span.to) / 2);
    }
    this.asFound = this.ends.map((field) => field.value);
    const submit = (text: string): HTMLElement => el("button", { type: "submit", class: "order" }, text);
    this.node.append(
      el("h2", {}, edit.change),
      el("p", { class: "sub" }, `${edit.byHand} ${edit.samples}`),
      form((from) => this.askEnds(from), `${edit.from} `, this.ends[0]!, ` ${edit.to} `, this.ends[1]!, " ", submit(edit.ends)),
      form((from) => this.askSplit(from), submit(edit.split), ` ${edit.splitAt} `, this.cut, " ", el("span", { class: "sub" }, edit.splitHint)),
      this.joining,
      el("p", {}, button(edit.remove, (from) => this.ask(edit.askRemove, edit.doRemove, () => record.remove(bank, passage.id), null, from, edit.samples))),
      ...this.asking.nodes,
    );
  }

  setCut(ms: number): void {
    this.cut.value = fieldText(ms, this.reader().zone);
  }

  /** Offers to join it with the one before or after. */
  setNeighbours(passages: Passage[]): void {
    const { edit } = words.passages;
    const { before, after } = neighbours(passages, this.passage.id);
    const offer = (other: Passage, text: (name: string, gap: string) => string, gap: number): HTMLElement => {
      const name = titleOf(other, this.reader());
      const between = gap < 60_000 ? edit.mergeTouching : length(gap);
      const join = (): Promise<Done> => record.merge(this.bank, [this.passage.id, other.id]);
      return el("p", {}, button(text(name, between), (from) => this.ask(edit.askMerge(name), edit.doMerge, join, this.passage.id, from)));
    };
    const own = spanOf(this.passage, this.reader());
    const [earlier, later] = [before, after].map((each) => each && spanOf(each, this.reader()));
    this.joining.replaceChildren(
      ...(before && own && earlier ? [offer(before, edit.mergeBefore, own.from - earlier.to)] : []),
      ...(after && own && later ? [offer(after, edit.mergeAfter, later.from - own.to)] : []),
    );
  }

  private ask(ask: string, act: string, send: () => Promise<Done>, next: number | null, from: HTMLElement | null, after?: string): void {
    this.asking.ask(order(ask, act, send, (done) => this.then(done, next === null ? null : done.id), after), from);
  }

  private askEnds(from: HTMLElement | null): void {
    const { edit } = words.passages;
    const { zone, present } = this.reader();
    const [begin, end] = this.ends.map((field) => fieldMoment(field.value, zone));
    if (begin == null || end == null || end <= begin) return this.asking.refuse(edit.badEnds);
    // A field knows whole minutes only: an end that nobody touched keeps its seconds.
    const [newBegin, newEnd] = this.ends.map((field, i) => (field.value === this.asFound[i] ? null : fieldMoment(field.value, zone)));
    if (newBegin == null && newEnd == null) return this.asking.refuse(edit.sameEnds);
    const text = edit.askEnds(`${fromTo(begin, end, present, zone)}, ${lasted((end - begin) / 1000)}`);
    this.ask(text, edit.doEnds, () => record.ends(this.bank, this.passage.id, newBegin ?? null, newEnd ?? null), this.passage.id, from);
  }

  private askSplit(from: HTMLElement | null): void {
    const { edit } = words.passages;
    const { zone, present } = this.reader();
    const at = fieldMoment(this.cut.value, zone);
    const span = spanOf(this.passage, this.reader());
    if (at === null || !span || at <= span.from || at >= span.to) return this.asking.refuse(edit.badSplit);
    this.ask(edit.askSplit(dayAndClock(at, zone, present)), edit.doSplit, () => record.split(this.bank, this.passage.id, at), this.passage.id, from);
  }
}

/** Marks a passage by hand, from the list. */
export function markSection(bank: string, reader: Reader, then: Then): HTMLElement {
  const { edit } = words.passages;
  const { zone, present } = reader;
  const asking = new Asking();
  const [begin, end] = moments(zone, edit.from, edit.to) as [HTMLInputElement, HTMLInputElement];
  begin.value = fieldText(present - 6 * 3_600_000, zone);
  end.value = fieldText(present, zone);
  const name = el("input", { type: "text", class: "amount field", maxlength: "200", "aria-label": edit.markName, placeholder: edit.markName });
  const ask = (from: HTMLElement | null): void => {
    const [a, b] = [begin, end].map((field) => fieldMoment(field.value, zone));
    if (a == null || b == null || b <= a) return asking.refuse(edit.badEnds);
    const text = edit.askEnds(`${fromTo(a, b, present, zone)}, ${lasted((b - a) / 1000)}`);
    const called = name.value.trim() || null;
    asking.ask(order(text, edit.doMark, () => record.mark(bank, a, b, called), (done) => then(done, done.id)), from);
  };
  return el(
    "details",
    { class: "mark-passage" },
    el("summary", {}, edit.mark),
    form(ask, `${edit.from} `, begin, ` ${edit.to} `, end, " ", name, " ", el("button", { type: "submit", class: "order" }, edit.doMark)),
    ...asking.nodes,
  );
}

function order(ask: string, act: string, send: () => Promise<Done>, then: (done: Done) => void, after: string = words.passages.edit.byHand): Order {
  return {
    ask,
    after,
    act,
    send: async () => {
      const done = await send();
      then(done);
      return done;
    },
  };
}
