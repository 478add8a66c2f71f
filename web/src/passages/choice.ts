/** A list to choose from that opens from one word; built of the page itself, since a native list would shine white in the dark. */
import { el, inner } from "../dom";
import { words } from "../words";

export interface Choice {
  text: string;
  more: string;
  href: string;
  chosen: boolean;
  go: () => void;
}

export class ChoiceList {
  private readonly shown = el("span", {}, words.compare.choose);
  private readonly summary = el("summary", {}, this.shown);
  private readonly list = el("ul");
  readonly node = el("details", { class: "choice" }, this.summary, this.list);

  constructor() {
    this.node.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && this.node.open) this.close();
    });
    this.node.addEventListener("focusout", (event) => {
      const next = event.relatedTarget as Node | null;
      if (next && !this.node.contains(next)) this.node.open = false;
    });
  }

  show(choices: Choice[]): void {
    this.node.hidden = choices.length === 0;
    // Nothing moves under the hand that is about to choose.
    if (this.node.open) return;
    this.list.replaceChildren(...choices.map((choice) => el("li", {}, this.link(choice))));
  }

  private link({ text, more, href, chosen, go }: Choice): HTMLElement {
    const choose = (): void => {
      this.close();
      go();
    };
    return inner({ href, "aria-current": chosen ? "true" : undefined }, choose, text, more && " ", more && el("span", { class: "sub" }, more));
  }

  private close(): void {
    this.node.open = false;
    this.summary.focus();
  }
}
