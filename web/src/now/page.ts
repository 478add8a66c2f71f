/** The Now page. */
import { api, type History, type Outlook } from "../api";
import { care } from "../care";
import { el, setText } from "../dom";
import { every, type Kept } from "../every";
import { keepLastPast, lastPast } from "../last";
import { age, present, setsClock, spoken } from "../live";
import type { Context } from "../main";
import { FurtherPast, keepPast } from "../picture/load";
import { Picture } from "../picture/picture";
import { duration, when } from "../range";
import { record } from "../record";
import { isOld, sentence } from "../sentence";
import { words } from "../words";
import { ClockSection } from "./clock";
import { figures } from "./figures";
import { LastsSection } from "./lasts";
import { BranchLedger, SPANS } from "./branches";
import { Aboard, Notices } from "./ledger";
import { Panel } from "./panel";
import { says } from "./suppose";
import { WhatIf } from "./whatif";

/** Figures older than this carry their age. */
const FRESH_S = 5;
const LEDGER_EVERY_MS = 60_000;
const HALF_DAY_MS = 43_200_000;

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
  const further = new FurtherPast(bank.name, (history) => picture.setFurther(history));
  const back = el("button", { type: "button", class: "tool", hidden: true }, words.suppose.back);
  const picture = new Picture(bank, boat.zone, (shift, from, to) => {
    back.hidden = shift === 0;
    if (shift > 0) further.ask(from, to);
  });
  back.addEventListener("click", () => picture.shiftBy(-Infinity));
  const panel = new Panel();
  const ledger = new BranchLedger(() => kept.ledger.again());
  const others = boat.banks.filter((other) => other !== bank);
  const aboard = new Aboard(others, (name) => go("now", { bank: name }));
  const notices = new Notices(at, boat.zone);
  const lasts = new LastsSection();
  const supposed = el("output", { class: "supposed", hidden: true });
  let outlook: Outlook | null = null;
  const whatIf = new WhatIf(bank, (asked) => {
    outlook = asked;
    picture.setSupposed(asked);
    lasts.showSupposed(asked);
    showSupposed();
  });
  const step = (ms: number, name: string, sign: string): HTMLElement =>
    el("button", { type: "button", class: "tool arrow", "aria-label": name, onclick: () => picture.shiftBy(ms) }, sign);
  const { earlier, later } = words.suppose;
  const steps = el("div", { class: "steps" }, step(HALF_DAY_MS, earlier, "\u2039"), step(-HALF_DAY_MS, later, "\u203a"), back);
  main.append(
    say,
    clock.node,
    el("section", { class: "pic", "aria-label": words.picture.section }, picture.node, steps, supposed),
    whatIf.node,
    panel.node,
    el("div", { class: "ledger" }, ledger.node, others.length > 0 && aboard.node, lasts.node, notices.node),
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
    for (const { node } of [lasts, ledger]) node.classList.toggle("old", old);
    lasts.show(now, moment, boat.zone);
    whatIf.show(now);
    showSupposed();
    clock.show(now);
  };
  const showSupposed = (): void => {
    const now = live.heard.get(bank.name)?.now;
    // What would be from now on cannot be told of a bank that is not heard.
    supposed.hidden = !outlook || !now || isOld(now, live.link);
    if (outlook && now) setText(supposed, says(outlook, now, at(), boat.zone));
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

  const kept: Record<"past" | "ledger" | "notices", Kept> = {
    past: day,
    ledger: every(LEDGER_EVERY_MS, async (signal) => {
      ledger.show(await record.ledger(bank.name, at() - SPANS[ledger.span] * 1000, at(), signal));
    }),
    notices: every(LEDGER_EVERY_MS, async (signal) => {
      notices.set((await api.events(8, signal)).events);
    }),
  };
  const ends = [
    live.onChange((changed) => {
      if (changed === null || changed === bank.name) show();
      if (changed !== bank.name) showOthers();
    }),
    live.onNotice((notice) => {
      notices.add(notice);
      if (setsClock(notice)) Object.values(kept).forEach((each) => each.again());
    }),
    ...Object.values(kept).map((each) => each.end),
    () => picture.end(),
    () => further.end(),
    () => whatIf.end(),
  ];
  if (live.link !== "up" && live.heard.has(bank.name)) {
    past = lastPast(bank.name);
    if (past) picture.setPast(past);
  }
  show();
  showOthers();
  return () => ends.forEach((end) => end());
}
