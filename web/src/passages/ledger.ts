/** The ledger of a span: what each branch gave and took. Rows are pure; the section is drawn from them. */
import { charge, joined, number } from "../format";
import { unexplained, type Banded, type Ledger, type LedgerBranch } from "../record";
import { el } from "../dom";
import { spoken } from "../spoken";
import { table, value, type Content, type Row } from "../tables";
import { words } from "../words";
import { flow } from "./said";

const cell = (ah: number | null, wh: number | null): Content[] => value(...flow(ah, wh));

/** Charge with its band, and what the band says. */
function band({ value: middle, low, high }: Banded, more: string): Content[] {
  const decimals = Math.max(Math.abs(low), Math.abs(high)) < 10 ? 1 : 0;
  const range = words.learned.band(number(low, decimals), number(high, decimals));
  return value(joined(charge(middle)), more ? `${range}, ${more}` : range);
}

export function rows(ledger: Ledger): Row[] {
  const w = words.passages.ledger;
  const branch = (each: LedgerBranch): Row => ({
    cells: [
      [each.title, " ", el("span", { class: "sub" }, each.computed ? w.computed : w[each.role])],
      cell(each.charge_in_ah, each.energy_in_wh),
      cell(each.charge_out_ah, each.energy_out_wh),
      [each.error_ah === null ? "" : joined(charge(each.error_ah))],
    ],
  });
  const of = (role: LedgerBranch["role"]): Row[] => ledger.branches.filter((each) => each.role === role).map(branch);
  return [
    ...of("source"),
    ...of("load"),
    {
      class: "total",
      cells: [
        [w.bank, " ", el("span", { class: "sub" }, w.bankMore)],
        cell(ledger.charge_in_ah, ledger.energy_in_wh),
        cell(ledger.charge_out_ah, ledger.energy_out_wh),
        [""],
      ],
    },
  ];
}

export function ledgerSection(ledger: Ledger | null, goingOn: boolean): HTMLElement {
  const w = words.passages.ledger;
  const node = el("section", { class: "ledger-part" }, el("h2", {}, w.name));
  if (!ledger) {
    node.append(el("p", { class: "sub" }, goingOn ? w.later : w.none));
    return node;
  }
  node.append(table([w.branch, w.in, w.out, w.error], rows(ledger), "flows"));
  const rest: [string, Banded | null, string, boolean][] = [
    [w.loss, ledger.own_loss_ah, "", false],
    [
      w.unaccounted,
      ledger.unaccounted_ah,
      ledger.unaccounted_ah === null ? "" : unexplained(ledger.unaccounted_ah) ? w.unaccountedSure : w.unaccountedIn,
      ledger.unaccounted_ah !== null && unexplained(ledger.unaccounted_ah),
    ],
  ];
  const told = rest.flatMap(([name, amount, more, minded]) =>
    amount === null
      ? []
      : [el("div", { class: minded ? "minded" : undefined }, el("dt", {}, name), el("dd", {}, ...band(amount, more)))],
  );
  if (told.length) node.append(el("dl", { class: "fact-list" }, ...told));
  const notes = [...(ledger.branches.length === 0 ? [w.noBranches] : []), ...ledger.notes];
  node.append(...notes.map((note) => el("p", { class: "sub" }, ...spoken(note))));
  return node;
}
