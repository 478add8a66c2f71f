/** Tables and short lists of values, as the pages Passages and Health have them. */
import { el } from "./dom";

export type Content = Node | string;

/** A value with what is said more quietly about it. */
export const value = (text: string, more = ""): Content[] => [el("b", {}, text), ...(more ? [" ", el("span", { class: "sub" }, more)] : [])];

export interface Row {
  cells: Content[][];
  /** Such as `minded` for a row to be minded. */
  class?: string;
}

/** A table whose first column names its rows. Where it is too narrow for its columns, each value stands behind its own name. */
export function table(names: string[], rows: Row[], kind = ""): HTMLElement {
  const head = el("tr", {}, ...names.map((name) => el("th", { scope: "col" }, name)));
  const body = rows.map(({ cells, class: mark }) =>
    el(
      "tr",
      { class: mark },
      ...cells.map((content, i) => (i === 0 ? el("th", { scope: "row" }, ...content) : el("td", { "data-name": names[i] }, ...content))),
    ),
  );
  return el("div", { class: `plain ${kind}`.trim() }, el("table", {}, el("thead", {}, head), el("tbody", {}, ...body)));
}

export interface Fact {
  name: string;
  text: string;
  more?: string;
  class?: string;
}

/** Names and their values. */
export function factList(facts: Fact[]): HTMLElement {
  return el(
    "dl",
    { class: "fact-list" },
    ...facts.map((fact) =>
      el(
        "div",
        { class: fact.class },
        el("dt", {}, fact.name),
        el("dd", {}, ...value(fact.text, fact.more)),
      ),
    ),
  );
}

export interface Bar {
  name: string;
  /** Length, 0..1 of the longest possible. */
  share: number;
  text: string;
}

/** Shares as bars on one scale, with their values as text. */
export function bars(head: [string, string], rows: Bar[]): HTMLElement {
  const most = Math.max(...rows.map((row) => row.share), 1e-9);
  return el(
    "table",
    { class: "bar-list" },
    el("thead", {}, el("tr", {}, el("th", { scope: "col" }, head[0]), el("td", { "aria-hidden": "true" }), el("th", { scope: "col" }, head[1]))),
    el(
      "tbody",
      {},
      ...rows.map(({ name, share, text }) => {
        const fill = el("span", { class: "fill" });
        fill.style.width = `${(100 * share) / most}%`;
        return el("tr", {}, el("th", { scope: "row" }, name), el("td", { "aria-hidden": "true" }, fill), el("td", {}, text));
      }),
    ),
  );
}
