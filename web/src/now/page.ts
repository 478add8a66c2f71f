/** The Now page. */
import { api, type History } from "../api";
import { care } from "../care";
import { el } from "../dom";
import { every, type Kept } from "../every";
import { keepLastPast, lastPast } from "../last";
import { age, present, setsClock, spoken } from "../live";
import type { Context } from "../main";
import { keepPast } from "../picture/load";
import { Picture } from "../picture/picture";
import { duration, when } from "../range";
import { isOld, sentence } from "../sentence";
import { words } from "../words";
import { ClockSection } from "./clock";
import { figures } from "./figures";
import { LastsSection } from "./lasts";
import { LearnedSection } from "./learned";
import { Aboard, Energy, Notices } from "./ledger";
import { Orders } from "./orders";
import { Panel } from "./panel";

/** Figures older than this carry their age. */
const FRESH_S = 5;
const SUMS_EVERY_MS = 60_000;
const DAY_MS = 86_400_000;

export function mountNow(main: HTMLElement, { boat, bank, live, go }: Context): () => void {
  const at = (): number => present(live.heard.get(bank.name));
  let past: History | null = null;
  // Asked first: the answer is on its way while everything below is built.
  const day = keepPast(bank.name, at, (history) => {
    past = history;
    picture.setPast(history);
    keepLastPast(bank.name, history);
    show();
  });
  const say = el("p", { class: "say", role: "status" });
  const clock = new ClockSection(boat.zone);
  const picture = new Picture(bank, boat.zone);
  const panel = new Panel();
  const energy = new Energy();
  const others = boat.banks.filter((other) => other !== bank);
  const aboard = new Aboard(others, (name) => go("now", { bank: name }));
  const notices = new Notices(at, boat.zone);
  const lasts = new LastsSection(bank);
  const learned = new LearnedSection();
  const orders = new Orders(bank);
  const known = el("div", { class: "known" }, lasts.node, learned.node, orders.node);
  main.append(
    say,
    clock.node,
    el("section", { class: "pic", "aria-label": words.picture.section }, picture.node),
    panel.node,
    el("div", { class: "ledger" }, energy.node, others.length > 0 && aboard.node, notices.node),
    known,
    care(),
  );

  const show = (): void => {
    const heard = live.heard.get(bank.name);
    const now = heard?.now ?? null;
    const moment = at();
    const said = sentence({ now, present: moment, zone: boat.zone, link: live.link });
    if (said.map((piece) => piece.text).join("") !== say.textContent) {
      say.replaceChildren(...said.map((piece) => el("span", { class: piece.tone }, piece.text)));
    }
    if (!heard || !now) return;
    const old = isOld(now, live.link);
    panel.show(figures(bank, now, past), old, staleness(age(heard), now.time, old));
    // While the daemon is away, nothing is known of the time since: the picture stands.
    const stands = live.link !== "up";
    picture.setNow(now, (stands ? spoken(heard) : null) ?? moment, old, stands);
    known.classList.toggle("old", old);
    lasts.show(now, moment, boat.zone);
    learned.show(now, moment, boat.zone);
    orders.show(now);
    clock.show(now);
  };
  const staleness = (s: number | null, time: string | null, old: boolean): string => {
    if (s === null || time === null || (s <= FRESH_S && !old)) return "";
    return old ? words.figure.old(when(Date.parse(time), at(), boat.zone), duration(s)) : words.figure.heard(duration(s));
  };
  const showOthers = (): void => {
    for (const other of others) {
      const heard = live.heard.get(other.name);
      if (heard) aboard.show(heard.now, live.link);
    }
  };

  const kept: Kept[] = [
    day,
    every(SUMS_EVERY_MS, async (signal) => {
      energy.show(await api.sums(bank.name, at() - DAY_MS, at(), signal));
    }),
    every(SUMS_EVERY_MS, async (signal) => {
      notices.set((await api.events(8, signal)).events);
    }),
  ];
  const ends = [
    live.onChange((changed) => {
      if (changed === null || changed === bank.name) show();
      if (changed !== bank.name) showOthers();
    }),
    live.onNotice((notice) => {
      notices.add(notice);
      if (setsClock(notice)) kept.forEach((each) => each.again());
    }),
    ...kept.map((each) => each.end),
    () => picture.end(),
    () => lasts.end(),
  ];
  if (live.link !== "up" && live.heard.has(bank.name)) {
    past = lastPast(bank.name);
    if (past) picture.setPast(past);
  }
  show();
  showOthers();
  return () => ends.forEach((end) => end());
}
