/** The Health page: what the record means, what to do, and what it rests on. */
import { care } from "../care";
import { el, setText } from "../dom";
import { every } from "../every";
import { present } from "../live";
import type { Context } from "../main";
import { reason } from "../now/terms";
import { onPalette } from "../palette";
import { record, reports, type HealthRecord } from "../record";
import { spoken } from "../spoken";
import { words } from "../words";
import { adviceSection } from "./advice";
import { CapacitySection } from "./capacity";
import { sentence, spanText, type Reader } from "./said";
import { sections } from "./sections";
import { sureText } from "./sure";

/** The record changes once an hour at most, and after a fix. */
const EVERY_MS = 5 * 60_000;

export function mountHealth(main: HTMLElement, { bank, boat, live }: Context): () => void {
  const reader = (): Reader => ({ present: present(live.heard.get(bank.name)), zone: boat.zone });
  const say = el("p", { class: "say-passage", role: "status" }, words.health.loading);
  const sure = el("p", { class: "sure" });
  const about = el("p", { class: "about" });
  const notes = el("div", { class: "notes" });
  const advice = el("div");
  const capacity = new CapacitySection(reader);
  const rest = el("div", { class: "columns" });
  const all = el("div", { class: "record", hidden: true }, advice, capacity.node, rest);
  main.append(say, sure, about, notes, all, care());

  const show = (found: HealthRecord): void => {
    say.replaceChildren(...sentence(found).map((piece) => el("span", { class: piece.tone }, piece.text)));
    sure.replaceChildren(el("b", {}, `${words.evidence.sure}: `), sureText(found, reader()));
    about.replaceChildren(el("span", {}, spanText(found, reader())), el("a", { href: reports.health(bank.name), class: "onward" }, words.health.report));
    notes.replaceChildren(...found.notes.map((note) => el("p", {}, ...spoken(note))));
    advice.replaceChildren(adviceSection(found));
    all.hidden = false;
    capacity.show(found);
    rest.replaceChildren(...sections(found, reader()));
  };
  let told = "";
  const kept = every(
    EVERY_MS,
    async (signal) => {
      const found = await record.health(bank.name, signal);
      const text = JSON.stringify(found);
      if (text !== told) show(found);
      told = text;
    },
    (why) => setText(say, words.health.failed(reason(why))),
  );
  const ends = [onPalette(() => capacity.build()), () => kept.end(), () => capacity.end()];
  void document.fonts.ready.then(() => capacity.build());
  return () => ends.forEach((end) => end());
}
