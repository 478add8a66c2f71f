/** The line of sums above the charts: of what is shown, or of the span that is chosen. */
import type { Sums } from "../api";
import { el, setText } from "../dom";
import { charge, clock, clockSeconds, current, day, dayAndClock, energy, joined } from "../format";
import { length } from "../range";
import { words } from "../words";
import { civil } from "../zone";
import type { Part } from "./stack";

export class SumLine {
  readonly node: HTMLElement;
  private readonly sums = el("p", { class: "sums", role: "status" });
  private readonly see: HTMLButtonElement;

  /** `see` leads to what else is known of a chosen span. */
  constructor(see: () => void) {
    this.see = el("button", { type: "button", class: "order see", hidden: true, onclick: see }, words.charts.part.see);
    this.node = el("div", { class: "told" }, this.sums, this.see, el("p", { class: "hint" }, words.history.measureHint));
  }

  say(text: string): void {
    setText(this.sums, text);
  }

  /** `name` is of the chosen span; null for what is shown. */
  show(sums: Sums, span: Part, name: string | null): void {
    const { history } = words;
    const hours = sums.covered_s / 3600;
    const title = name === null ? `${history.shown}, ${length(span.to - span.from)}` : `${history.chosen} ${name}, ${length(span.to - span.from)}`;
    const pieces: string[][] =
      hours > 0
        ? [
            [history.in, joined(charge(sums.charge_in_ah)), joined(energy(sums.energy_in_wh))],
            [history.out, joined(charge(sums.charge_out_ah)), joined(energy(sums.energy_out_wh))],
            [history.mean, joined(current((sums.charge_in_ah - sums.charge_out_ah) / hours, true))],
          ]
        : [];
    this.sums.replaceChildren(
      el("span", { class: name === null ? "name" : "name part" }, title),
      ...(pieces.length ? pieces.map(([label, ...values]) => el("span", { class: "sum" }, `${label} `, ...values.map((value) => el("b", {}, value)))) : [el("span", { class: "sum" }, history.none)]),
    );
  }

  setChosen(chosen: boolean): void {
    this.see.hidden = !chosen;
  }
}

/** From when to when, as finely as the span deserves. */
export function spanText(span: Part, zone: string, present: number): string {
  const sameDay = civil(span.from, zone).dayNumber === civil(span.to, zone).dayNumber;
  const long = span.to - span.from > 14 * 86_400_000;
  const fine = span.to - span.from < 10 * 60_000;
  const at = (ms: number): string => (long ? day(ms, zone, present) : dayAndClock(ms, zone, present));
  const end = fine ? clockSeconds(span.to, zone) : clock(span.to, zone);
  const start = fine ? `${day(span.from, zone, span.to)} ${clockSeconds(span.from, zone)}` : at(span.from);
  return words.history.fromTo(start, sameDay ? end : at(span.to));
}
