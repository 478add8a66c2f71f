/** The Passages page: the list, or one passage named in the address. */
import { care } from "../care";
import { el, setText } from "../dom";
import { every } from "../every";
import { present } from "../live";
import type { Context } from "../main";
import { reason } from "../now/terms";
import { record, type Done, type Passage } from "../record";
import { address } from "../route";
import { words } from "../words";
import { said } from "../words/said";
import { Traces } from "./drawn";
import { markSection } from "./edit";
import { Lines } from "./lines";
import { passageTable } from "./list";
import { OneView } from "./one";
import type { Reader } from "./said";

const EVERY_MS = 60_000;
const AT_ONCE = 50;

/** What a change on the view before has brought; said once on the next one. */
let carried = "";

export function mountPassages(main: HTMLElement, context: Context): () => void {
  const outcome = el("p", { class: "outcome", role: "status" }, carried);
  carried = "";
  main.append(outcome);
  const id = Number(context.query.get("passage") ?? Number.NaN);
  return Number.isInteger(id) ? mountOne(main, context, id) : mountList(main, context);
}

/** Shows what is left of a change. */
function followed({ bank, go }: Context): (done: Done, next: number | null) => void {
  return (done, next) => {
    carried = said(done.text);
    go("passages", { bank: bank.name, passage: next === null ? null : String(next) });
  };
}

function mountOne(main: HTMLElement, context: Context, id: number): () => void {
  const trouble = el("p", { class: "trouble", role: "status" });
  const view = new OneView(context, followed(context));
  main.append(trouble, view.node, care());
  view.begin();
  let told = "";
  const asked = every(
    EVERY_MS,
    async (signal) => {
      const one = await record.passage(context.bank.name, id, signal);
      setText(trouble, "");
      // What has not changed is not drawn anew under the reader's eyes.
      const text = JSON.stringify(one);
      if (text !== told || one.passage.going_on) view.show(one);
      told = text;
    },
    (why) => setText(trouble, words.passages.failed(reason(why))),
  );
  return () => {
    asked.end();
    view.end();
  };
}

function mountList(main: HTMLElement, context: Context): () => void {
  const { bank, boat, live, go } = context;
  const w = words.passages;
  const reader = (): Reader => ({ present: present(live.heard.get(bank.name)), zone: boat.zone });
  const place = el("div", { class: "list" });
  const note = el("p", { class: "first", role: "status" });
  const more = el("button", { type: "button", class: "order", hidden: true }, w.earlier);
  const query = (id: number): Record<string, string | null> => ({ bank: bank.name, passage: String(id) });
  const links = { href: (id: number) => address("passages", query(id)), go: (id: number) => go("passages", query(id)) };
  const lines = new Lines(bank.name);
  const traces = new Traces(lines, bank.reserve);
  // What stands below the list waits for it, so that nothing moves when it comes.
  const below = el("div", { hidden: true }, markSection(bank.name, reader(), followed(context)), el("p", { class: "sub explains" }, w.found), care());
  let asked = AT_ONCE;
  const show = (passages: Passage[]): void => {
    setText(note, passages.length === 0 ? w.none : "");
    more.hidden = passages.length < asked;
    const focused = place.contains(document.activeElement) && document.activeElement?.getAttribute("href");
    traces.clear();
    place.replaceChildren(...(passages.length ? [passageTable(passages, reader(), links, traces)] : []));
    if (focused) place.querySelector<HTMLElement>(`a[href="${CSS.escape(focused)}"]`)?.focus();
  };
  let told = "";
  const kept = every(
    EVERY_MS,
    async (signal) => {
      const { passages } = await record.passages(bank.name, { limit: asked }, signal);
      const text = JSON.stringify(passages);
      if (text !== told) show(passages);
      told = text;
      below.hidden = false;
    },
    (why) => {
      setText(note, w.failed(reason(why)));
      below.hidden = false;
    },
  );
  more.addEventListener("click", () => {
    asked += AT_ONCE;
    kept.again();
  });
  main.append(
    el("section", { "aria-label": w.section }, el("h2", { class: "title" }, w.title), note, place, el("p", {}, more)),
    below,
  );
  return () => {
    kept.end();
    traces.clear();
    lines.end();
  };
}
