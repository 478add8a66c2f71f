/** Fixes, events and passages above the charts: which of them stand together, and what they say. Pure. */
import type { Mark } from "../api";
import { charge, dayAndClock, joined, number } from "../format";
import { lasted, spanOf, spanText, titleOf, type Reader } from "../passages/said";
import type { Passage } from "../record";
import { words } from "../words";
import { said } from "../words/said";
import type { Part } from "./stack";

/** Closer marks than this could not be hit by themselves. */
const NEAR_PX = 20;
/** A shorter passage than this has no room of its own. */
export const LEAST_PX = 10;

export interface Cluster {
  x: number;
  marks: Mark[];
}

/** Marks that would cover each other become one; a fix gives the cluster its look. */
export function clusters(marks: Mark[], x: (ms: number) => number, width: number): Cluster[] {
  const found: Cluster[] = [];
  for (const mark of [...marks].sort((a, b) => a.time_ms - b.time_ms)) {
    const at = x(mark.time_ms);
    if (at < 0 || at > width) continue;
    const last = found.at(-1);
    if (last && at - last.x < NEAR_PX) last.marks.push(mark);
    else found.push({ x: at, marks: [mark] });
  }
  return found;
}

/** A passage on the row, or several that are too short to stand apart; pixels. */
export interface Bar {
  from: number;
  to: number;
  passages: Passage[];
}

/** Passages cut to the row; short ones that would cover each other become one. */
export function bars(passages: Passage[], x: (ms: number) => number, width: number, reader: Reader): Bar[] {
  const placed = passages.flatMap((passage) => {
    const span = spanOf(passage, reader);
    if (!span || x(span.to) < 0 || x(span.from) > width) return [];
    return [{ from: Math.max(0, x(span.from)), to: Math.min(width, x(span.to)), passages: [passage] }];
  });
  const found: Bar[] = [];
  for (const bar of placed.sort((a, b) => a.from - b.from)) {
    const last = found.at(-1);
    const short = (each: Bar): boolean => each.to - each.from < LEAST_PX;
    if (last && bar.from < Math.max(last.to, last.from + LEAST_PX) && (short(bar) || short(last))) {
      last.passages.push(...bar.passages);
      last.to = Math.max(last.to, bar.to);
    } else found.push(bar);
  }
  return found;
}

/** One thing that a note tells. */
export interface Told {
  title: string;
  when: string;
  text: string;
  /** Whether the daemon said it: its words are then put into the reader's language. */
  daemon: boolean;
  /** What is shown when the reader goes there. */
  span: Part;
  passage: number | null;
}

/** The kind of an event that a reader wrote. */
const NOTE = "note";
/** Shown on either side of a mark that the reader goes to. */
const AROUND_MS = 30 * 60_000;

export function toldOfMark({ time_ms: at, title, text }: Mark, { zone, present }: Reader): Told {
  const name = words.charts.mark.kind[title] ?? said(title);
  const daemon = title !== NOTE;
  return { title: name, when: dayAndClock(at, zone, present), text: text === title ? "" : text, daemon, span: { from: at - AROUND_MS, to: at + AROUND_MS }, passage: null };
}

export function toldOfPassage(passage: Passage, reader: Reader): Told {
  const span = spanOf(passage, reader) ?? { from: reader.present, to: reader.present };
  const margin = Math.max(60_000, 0.05 * (span.to - span.from));
  const { summary, note } = passage;
  const moved = summary ? words.charts.mark.moved(joined(charge(summary.charge_out_ah)), joined(charge(summary.charge_in_ah))) : "";
  // One without a name is called by its beginning: that need not be said twice.
  const rest = passage.going_on ? words.passages.goingOn : lasted((span.to - span.from) / 1000);
  return {
    title: titleOf(passage, reader),
    when: passage.name ? spanText(passage, reader) : rest,
    text: [moved, note].filter(Boolean).join("\n"),
    daemon: false,
    span: { from: span.from - margin, to: span.to + margin },
    passage: passage.id,
  };
}

/** What a button says of all that it stands for. */
export function labelOf(told: Told[], several: (count: string) => string): string {
  const [first] = told;
  if (told.length === 1) return `${first!.title}, ${first!.when}`;
  return `${several(number(told.length, 0))}, ${first!.when}`;
}
