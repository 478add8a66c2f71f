/** Under the figures: the other banks, the notices. */
import type { Bank, Notice, Now } from "../api";
import { el, inner, setText } from "../dom";
import { current, joined, NONE, number, power, voltage } from "../format";
import { durations, when } from "../range";
import { address } from "../route";
import { isOld } from "../sentence";
import { spoken } from "../spoken";
import { words } from "../words";
import { withDoubt } from "./figures";

const NOTICES = 4;

/** Another bank in one line; its name brings it in front. */
export class Aboard {
  readonly node = el("section", { class: "aboard" });
  private readonly rows = new Map<string, { soc: HTMLElement; doubt: HTMLElement; rest: HTMLElement }>();

  constructor(banks: Bank[], go: (bank: string) => void) {
    this.node.append(el("h2", {}, words.ledger.aboard));
    for (const bank of banks) {
      const row = { soc: el("span", { class: "value" }, NONE), doubt: el("span", { class: "unit" }), rest: el("span", { class: "sub" }) };
      const name = inner({ href: address("now", { bank: bank.name }) }, () => go(bank.name), bank.title);
      this.rows.set(bank.name, row);
      this.node.append(el("p", { class: "other" }, name, el("span", { class: "soc" }, row.soc, row.doubt), row.rest));
    }
  }

  show(now: Now, link: "joining" | "up" | "away"): void {
    const row = this.rows.get(now.bank);
    if (!row) return;
    const shown = withDoubt(now);
    setText(row.soc, shown?.value ?? NONE);
    setText(row.doubt, shown ? ` ${[shown.unit, shown.doubt].filter(Boolean).join(" ")}` : "");
    setText(row.rest, summary(now, link));
    row.soc.parentElement!.parentElement!.classList.toggle("old", isOld(now, link));
  }
}

function summary(now: Now, link: "joining" | "up" | "away"): string {
  const said: string[] = [];
  if (now.voltage_v !== null) said.push(joined(voltage(now.voltage_v)));
  if (now.current_a !== null) said.push(joined(current(now.current_a, true)));
  if (now.power_w !== null && now.current_a === null) said.push(joined(power(now.power_w)));
  const span = (low: number, high: number): string => {
    const range = durations(low, high);
    return `${range.value} ${range.unit}`;
  };
  if (now.full_low_s !== null && now.full_high_s !== null) said.push(words.ledger.toFull(span(now.full_low_s, now.full_high_s)));
  else if (now.reserve_s === 0) said.push(words.ledger.below);
  else if (now.reserve_low_s !== null && now.reserve_high_s !== null) {
    said.push(words.ledger.toReserve(span(now.reserve_low_s, now.reserve_high_s)));
  }
  if (isOld(now, link) && now.device.state !== "live") said.push(words.ledger.deviceState(now.device.state));
  return said.join(", ");
}

/** The newest few notices; the section is left out while there are none. */
export class Notices {
  readonly node = el("section", { class: "notices", hidden: true });
  private readonly list = el("ul");
  private notices: Notice[] = [];

  constructor(
    private readonly present: () => number,
    private readonly zone: string,
  ) {
    this.node.append(el("h2", {}, words.ledger.notices), this.list);
  }

  set(notices: Notice[]): void {
    this.notices = notices.slice(0, NOTICES);
    this.show();
  }

  /** A repeated notice takes the place of its earlier self. */
  add(notice: Notice): void {
    const same = (other: Notice): boolean => other.kind === notice.kind && other.device === notice.device && other.bank === notice.bank;
    this.set([notice, ...this.notices.filter((other) => !(same(other) && notice.count > other.count))]);
  }

  private show(): void {
    this.node.hidden = this.notices.length === 0;
    this.list.replaceChildren(
      ...this.notices.map((notice) => {
        const at = notice.time ? when(Date.parse(notice.time), this.present(), this.zone) : "";
        const times = notice.count > 1 ? `, ${words.ledger.times(number(notice.count, 0))}` : "";
        return el("li", { class: notice.priority }, el("span", { class: "text" }, ...spoken(notice.text)), el("span", { class: "sub" }, at + times));
      }),
    );
  }
}
