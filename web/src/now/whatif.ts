/** The control under the picture: what if another current flowed, and the way back into the past. */
import { api, type Bank, type Branches, type Now, type Outlook } from "../api";
import { el, setText } from "../dom";
import { every, type Kept } from "../every";
import { Latest } from "../history/load";
import { keep, stored } from "../settings";
import { words } from "../words";
import { currentOf, offers, type Wish } from "./suppose";
import { reason } from "./terms";

/** The answer is asked for again this often: the bank goes on meanwhile. */
const AGAIN_MS = 15_000;
/** What branches carry changes slowly, and what they have carried hardly at all. */
const BRANCHES_MS = 60_000;

export class WhatIf {
  readonly node = el("section", { class: "what-if", "aria-label": words.suppose.section });
  private readonly choices = el("div", { class: "choices", role: "group", "aria-label": words.suppose.name });
  private readonly input: HTMLInputElement;
  private readonly trouble = el("p", { class: "trouble", role: "status", hidden: true });
  private readonly buttons = new Map<string, HTMLButtonElement>();
  private readonly answers: Latest<Outlook>;
  private readonly kept: Kept[];
  private branches: Branches = { branches: [] };
  private wish: Wish | null = null;
  private now: Now | null = null;

  constructor(
    private readonly bank: Bank,
    /** Told of the outlook at the wished current; null for the real one. */
    private readonly told: (outlook: Outlook | null) => void,
  ) {
    const w = words.suppose;
    this.input = el("input", { type: "number", class: "amount", inputmode: "decimal", min: "0", step: "any", "aria-label": w.amperes });
    this.input.value = String(remembered(bank));
    const typed = (): void => {
      remember(bank, Number.parseFloat(this.input.value));
      this.choose({ amperes: Number.parseFloat(this.input.value) });
    };
    // Not with the focus alone: whoever tabs through the page has asked for nothing.
    for (const name of ["input", "click"]) this.input.addEventListener(name, typed);
    this.input.addEventListener("keydown", (event) => event.key === "Enter" && typed());
    this.node.addEventListener("keydown", (event) => event.key === "Escape" && this.choose(null));
    this.node.append(
      el("span", { class: "name", "aria-hidden": "true" }, w.name),
      this.choices,
      el("label", { class: "plain-load" }, `${w.drawing} `, this.input, "\u202fA"),
      this.trouble,
    );
    this.answers = new Latest(
      (outlook) => {
        this.trouble.hidden = true;
        if (this.wish) this.told(outlook);
      },
      (why) => this.fail(reason(why)),
      100,
    );
    this.kept = [
      every(AGAIN_MS, async () => this.ask()),
      every(BRANCHES_MS, async (signal) => {
        this.branches = await api.branches(bank.name, signal);
        this.offer();
      }),
    ];
    this.offer();
  }

  end(): void {
    this.kept.forEach((each) => each.end());
    this.answers.end();
  }

  show(now: Now): void {
    this.now = now;
  }

  private offer(): void {
    const all: [string, string, Wish | null][] = [
      ["none", words.suppose.asItIs, null],
      ...offers(this.branches).map(({ wish, text }): [string, string, Wish] => [keyOf(wish), text, wish]),
    ];
    if (all.map(([key]) => key).join() === [...this.buttons.keys()].join()) return;
    this.buttons.clear();
    this.choices.replaceChildren(
      ...all.map(([key, text, wish]) => {
        const button = el("button", { type: "button", class: "tool", onclick: () => this.choose(wish) }, text);
        this.buttons.set(key, button);
        return button;
      }),
    );
    this.mark();
  }

  private choose(wish: Wish | null): void {
    this.wish = wish;
    this.mark();
    this.trouble.hidden = true;
    if (wish) return this.ask();
    this.answers.end();
    this.told(null);
  }

  private mark(): void {
    const chosen = this.wish === null ? "none" : keyOf(this.wish);
    for (const [key, button] of this.buttons) button.setAttribute("aria-pressed", String(key === chosen));
    this.input.classList.toggle("chosen-load", chosen === "amperes");
  }

  private ask(): void {
    if (!this.wish || !this.now) return;
    const current_a = currentOf(this.wish, this.now, this.branches);
    if (current_a === null || !Number.isFinite(current_a) || ("amperes" in this.wish && this.wish.amperes < 0)) return this.fail(words.suppose.failed);
    this.answers.ask((signal) => api.outlook(this.bank.name, current_a, signal));
  }

  private fail(why: string): void {
    this.told(null);
    setText(this.trouble, why);
    this.trouble.hidden = false;
  }
}

const keyOf = (wish: Wish): string => ("amperes" in wish ? "amperes" : `${wish.branch} ${wish.share}`);
const kept = (bank: Bank): string => `load.${bank.name}`;

/** The load chosen last on this device; at first the five-hour rate, rounded. */
function remembered(bank: Bank): number {
  const load = Number.parseFloat(stored(kept(bank)) ?? "");
  return load > 0 ? load : Number((bank.rated_capacity_ah / 5).toPrecision(1));
}

function remember(bank: Bank, load: number): void {
  if (load > 0) keep(kept(bank), String(load));
}
