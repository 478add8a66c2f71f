/** What went in and out on each local day in view, below the picture. */
import { api, type Day, type Days } from "../api";
import { el, setText } from "../dom";
import { charge, day as dayName, energy, joined, number } from "../format";
import { reason } from "../now/terms";
import { words } from "../words";
import { civil } from "../zone";
import { Latest } from "./load";
import type { Part } from "./stack";

const MOST = 31;
const DAY_MS = 86_400_000;
const HOUR = 3600;
/** Today's sums are asked for again this often. */
const EVERY_MS = 60_000;
/** Less than this is missing of a day at every restart: not worth a word, s. */
const SLACK_S = 90;

export interface Asked {
  from: string;
  to: string;
  /** Days in view; more than are asked for where it is a long span. */
  inView: number;
}

const date = (dayNumber: number): string => new Date(dayNumber * DAY_MS).toISOString().slice(0, 10);

/** The local days of a span up to the present, the last ones where there are too many; null where none is. */
export function daysIn({ from, to }: Part, present: number, zone: string): Asked | null {
  const last = civil(Math.min(to - 1, present), zone).dayNumber;
  const first = civil(from, zone).dayNumber;
  if (last < first) return null;
  return { from: date(Math.max(first, last - MOST + 1)), to: date(last), inView: last - first + 1 };
}

export interface Row {
  day: string;
  /** In, out and net, each as charge and energy. */
  sums: [string, string][];
  /** How much of the day is recorded, where it is not all of a day of 24 hours. */
  recorded: string;
}

/** A day as it reads. */
export function rowOf(day: Day, present: number, zone: string): Row {
  const start = Date.parse(day.start);
  const { days } = words.history;
  return {
    day: dayName(start, zone, present),
    sums: [
      [joined(charge(day.charge_in_ah)), joined(energy(day.energy_in_wh))],
      [joined(charge(day.charge_out_ah)), joined(energy(day.energy_out_wh))],
      [joined(charge(day.charge_in_ah - day.charge_out_ah, true)), joined(energy(day.energy_in_wh - day.energy_out_wh, true))],
    ],
    recorded: recorded(),
  };

  function recorded(): string {
    const whole = hours(day.length_s);
    const lived_s = Math.min(day.length_s, (present - start) / 1000);
    if (lived_s < day.length_s) return days.soFar(hours(day.covered_s));
    if (day.covered_s < day.length_s - SLACK_S) return days.part(tenths(day.covered_s), whole);
    return day.length_s === 24 * HOUR ? "" : days.all(whole);
  }
}

/** Hours to a tenth, never rounded up to a whole that they are not. */
function tenths(s: number): string {
  const value = Math.floor((s / HOUR) * 10 + 1e-6) / 10;
  return number(value, Number.isInteger(value) ? 0 : 1);
}

const hours = (s: number): string => joined({ value: tenths(s), unit: words.unit.hours });

export class ByDay {
  readonly node = el("section", { class: "by-day" });
  private readonly limit = el("span", { class: "sub" });
  private readonly body = el("tbody");
  private readonly table: HTMLElement;
  private readonly note = el("p", { class: "sub", role: "status" });
  private readonly answers: Latest<Days>;
  private asked = { key: "", at: 0 };

  constructor(
    private readonly bank: string,
    private readonly zone: string,
    private readonly present: () => number,
  ) {
    const { days } = words.history;
    const names = [days.day, days.in, days.out, days.net, days.recorded];
    const head = el("tr", {}, ...names.map((name) => el("th", { scope: "col" }, name)));
    this.table = el("table", { hidden: true }, el("thead", {}, head), this.body);
    this.node.append(el("h2", {}, days.name, " ", this.limit), this.table, this.note);
    this.answers = new Latest(
      (answer) => this.take(answer),
      (why) => {
        this.asked.key = "";
        setText(this.note, days.failed(reason(why)));
      },
      400,
    );
  }

  /** Shows the days of a span; asks only where they are others than before, or today's are old. */
  show(span: Part): void {
    const present = this.present();
    const wanted = daysIn(span, present, this.zone);
    const key = wanted ? `${wanted.from} ${wanted.to}` : "none";
    const old = span.to >= present && present - this.asked.at >= EVERY_MS;
    setText(this.limit, wanted && wanted.inView > MOST ? words.history.days.newest(number(MOST, 0)) : "");
    if (key === this.asked.key && !old) return;
    this.asked = { key, at: present };
    if (wanted) this.answers.ask((signal) => api.days(this.bank, wanted.from, wanted.to, signal));
    else this.take({ zone: this.zone, days: [] });
  }

  end(): void {
    this.answers.end();
  }

  private take({ days }: Days): void {
    const present = this.present();
    // A day without a sample is a line without news.
    const rows = days.filter((day) => day.covered_s > 0).reverse();
    this.table.hidden = rows.length === 0;
    setText(this.note, rows.length === 0 ? words.history.days.none : "");
    this.body.replaceChildren(...rows.map((day) => this.row(rowOf(day, present, this.zone))));
  }

  private row({ day, sums, recorded }: Row): HTMLElement {
    const { days } = words.history;
    const names = [days.in, days.out, days.net];
    const cells = sums.map(([ah, kwh], i) => el("td", { "data-name": names[i] }, el("b", {}, ah), " ", el("span", { class: "sub" }, kwh)));
    return el("tr", {}, el("th", { scope: "row" }, day), ...cells, el("td", { class: "sub" }, recorded));
  }
}
