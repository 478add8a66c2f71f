/** Which panels are shown: a plain row of names, each to be tapped on and off. */
import { el } from "../dom";
import { keep, stored } from "../settings";
import { words } from "../words";
import { chosenPanels, readChoices, type Choices, type PanelSpec } from "./panels";

export class Toggles {
  readonly node: HTMLElement;
  private readonly buttons: Map<string, HTMLButtonElement>;
  private choices: Choices = readChoices(stored("panels"));

  constructor(
    private readonly specs: PanelSpec[],
    private readonly changed: () => void,
  ) {
    this.buttons = new Map(specs.map((spec) => [spec.key, el("button", { type: "button", class: "tool", onclick: () => this.turn(spec.key) }, spec.title)]));
    const { shown, choose } = words.charts.panel;
    this.node = el("div", { class: "toggles", role: "group", "aria-label": choose }, el("span", { class: "sub" }, shown), ...this.buttons.values());
    this.tell();
  }

  get shown(): PanelSpec[] {
    return chosenPanels(this.specs, this.choices);
  }

  /** The last panel that is shown stays. */
  private turn(key: string): void {
    const shown = this.shown.map((spec) => spec.key);
    if (shown.length === 1 && shown[0] === key) return;
    this.choices = { ...this.choices, [key]: !shown.includes(key) };
    keep("panels", JSON.stringify(this.choices));
    this.tell();
    this.changed();
  }

  private tell(): void {
    const shown = new Set(this.shown.map((spec) => spec.key));
    for (const [key, button] of this.buttons) button.setAttribute("aria-pressed", String(shown.has(key)));
  }
}

/** Keys and gestures, for whoever looks for them. */
export function keysHint(): HTMLElement {
  const { name, list } = words.charts.keys;
  return el(
    "details",
    { class: "keys" },
    el("summary", {}, name),
    el("dl", {}, ...list.map(([keys, what]) => el("div", {}, el("dt", {}, keys), el("dd", {}, what)))),
  );
}
