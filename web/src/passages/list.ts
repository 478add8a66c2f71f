/** All passages of a bank, newest first. */
import { el, inner } from "../dom";
import { day, dayAndClock } from "../format";
import type { Passage } from "../record";
import { table, value, type Row } from "../tables";
import { words } from "../words";
import type { Traces } from "./drawn";
import { lineOf, socText, spanOf, spanText, type Reader } from "./said";

export interface Links {
  href: (id: number) => string;
  go: (id: number) => void;
}

export function passageTable(passages: Passage[], reader: Reader, links: Links, traces: Traces): HTMLElement {
  const { column } = words.passages;
  return table(
    [column.passage, words.compare.trace, column.lasted, column.out, column.in, column.deepest, column.load],
    passages.map((passage) => row(passage, reader, links, traces)),
    "wide passage-list",
  );
}

function row(passage: Passage, reader: Reader, { href, go }: Links, traces: Traces): Row {
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
  const trace = span ? [traces.trace(passage, reader), fromTo(passage)] : [];
  if (!line) return { cells: [head, trace, [el("span", { class: "sub" }, words.passages.notSummed)], [], [], [], []] };
  return {
    cells: [
      head,
      trace,
      value(line.lasted),
      value(...line.out),
      line.in[1] ? value(...line.in) : [],
      passage.summary?.reserve_touched ? [el("span", { class: "minded" }, ...value(...line.deepest))] : value(...line.deepest),
      value(line.load),
    ],
  };
}

/** What the trace shows, for those who do not see it. */
function fromTo({ summary }: Passage): HTMLElement | string {
  const [begin, end] = [summary?.soc_begin ?? null, summary?.soc_end ?? null].map(socText);
  return begin && end ? el("span", { class: "unseen" }, words.compare.traceSays(begin.text, end.text)) : "";
}
