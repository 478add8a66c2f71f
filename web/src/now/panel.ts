/** The figures on the page: five places that stay where they are while their numbers change. */
import { el, setAttribute, setText } from "../dom";
import { words } from "../words";
import { noFigures, type Figure } from "./figures";

interface Place {
  node: HTMLElement;
  label: HTMLElement;
  value: HTMLElement;
  unit: HTMLElement;
  sub: HTMLElement;
}

export class Panel {
  readonly node = el("section", { class: "figures", "aria-label": words.figure.section });
  private readonly list = el("dl");
  private readonly note = el("p", { class: "note", role: "status" });
  private readonly places = new Map<string, Place>();

  constructor() {
    this.node.append(this.note, this.list);
    // The places stand from the start, so that the first values move nothing.
    this.show(noFigures(), false, "");
  }

  show(figures: Figure[], old: boolean, note: string): void {
    for (const figure of figures) {
      const place = this.places.get(figure.key) ?? this.add(figure.key);
      setText(place.label, figure.label);
      setText(place.value, figure.value);
      setText(place.unit, figure.unit && ` ${[figure.unit, figure.doubt].filter(Boolean).join(" ")}`);
      place.value.classList.toggle("long", figure.value.length > 5);
      setText(place.sub, figure.sub || "\u00a0");
    }
    this.node.classList.toggle("old", old);
    setText(this.note, note);
    setAttribute(this.note, "class", note ? "note shown" : "note");
  }

  private add(key: string): Place {
    const place: Place = {
      node: el("div", { class: `figure ${key}` }),
      label: el("dt"),
      value: el("span", { class: "value" }),
      unit: el("span", { class: "unit" }),
      sub: el("dd", { class: "sub" }),
    };
    place.node.append(place.label, el("dd", { class: "big" }, place.value, place.unit), place.sub);
    this.list.append(place.node);
    this.places.set(key, place);
    return place;
  }
}
