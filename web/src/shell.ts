/** What stays around every page: boat, banks, time, pages, light. */
import type { Bank, Boat } from "./api";
import { el, inner, setText } from "./dom";
import { clock, day } from "./format";
import { present, type Live } from "./live";
import { CHOICES, choice, choose } from "./palette";
import { address, PAGES, type Page } from "./route";
import { words } from "./words";

type Go = (page: Page, query: Record<string, string | null>) => void;

export class Shell {
  private readonly header = el("header", { class: "bar" });
  private readonly time = el("span", { class: "time" });
  private main = el("main");
  private bank: Bank | undefined;

  constructor(
    private readonly app: HTMLElement,
    private readonly boat: Boat,
    private readonly live: Live,
    private readonly go: Go,
  ) {
    live.onChange(() => this.tick());
  }

  /** Draws the header for a page and hands back the empty main element. */
  show(page: Page, bank: Bank | undefined): HTMLElement {
    this.bank = bank;
    document.title = `${words.page[page]} · ${bank?.title ?? this.boat.boat} · ${words.app}`;
    const active = document.activeElement;
    const focused = active?.getAttribute("href") ?? null;
    // The link of a bank and that of a page may lead to the same address.
    const among = active?.closest("nav")?.className ?? "";
    this.header.replaceChildren(
      el("h1", {}, this.boat.boat, el("span", { class: "unseen" }, `, ${words.page[page]}, ${bank?.title ?? ""}`)),
      this.time,
      el(
        "nav",
        { class: "banks", "aria-label": words.nav.banks },
        ...this.boat.banks.map((each) => this.link(page, each, each.title, each === bank, "true")),
      ),
      el(
        "nav",
        { class: "pages", "aria-label": words.nav.pages },
        ...PAGES.map((each) => this.link(each, bank, words.page[each], each === page, "page")),
      ),
      lightControl(),
    );
    this.main = el("main", { class: page });
    this.app.replaceChildren(this.header, this.main);
    this.tick();
    if (focused && among) this.header.querySelector<HTMLElement>(`.${among} a[href="${CSS.escape(focused)}"]`)?.focus();
    return this.main;
  }

  private link(page: Page, bank: Bank | undefined, text: string, here: boolean, current: string): HTMLElement {
    const query = { bank: bank?.name ?? null };
    return inner({ href: address(page, query), "aria-current": here ? current : undefined }, () => this.go(page, query), text);
  }

  private tick(): void {
    const at = present(this.bank && this.live.heard.get(this.bank.name));
    const { zone } = this.boat;
    setText(this.time, `${day(at, zone, at)} ${clock(at, zone)} ${zone}`);
  }
}

/** One word that opens to four; it is built of the page itself, since a native list would shine white in the dark. */
function lightControl(): HTMLElement {
  const shown = el("span", {}, words.palette[choice()]);
  const summary = el("summary", { "aria-label": words.palette.open(words.palette[choice()]) }, shown);
  const control = el("details", { class: "light" }, summary);
  const options = CHOICES.map((each) => {
    const input = el("input", { type: "radio", name: "light", value: each });
    input.checked = each === choice();
    input.addEventListener("change", () => {
      choose(each);
      setText(shown, words.palette[each]);
      summary.setAttribute("aria-label", words.palette.open(words.palette[each]));
    });
    return el("label", {}, input, words.palette[each]);
  });
  control.append(el("div", { role: "radiogroup", "aria-label": words.palette.name }, ...options));
  control.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    control.open = false;
    summary.focus();
  });
  control.addEventListener("focusout", (event) => {
    const next = event.relatedTarget as Node | null;
    if (next && !control.contains(next)) control.open = false;
  });
  // Choosing with the pointer is done with one tap; arrow keys go on choosing.
  control.addEventListener("click", (event) => {
    if (event.detail > 0 && (event.target as Element).matches("label")) setTimeout(() => (control.open = false), 150);
  });
  return control;
}
