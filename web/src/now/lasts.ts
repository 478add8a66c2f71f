/** How long it lasts: as it is, and as it would be at the current that is asked for; and what is in the bank. */
import type { Now, Outlook } from "../api";
import { el, setText } from "../dom";
import { current, joined, NONE } from "../format";
import { setSpoken } from "../spoken";
import { words } from "../words";
import { facts, lastsNow, meanLoad, untilFull } from "./terms";

interface Row {
  node: HTMLElement;
  head: HTMLElement;
  reserve: HTMLElement;
  empty: HTMLElement;
  out: HTMLElement;
}

export class LastsSection {
  readonly node = el("section", { class: "lasts" });
  private readonly now = row();
  private readonly supposed = row();
  private readonly text = el("p", { class: "text" });
  private readonly facts = el("dl", { class: "facts" });

  constructor() {
    setText(this.now.head, words.lasts.rest);
    this.supposed.node.hidden = true;
    const { load, reserve, empty, comesOut } = words.lasts;
    const heads = [load, reserve, empty, comesOut].map((head) => el("th", { scope: "col" }, head));
    this.node.append(
      el("h2", {}, words.lasts.name),
      el("table", {}, el("thead", {}, el("tr", {}, ...heads)), el("tbody", {}, this.now.node, this.supposed.node)),
      this.text,
      this.facts,
    );
  }

  show(now: Now, present: number, zone: string): void {
    const moves = untilFull(now) || lastsNow(now);
    tell(this.now, moves ? words.lasts.mean(meanLoad(now)) : words.lasts.rest, now);
    setSpoken(this.text, now.deliverable.text);
    const said = facts(now, present, zone);
    this.facts.replaceChildren(
      ...said.map(({ name, text, more }) => el("div", {}, el("dt", {}, name), el("dd", {}, text, more && el("span", { class: "sub" }, ` ${more}`)))),
    );
  }

  /** The row of what is supposed; null takes it away. */
  showSupposed(outlook: Outlook | null): void {
    this.supposed.node.hidden = outlook === null;
    if (outlook) tell(this.supposed, words.picture.supposed(joined(current(outlook.current_a, true))), outlook);
  }
}

function tell(place: Row, head: string, outlook: Now | Outlook): void {
  const full = untilFull(outlook);
  const told = full ? { reserve: `${full} ${words.lasts.full}`, empty: "", out: "" } : (lastsNow(outlook) ?? { reserve: NONE, empty: NONE, out: NONE });
  setText(place.head, head);
  setText(place.reserve, told.reserve);
  setText(place.empty, told.empty);
  setText(place.out, told.out);
}

function row(): Row {
  const { reserve, empty, comesOut } = words.lasts;
  const cell = (name: string): HTMLElement => el("td", { "data-name": name }, NONE);
  const parts = { head: el("th", { scope: "row" }), reserve: cell(reserve), empty: cell(empty), out: cell(comesOut) };
  return { ...parts, node: el("tr", {}, parts.head, parts.reserve, parts.empty, parts.out) };
}
