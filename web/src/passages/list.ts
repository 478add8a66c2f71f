/** All passages of a bank, newest first. */
import { el, inner } from "../dom";
import { day, dayAndClock } from "../format";
import type { Passage } from "../record";
import { table, value, type Row } from "../tables";
import { words } from "../words";
import { lineOf, spanOf, spanText, type Reader } from "./said";

export interface Links {
  href: (id: number) => string;
  go: (id: number) => void;
}

export function passageTable(passages: Passage[], reader: Reader, links: Links): HTMLElement {
  const { column } = words.passages;
  return table(
    [column.passage, column.lasted, column.out, column.in, column.deepest, column.load],
    passages.map((passage) => row(passage, reader, links)),
    "wide passage-list",
  );
}

function row(passage: Passage, reader: Reader, { href, go }: Links): Row {
  const { name, id } = passage;
  const line = lineOf(passage, reader);
  const span = spanOf(passage, reader);
  // Without a name the day stands for it, and the clock times follow more quietly.
  const shown = name || (span ? day(span.from, reader.zone, reader.present) : words.passages.undated);
  const begun = span && dayAndClock(span.from, reader.zone, reader.present);
  const more = [
    name ? spanText(passage, reader) : spanText(passage, reader).replace(`${shown} `, ""),
    passage.origin === "hand" && words.passages.byHand,
  ].filter(Boolean);
  const label = name || !begun ? undefined : words.passages.unnamed(begun);
  const link = inner({ href: href(id), "aria-label": label }, () => go(id), shown);
  const head = [link, " ", el("span", { class: "sub" }, more.join(", "))];
  if (!line) return { cells: [head, [el("span", { class: "sub" }, words.passages.notSummed)], [], [], [], []] };
  return {
    cells: [
      head,
      value(line.lasted),
      value(...line.out),
      line.in[1] ? value(...line.in) : [],
      passage.summary?.reserve_touched ? [el("span", { class: "minded" }, ...value(...line.deepest))] : value(...line.deepest),
      value(line.load),
    ],
  };
}
