/** The tools above the charts: named spans, steps, what span is shown, measuring. */
import { el, setText } from "../dom";
import { words } from "../words";
import { NAMED } from "./span";

export interface ToolDoes {
  named: (name: string) => void;
  move: (share: number) => void;
  clear: () => void;
  both: () => void;
  measure: () => void;
}

export class Tools {
  readonly node: HTMLElement;
  private readonly spans = new Map<string, HTMLButtonElement>();
  private readonly title = el("p", { class: "span-title" });
  private readonly slow = el("p", { class: "slow", role: "status" });
  private readonly clearing: HTMLButtonElement;
  private readonly both: HTMLButtonElement;
  private readonly measure: HTMLButtonElement;

  constructor(does: ToolDoes) {
    const { history } = words;
    const tool = (text: string, act: () => void): HTMLButtonElement => el("button", { type: "button", class: "tool", onclick: act }, text);
    const arrow = (share: number, label: string, sign: string): HTMLElement =>
      el("button", { type: "button", class: "tool arrow", "aria-label": label, onclick: () => does.move(share) }, sign);
    for (const name of Object.keys(NAMED)) this.spans.set(name, tool(history.span[name]!, () => does.named(name)));
    this.clearing = tool(history.clear, does.clear);
    this.clearing.hidden = true;
    this.both = tool(history.then, does.both);
    this.measure = tool(history.measure, does.measure);
    this.node = el(
      "div",
      { class: "tools" },
      el("div", { class: "spans", role: "group", "aria-label": history.spans }, ...this.spans.values()),
      el("div", { class: "steps" }, arrow(-0.5, history.earlier, "\u2039"), arrow(0.5, history.later, "\u203a")),
      this.title,
      this.slow,
      el("div", { class: "measure" }, this.clearing, this.both, this.measure),
    );
  }

  show(name: string | null, title: string): void {
    for (const [each, button] of this.spans) button.setAttribute("aria-pressed", String(each === name));
    setText(this.title, title);
  }

  setSlow(is: boolean): void {
    setText(this.slow, is ? words.charts.loading : "");
  }

  setState(state: { chosen: boolean; both: boolean; measuring: boolean }): void {
    this.clearing.hidden = !state.chosen;
    this.both.setAttribute("aria-pressed", String(state.both));
    this.measure.setAttribute("aria-pressed", String(state.measuring));
  }
}
