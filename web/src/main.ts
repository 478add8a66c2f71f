import "uplot/dist/uPlot.min.css";
import { api, type Boat } from "./api";
import { el } from "./dom";
import { keepBoat, keepHeard, lastBoat, lastHeard, sameBoat } from "./last";
import { Live, setsClock } from "./live";
import { fetchAhead, fetchPage, mountOf, type Mount } from "./pages";
import { followLight, keepZone } from "./palette";
import { address, read, type Page } from "./route";
import { Shell } from "./shell";
import { tongue, words } from "./words";

/** What a page is given: the boat, the bank in front, the live values, and the way to another address. */
export interface Context {
  boat: Boat;
  bank: Boat["banks"][number];
  live: Live;
  query: URLSearchParams;
  go: (page: Page, query: Record<string, string | null>, replace?: boolean) => void;
}

/** The first picture has this long to itself before the rest of the program is fetched. */
const FIRST_PICTURE_MS = 2000;
/** The daemon has this long to name the boat; then the page opens with what was last said. */
const PATIENCE_MS = 1500;
const app = document.getElementById("app")!;

const after = (ms: number): Promise<null> => new Promise((resume) => setTimeout(resume, ms, null));

/** The boat as the daemon has it, else as it was on the last visit. */
async function boatToShow(): Promise<{ boat: Boat; fresh: boolean }> {
  const last = lastBoat();
  if (!last) return { boat: await boatWhenThere(), fresh: true };
  const boat = await Promise.race([api.boat().catch(() => null), after(PATIENCE_MS)]);
  return { boat: boat ?? last, fresh: boat !== null };
}

async function boatWhenThere(): Promise<Boat> {
  const waiting = el("p", { class: "first-words", role: "status" }, words.say.joining);
  app.replaceChildren(el("main", {}, el("h1", { class: "unseen" }, words.app), waiting));
  for (;;) {
    try {
      return await api.boat();
    } catch {
      waiting.textContent = words.say.away.replaceAll("*", "");
      await after(3000);
    }
  }
}

function run({ boat, fresh }: { boat: Boat; fresh: boolean }): void {
  keepZone(boat.zone);
  if (fresh) keepBoat(boat);
  const live = new Live(boat.banks.map((bank) => bank.name), fresh ? new Map() : lastHeard(boat));
  const shell = new Shell(app, boat, live, go);
  let leave: () => void = () => undefined;
  /** Counts the pages asked for: one that comes after the next was asked for is not shown. */
  let asked = 0;

  function go(page: Page, query: Record<string, string | null>, replace = false): void {
    history[replace ? "replaceState" : "pushState"](null, "", address(page, query));
    // A page that only notes its own state in the address stays mounted.
    if (!replace) show();
  }

  /** What is shown stays until the next page is here; most often it is already. */
  function show(): void {
    const { page, query } = read(new URL(location.href));
    const turn = ++asked;
    const mount = mountOf(page);
    if (mount) put(page, query, mount);
    else {
      void fetchPage(page).then(
        (came) => turn === asked && put(page, query, came),
        () => turn === asked && put(page, query, mountLater),
      );
    }
  }

  function put(page: Page, query: URLSearchParams, mount: Mount): void {
    const bank = boat.banks.find((each) => each.name === query.get("bank")) ?? boat.banks[0];
    leave();
    const main = shell.show(page, bank);
    if (!bank) {
      main.append(el("p", { class: "first-words" }, words.noBank));
      return;
    }
    leave = mount(main, { boat, bank, live, query, go });
  }

  /** Asks for the boat anew: another one, or other banks, need another page; a clock that was set moves when records begin. */
  async function confirm(): Promise<void> {
    const told = await api.boat();
    keepBoat(told);
    if (!sameBoat(boat, told)) location.reload();
    for (const bank of boat.banks) bank.first_time = told.banks.find((each) => each.name === bank.name)?.first_time ?? null;
  }

  live.onNotice((notice) => {
    if (setsClock(notice)) void confirm().catch(() => undefined);
  });
  let unsure = !fresh;
  live.onChange(() => {
    if (live.link === "away") unsure = true;
    if (live.link !== "up" || !unsure) return;
    unsure = false;
    void confirm().catch(() => (unsure = true));
  });

  addEventListener("popstate", show);
  // The questions are on their way while the page is built.
  live.start();
  show();
  keepHeard(live);
  setTimeout(() => {
    fetchAhead();
    keepOpening();
  }, FIRST_PICTURE_MS);
}

/** Lets the page open while the daemon is away. Browsers allow that over https and on the daemon's own computer alone. */
function keepOpening(): void {
  if (import.meta.env.PROD && "serviceWorker" in navigator) void navigator.serviceWorker.register("/sw.js").catch(() => undefined);
}

/** Stands in for a page whose program cannot be fetched: the daemon is away, or is of another build than this page. */
function mountLater(main: HTMLElement, { live }: Context): () => void {
  main.append(el("p", { class: "first-words", role: "status" }, words.say.away.replaceAll("*", "")));
  // Where even the daemon's own page lacks its parts, loading it anew must not become a race.
  return live.onChange(() => live.link === "up" && performance.now() > 10_000 && location.reload());
}

document.documentElement.lang = tongue;
followLight();
// Asked for at once, so that program and boat come side by side; where it fails, it is asked for again when it is put up.
void fetchPage(read(new URL(location.href)).page).catch(() => undefined);
run(await boatToShow());
