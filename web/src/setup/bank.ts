/** The bank as described, and what has been learned against it. */
import type { Description, Now } from "../api";
import { el } from "../dom";
import { factList, table, value } from "../tables";
import { words } from "../words";
import { comparisons, describedFacts } from "./said";

export class BankSection {
  readonly node = el("section", { class: "described" });
  private readonly facts = el("div");
  private readonly learned = el("div");
  private described: Description | null = null;
  private told = "";

  constructor(private readonly zone: string) {
    const w = words.setup.bank;
    this.node.append(el("h2", {}, w.name), this.facts, el("h3", {}, w.learned), this.learned, el("p", { class: "sub" }, w.change));
  }

  show(described: Description): void {
    if (JSON.stringify(described) === JSON.stringify(this.described)) return;
    this.described = described;
    this.facts.replaceChildren(factList(describedFacts(described)));
  }

  showNow(now: Now, present: number): void {
    if (!this.described) return;
    const w = words.setup.bank;
    const rows = comparisons(this.described, now, present, this.zone);
    // Learned values move slowly: nothing is drawn anew under the reader's eyes in vain.
    const text = JSON.stringify([rows, now.method]);
    if (text === this.told) return;
    this.told = text;
    this.learned.replaceChildren(
      ...(now.method === "counter" ? [el("p", { class: "sub" }, words.learned.counter)] : []),
      table(
        [w.quantity, w.described, w.found],
        rows.map(({ name, described, learned, more }) => ({ cells: [[name], [described], value(learned, more)] })),
      ),
    );
  }
}
