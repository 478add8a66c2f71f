import "uplot/dist/uPlot.min.css";
import { api, type Boat } from "./api";
import { el } from "./dom";
import { mountHealth } from "./health/page";
import { mountHistory } from "./history/page";
import { Live, setsClock } from "./live";
import { mountNow } from "./now/page";
import { followSystem } from "./palette";
import { mountPassages } from "./passages/page";
import { mountSetup } from "./setup/page";
import { address, read, type Page } from "./route";
import { language } from "./settings";
import { Shell } from "./shell";
import { words } from "./words";

/** What a page is given: the boat, the bank in front, the live values, and the way to another address. */
export interface Context {
  boat: Boat;
  bank: Boat["banks"][number];
  live: Live;
  query: URLSearchParams;
  go: (page: Page, query: Record<string, string | null>, replace?: boolean) => void;
}

const MOUNT: Record<Page, (main: HTMLElement, context: Context) => () => void> = {
  now: mountNow,
  history: mountHistory,
  passages: mountPassages,
  health: mountHealth,
  setup: mountSetup,
};
const app = document.getElementById("app")!;

async function boatWhenThere(): Promise<Boat> {
  const waiting = el("p", { class: "first-words", role: "status" }, words.say.joining);
  app.replaceChildren(el("main", {}, el("h1", { class: "unseen" }, words.app), waiting));
  for (;;) {
    try {
      return await api.boat();
    } catch {
      waiting.textContent = words.say.away.replaceAll("*", "");
      await new Promise((resume) => setTimeout(resume, 3000));
    }
  }
}

function run(boat: Boat): void {
  const live = new Live(boat.banks.map((bank) => bank.name));
  const shell = new Shell(app, boat, live, go);
  let leave: () => void = () => undefined;

  function go(page: Page, query: Record<string, string | null>, replace = false): void {
    history[replace ? "replaceState" : "pushState"](null, "", address(page, query));
    // A page that only notes its own state in the address stays mounted.
    if (!replace) show();
  }

  function show(): void {
    const { page, query } = read(new URL(location.href));
    const bank = boat.banks.find((each) => each.name === query.get("bank")) ?? boat.banks[0];
    leave();
    const main = shell.show(page, bank);
    if (!bank) {
      main.append(el("p", { class: "first-words" }, words.noBank));
      return;
    }
    const context: Context = { boat, bank, live, query, go };
    leave = MOUNT[page](main, context);
  }

  live.onNotice((notice) => {
    if (setsClock(notice)) void firstTimes().catch(() => undefined);
  });
  /** When each bank's record begins, by the clock as it is now. */
  async function firstTimes(): Promise<void> {
    const fresh = await api.boat();
    for (const bank of boat.banks) bank.first_time = fresh.banks.find((each) => each.name === bank.name)?.first_time ?? null;
  }

  addEventListener("popstate", show);
  show();
  live.start();
}

document.documentElement.lang = language;
followSystem();
run(await boatWhenThere());
