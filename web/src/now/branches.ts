/** The ledger of the branches over the last hour or day, as plain bars on one scale. Rows are pure; the section draws them. */
import { el, setText } from "../dom";
import { charge, energy, joined, number } from "../format";
import { duration } from "../range";
import { unexplained, type Ledger } from "../record";
import { words } from "../words";

export const SPANS = { hour: 3600, day: 86_400 } as const;
export type SpanName = keyof typeof SPANS;

export interface Row {
  key: string;
  name: string;
  kind: "in" | "out" | "unaccounted";
  /** Net charge as a length on the scale, Ah, not negative. */
  ah: number;
  text: string;
  more: string;
}

/** Charges that round to nothing are noise of a sensor. */
const NOTHING_AH = 0.05;

/** Sources above, loads below, and what no branch accounts for; the bank's own two ways where no branch is measured. */
export function rows(ledger: Ledger): Row[] {
  const w = words.branches;
  const row = (key: string, name: string, kind: Row["kind"], ah: number | null, wh: number | null): Row => {
    const shown = Math.max(0, ah ?? 0);
    const known = ah !== null;
    return {
      key,
      name,
      kind,
      ah: shown < NOTHING_AH ? 0 : shown,
      text: known ? joined(charge(shown)) : w.unknown,
      more: known && wh !== null ? joined(energy(Math.max(0, wh))) : "",
    };
  };
  const of = (role: "source" | "load"): Row[] => {
    const towards = role === "source" ? 1 : -1;
    const net = (a: number | null, b: number | null): number | null => (a === null || b === null ? null : towards * (a - b));
    return ledger.branches
      .filter((branch) => branch.role === role)
      .map((branch) =>
        row(
          branch.name,
          branch.title,
          role === "source" ? "in" : "out",
          net(branch.charge_in_ah, branch.charge_out_ah),
          net(branch.energy_in_wh, branch.energy_out_wh),
        ),
      )
      .sort((a, b) => b.ah - a.ah);
  };
  if (ledger.branches.length === 0) {
    return [
      row("in", words.ledger.in, "in", ledger.charge_in_ah, ledger.energy_in_wh),
      row("out", words.ledger.out, "out", ledger.charge_out_ah, ledger.energy_out_wh),
    ];
  }
  return [...of("source"), ...of("load"), ...unaccounted(ledger)];
}

function unaccounted({ unaccounted_ah: band }: Ledger): Row[] {
  if (!band) return [];
  const half = (band.high - band.low) / 2;
  const decimals = Math.max(Math.abs(band.value), half) < 10 ? 1 : 0;
  const text = joined({ value: `${number(band.value, decimals, true)} ±${number(half, decimals)}`, unit: "Ah" });
  return [{ key: "unaccounted", name: words.branches.unaccounted, kind: "unaccounted", ah: Math.abs(band.value), text, more: unexplained(band) ? words.branches.sure : "" }];
}

export class BranchLedger {
  readonly node = el("section", { class: "energy" });
  private readonly note = el("span", { class: "sub" });
  private readonly body = el("tbody");
  private readonly buttons = new Map<SpanName, HTMLButtonElement>();
  span: SpanName = "day";

  /** `asked` is called when another span was chosen. */
  constructor(asked: () => void) {
    const w = words.branches;
    const choose = (span: SpanName): void => {
      this.span = span;
      this.mark();
      asked();
    };
    for (const span of ["hour", "day"] as const) {
      this.buttons.set(span, el("button", { type: "button", class: "tool", onclick: () => choose(span) }, w.span[span]));
    }
    this.mark();
    const heads = [w.branch, w.length, w.charge, w.energy].map((name) => el("th", { scope: "col" }, name));
    this.node.append(
      el("div", { class: "ledger-head" }, el("h2", {}, w.name), el("div", { role: "group", "aria-label": w.name }, ...this.buttons.values()), this.note),
      el("table", { class: "bars" }, el("thead", { class: "unseen" }, el("tr", {}, ...heads)), this.body),
    );
  }

  show(ledger: Ledger): void {
    const all = rows(ledger);
    const most = Math.max(...all.map((row) => row.ah), NOTHING_AH);
    const short = ledger.covered_s < 0.98 * SPANS[this.span];
    setText(this.note, short ? words.branches.covered(duration(ledger.covered_s)) : "");
    this.body.replaceChildren(
      ...all.map(({ name, kind, ah, text, more }, i) => {
        const fill = el("span", { class: `fill ${kind}` });
        fill.style.width = `${(100 * ah) / most}%`;
        // A thin line parts what fills the bank from what empties it.
        const first = i > 0 && kind !== all[i - 1]!.kind;
        return el(
          "tr",
          { class: first ? "parted" : undefined },
          el("th", { scope: "row" }, name),
          el("td", { class: "track", "aria-hidden": "true" }, fill),
          el("td", { class: "value" }, text),
          el("td", { class: "sub" }, more),
        );
      }),
    );
  }

  private mark(): void {
    for (const [name, button] of this.buttons) button.setAttribute("aria-pressed", String(name === this.span));
  }
}
