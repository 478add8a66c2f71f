/** Under the figures: the day's energy, the other banks, the notices. */
import type { Bank, Notice, Now, Sums } from "../api";
import { el, inner, setText } from "../dom";
import { charge, current, energy, joined, NONE, number, power, voltage } from "../format";
import { duration, durations, when } from "../range";
import { address } from "../route";
import { isOld } from "../sentence";
import { spoken } from "../spoken";
import { words } from "../words";
import { withDoubt } from "./figures";

const DAY_S = 86_400;
const NOTICES = 4;

/** In and out over the last day as two bars on one scale. */
export class Energy {
  readonly node = el("section", { class: "energy" });
  private readonly title = el("h2");
  private readonly rows = { in: bar("in", words.ledger.in), out: bar("out", words.ledger.out) };

  constructor() {
    setText(this.title, words.ledger.energy);
    this.node.append(this.title, el("div", { class: "bars" }, ...this.rows.in.parts, ...this.rows.out.parts));
  }

  show(sums: Sums): void {
    const short = sums.covered_s < 0.98 * DAY_S;
    setText(this.title, short ? words.ledger.energyOf(duration(sums.covered_s)) : words.ledger.energy);
    const most = Math.max(sums.energy_in_wh, sums.energy_out_wh, 1);
    const set = (row: Bar, wh: number, ah: number): void => {
      row.fill.style.transform = `scaleX(${Math.max(0, wh / most)})`;
      setText(row.value, joined(energy(wh)));
      setText(row.charge, joined(charge(ah)));
    };
    set(this.rows.in, sums.energy_in_wh, sums.charge_in_ah);
    set(this.rows.out, sums.energy_out_wh, sums.charge_out_ah);
  }
}

interface Bar {
  parts: HTMLElement[];
  fill: HTMLElement;
  value: HTMLElement;
  charge: HTMLElement;
}

function bar(way: "in" | "out", name: string): Bar {
  const fill = el("span", { class: `fill ${way}` });
  const value = el("span", { class: "value" }, NONE);
  const ah = el("span", { class: "sub" });
  fill.style.transform = "scaleX(0)";
  return {
    parts: [el("span", {}, name), el("span", { class: "track", "aria-hidden": "true" }, fill), value, ah],
    fill,
    value,
    charge: ah,
  };
}

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
