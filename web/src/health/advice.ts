/** What to do, why, and on what evidence. */
import { el } from "../dom";
import type { Advice, HealthRecord } from "../record";
import { spoken } from "../spoken";
import { words } from "../words";

export function adviceSection({ advice, capacity }: HealthRecord): HTMLElement {
  const w = words.health.advice;
  if (advice.length === 0) {
    return el("section", { class: "advice" }, el("h2", {}, w.name), el("p", { class: "text" }, capacity.latest ? w.none : w.noneYet));
  }
  return el(
    "section",
    { class: "advice" },
    el("h2", {}, w.name),
    el("ul", {}, ...advice.map(item)),
    // Advice may lead to work on the bank.
    el("p", { class: "cautions" }, el("b", {}, `${words.health.cautions}: `), words.care.text.join(" ")),
  );
}

function item(each: Advice): HTMLElement {
  const w = words.health.advice;
  const priority = words.evidence.priority[each.priority];
  const more: [string, string][] = [
    [w.seen, each.evidence],
    [w.source, each.source],
  ];
  return el(
    "li",
    {},
    el("h3", { class: priority ? "minded" : undefined }, ...spoken(each.title), priority && " ", priority && el("span", { class: "sub" }, priority)),
    el("p", {}, el("b", {}, ...spoken(each.action)), " ", ...spoken(each.reason)),
    ...more.filter(([, text]) => text).map(([name, text]) => el("p", { class: "sub" }, `${name}: `, ...spoken(text))),
  );
}
