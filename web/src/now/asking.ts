/** Asks back before something is done, for the PIN where it needs that, does it, and tells what came of it. */
import { ApiError } from "../api";
import { el, setText } from "../dom";
import { words } from "../words";
import { said } from "../words/said";
import { askPin } from "./pin";
import { reason } from "./terms";

export interface Order {
  /** What will be done, in words. */
  ask: string;
  /** What is said after it, where it is not that the order is kept in the log. */
  after?: string;
  /** The word on the button that does it. */
  act: string;
  send: () => Promise<{ text: string }>;
  /** Does it for somebody who insists, where the daemon leaves that open. */
  insist?: () => Promise<{ text: string }>;
}

export class Asking {
  private readonly question = el("div", { class: "question", role: "group", tabindex: "-1", hidden: true });
  private readonly outcome = el("p", { class: "outcome", role: "status" });
  readonly nodes: readonly HTMLElement[] = [this.question, this.outcome];

  /** Asks back; `from` gets the focus again afterwards. */
  ask(order: Order, from: HTMLElement | null): void {
    this.tell("", false);
    const leave = (): void => this.close(from);
    const act = el("button", { type: "button", class: "act", onclick: () => void this.send(order, from) }, order.act);
    this.question.replaceChildren(
      el("p", {}, `${order.ask} ${order.after ?? words.orders.logged}`),
      el("p", {}, act, " ", el("button", { type: "button", class: "order", onclick: leave }, words.orders.leave)),
    );
    this.question.setAttribute("aria-label", order.ask);
    // Handing back false would keep every other key from the buttons.
    this.question.onkeydown = (event) => {
      if (event.key === "Escape") leave();
    };
    this.question.hidden = false;
    this.question.focus();
  }

  /** Says what is wrong with what was to be asked. */
  refuse(text: string): void {
    this.close(null);
    this.tell(text, true);
  }

  /** Whether there is a question open or an outcome to be read. */
  get open(): boolean {
    return !this.question.hidden || this.outcome.textContent !== "";
  }

  private close(from: HTMLElement | null): void {
    this.question.hidden = true;
    this.question.replaceChildren();
    from?.focus();
  }

  private async send(order: Order, from: HTMLElement | null): Promise<void> {
    this.close(from);
    this.tell(words.orders.sending, false);
    try {
      this.tell(said((await order.send()).text), false);
    } catch (why) {
      const { insist } = order;
      if (why instanceof ApiError && why.refusal?.needs === "pin") {
        this.tell("", false);
        askPin(this.question, why.refusal, () => void this.send(order, from), from);
      } else if (insist && why instanceof ApiError && why.canInsist) {
        this.ask({ ask: said(why.message), act: words.orders.insist, send: insist }, from);
      } else {
        this.tell(reason(why), true);
      }
    }
  }

  private tell(text: string, trouble: boolean): void {
    this.outcome.classList.toggle("trouble", trouble);
    setText(this.outcome, text);
  }
}
