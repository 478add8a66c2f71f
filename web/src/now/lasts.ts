/** How long it lasts: at the present load, and at one of the reader's choosing. */
import { api, type Bank, type Endurance, type Now } from "../api";
import { el, setText } from "../dom";
import { NONE } from "../format";
import { Latest } from "../history/load";
import { setSpoken } from "../spoken";
import { words } from "../words";
import { facts, lasts, lastsNow, meanLoad, reason, untilFull } from "./terms";

const AGAIN_MS = 15_000;

interface Row {
  node: HTMLElement;
  head: HTMLElement;
  reserve: HTMLElement;
  empty: HTMLElement;
  out: HTMLElement;
}

export class LastsSection {
  readonly node = el("section", { class: "lasts" });
  private readonly input: HTMLInputElement;
  private readonly now = row();
  private readonly chosen = row();
  private readonly trouble = el("p", { class: "trouble", role: "status", hidden: true });
  private readonly text = el("p", { class: "text" });
  private readonly facts = el("dl", { class: "facts" });
  private readonly answers: Latest<Endurance>;
  private readonly timer: ReturnType<typeof setInterval>;

  constructor(private readonly bank: Bank) {
    this.input = el("input", { type: "number", class: "amount", inputmode: "decimal", min: "0", step: "any", "aria-label": words.lasts.chosen });
    this.input.value = String(remembered(bank));
    this.answers = new Latest(
      (answer) => this.tell(this.chosen, lasts(answer)),
      (why) => this.fail(reason(why)),
      200,
    );
    this.input.addEventListener("input", () => {
      remember(bank, this.load());
      this.ask();
    });
    this.chosen.head.append(this.input, "\u202fA");
    setText(this.now.head, words.lasts.rest);
    const { load, reserve, empty, comesOut } = words.lasts;
    const heads = [load, reserve, empty, comesOut].map((head) => el("th", { scope: "col" }, head));
    this.node.append(
      el("h2", {}, words.lasts.name),
      el("table", {}, el("thead", {}, el("tr", {}, ...heads)), el("tbody", {}, this.now.node, this.chosen.node)),
      this.trouble,
      this.text,
      this.facts,
    );
    this.timer = setInterval(() => this.ask(), AGAIN_MS);
    this.ask();
  }

  end(): void {
    clearInterval(this.timer);
    this.answers.end();
  }

  show(now: Now, present: number, zone: string): void {
    const full = untilFull(now);
    const present_ = lastsNow(now);
    setText(this.now.head, full || present_ ? words.lasts.mean(meanLoad(now)) : words.lasts.rest);
    if (full) this.tell(this.now, { reserve: `${full} ${words.lasts.full}`, empty: "", out: "" });
    else this.tell(this.now, present_ ?? { reserve: NONE, empty: NONE, out: NONE });
    setSpoken(this.text, now.deliverable.text);
    const said = facts(now, present, zone);
    this.facts.replaceChildren(
      ...said.map(({ name, text, more }) => el("div", {}, el("dt", {}, name), el("dd", {}, text, more && el("span", { class: "sub" }, ` ${more}`)))),
    );
  }

  private load(): number {
    return Number.parseFloat(this.input.value);
  }

  private ask(): void {
    const load = this.load();
    if (!(load > 0)) {
      this.fail(words.lasts.failed);
      return;
    }
    this.answers.ask((signal) => api.endurance(this.bank.name, load, signal));
  }

  private tell(place: Row, told: { reserve: string; empty: string; out: string }): void {
    setText(place.reserve, told.reserve);
    setText(place.empty, told.empty);
    setText(place.out, told.out);
    if (place === this.chosen) this.trouble.hidden = true;
  }

  private fail(why: string): void {
    this.tell(this.chosen, { reserve: NONE, empty: NONE, out: NONE });
    setText(this.trouble, why);
    this.trouble.hidden = false;
  }
}

function row(): Row {
  const { reserve, empty, comesOut } = words.lasts;
  const cell = (name: string): HTMLElement => el("td", { "data-name": name }, NONE);
  const parts = { head: el("th", { scope: "row" }), reserve: cell(reserve), empty: cell(empty), out: cell(comesOut) };
  return { ...parts, node: el("tr", {}, parts.head, parts.reserve, parts.empty, parts.out) };
}

const key = (bank: Bank): string => `taffrail.load.${bank.name}`;

/** The load chosen last on this device; at first the five-hour rate, rounded. */
function remembered(bank: Bank): number {
  try {
    const kept = Number.parseFloat(localStorage.getItem(key(bank)) ?? "");
    if (kept > 0) return kept;
  } catch {
    // A private window remembers nothing.
  }
  return Number((bank.rated_capacity_ah / 5).toPrecision(1));
}

function remember(bank: Bank, load: number): void {
  if (!(load > 0)) return;
  try {
    localStorage.setItem(key(bank), String(load));
  } catch {
    // The choice then lasts for this page.
  }
}
