/** What was learned of bank and sensor. */
import type { Now } from "../api";
import { el, setText } from "../dom";
import { words } from "../words";
import { learnedFact } from "./terms";

export class LearnedSection {
  readonly node = el("section", { class: "learned" });
  private readonly none = el("p", { class: "sub" });
  private readonly list = el("dl");
  private readonly places = new Map<string, { value: HTMLElement; more: HTMLElement }>();

  constructor() {
    this.none.hidden = true;
    this.node.append(el("h2", {}, words.learned.name), this.none, this.list);
  }

  show(now: Now, present: number, zone: string): void {
    setText(this.none, now.method === "counter" ? words.learned.counter : words.learned.notYet);
    this.none.hidden = now.learned !== null;
    this.list.hidden = now.learned === null;
    for (const learned of now.learned ?? []) {
      const fact = learnedFact(learned, now, present, zone);
      const place = this.places.get(learned.quantity) ?? this.add(learned.quantity, fact.name);
      setText(place.value, fact.text);
      setText(place.more, fact.more);
    }
  }

  private add(quantity: string, name: string): { value: HTMLElement; more: HTMLElement } {
    const place = { value: el("dd", { class: "value" }), more: el("dd", { class: "sub" }) };
    this.list.append(el("div", {}, el("dt", {}, name), place.value, place.more));
    this.places.set(quantity, place);
    return place;
  }
}
