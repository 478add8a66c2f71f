/** What taffrail is not, and what to mind: at the foot of a page. */
import { el } from "./dom";
import { words } from "./words";

export function care(): HTMLElement {
  const summary = el("summary", {}, words.care.name);
  return el(
    "footer",
    { class: "care" },
    el("p", {}, words.care.only),
    el("details", {}, summary, ...words.care.text.map((text) => el("p", {}, text))),
  );
}
