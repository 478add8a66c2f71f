/** What the daemon says, as nodes: what is left in English is marked as such, so that it is read aloud right. */
import { el } from "./dom";
import { said, spokenOf } from "./words/said";

export const spoken = (text: string): (Node | string)[] =>
  spokenOf(text).flatMap(({ text: each, foreign }, i) => [...(i > 0 ? [" "] : []), foreign ? el("span", { lang: "en" }, each) : each]);

/** Says it only where it differs from what stands there. */
export function setSpoken(node: Element, text: string): void {
  if (node.textContent !== said(text)) node.replaceChildren(...spoken(text));
}
