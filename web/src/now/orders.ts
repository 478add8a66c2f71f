/** What the reader knows for certain: a stated charge, a stated zero. Each is asked back before it is done. */
import { api, type Bank, type Now } from "../api";
import { el } from "../dom";
import { current, joined, number } from "../format";
import { words } from "../words";
import { Asking, type Order } from "./asking";

/** 1 σ of "the bank is full now". */
const FULL_STD_DEV = 0.01;
/** The band on the page is 95 %: 1.96 σ each way. */
const SIGMAS = 1.96;

/** A stated charge and how far it may be off, both in percent, as the API takes them; null where they make no sense. */
export function statedFix(percent: number, within: number): { soc: number; std_dev: number } | null {
  const fix = { soc: percent / 100, std_dev: within / 100 / SIGMAS };
  return fix.soc >= 0 && fix.soc <= 1 && fix.std_dev >= 0.002 && fix.std_dev <= 0.2 ? fix : null;
}

export class Orders {
  readonly node = el("section", { class: "orders" });
  private readonly holds = amount(words.orders.holdsPercent, "");
  private readonly within = amount(words.orders.withinPercent, "5");
  private readonly asking = new Asking();
  private reading: number | null = null;

  constructor(private readonly bank: Bank) {
    const { orders } = words;
    this.node.append(
      el("h2", {}, orders.name),
      el("p", {}, this.button(orders.full, () => this.full())),
      el(
        "form",
        {
          novalidate: true,
          onsubmit: (event) => {
            event.preventDefault();
            this.stated((event as SubmitEvent).submitter);
          },
        },
        `${orders.holds} `,
        this.holds,
        "\u202f%, ",
        el("span", { class: "pair" }, `${orders.within} `, this.within, "\u202f%"),
        " ",
        el("button", { type: "submit", class: "order" }, orders.say),
      ),
      el("p", {}, this.button(orders.zero, () => this.zero())),
      ...this.asking.nodes,
    );
  }

  show(now: Now): void {
    this.reading = now.current_a;
  }

  private button(text: string, order: () => Order): HTMLElement {
    const button = el("button", { type: "button", class: "order", onclick: () => this.asking.ask(order(), button) }, text);
    return button;
  }

  private full(): Order {
    return { ask: words.orders.askFull, act: words.orders.doFix, send: () => api.fix(this.bank.name, 1, FULL_STD_DEV) };
  }

  private zero(): Order {
    // With a load on by mistake, the reading itself says so best.
    const reading = this.reading === null ? words.orders.noReading : joined(current(this.reading));
    return { ask: words.orders.askZero(reading), act: words.orders.doZero, send: () => api.zero(this.bank.name) };
  }

  private stated(from: HTMLElement | null): void {
    const [percent, within] = [this.holds, this.within].map((input) => Number.parseFloat(input.value)) as [number, number];
    const fix = statedFix(percent, within);
    if (!fix) {
      this.asking.refuse(words.orders.bad);
      return;
    }
    const shown = (value: number): string => joined({ value: number(value, Number.isInteger(value) ? 0 : 1), unit: "%" });
    const order = {
      ask: words.orders.askHolds(shown(percent), shown(within)),
      act: words.orders.doFix,
      send: () => api.fix(this.bank.name, fix.soc, fix.std_dev),
    };
    this.asking.ask(order, from);
  }
}

function amount(label: string, value: string): HTMLInputElement {
  const input = el("input", { type: "number", class: "amount", inputmode: "decimal", min: "0", max: "100", step: "any", "aria-label": label });
  input.value = value;
  return input;
}
