/** The span that History shows: moved, zoomed, kept within what is recorded, and carried in the address. Pure. */

export interface Span {
  from: number;
  to: number;
  /** A named span that follows the present, or null where it stands still. */
  name: string | null;
}

/** What may be shown: from the first sample to the present, UTC milliseconds. */
export interface Limits {
  first: number;
  present: number;
}

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const LEAST_MS = 20_000;

export const NAMED: Record<string, number | null> = {
  "1h": HOUR,
  "6h": 6 * HOUR,
  "1d": DAY,
  "1w": 7 * DAY,
  "1mo": 30 * DAY,
  "1y": 365 * DAY,
  all: null,
};
export const USUAL = "1d";

export function named(name: string, { first, present }: Limits): Span {
  const width = NAMED[name];
  const from = width === null || width === undefined ? Math.min(first, present - LEAST_MS) : present - width;
  return { from, to: present, name };
}

/** Within the limits, by moving before shrinking. A span whose end reaches the present stays a standing one. */
export function kept(span: Span, { first, present }: Limits): Span {
  const widest = Math.max(present - first, NAMED["1y"]!) * 1.02;
  const width = Math.min(Math.max(span.to - span.from, LEAST_MS), widest);
  const middle = (span.from + span.to) / 2;
  const latest = present + 0.02 * width;
  const earliest = Math.min(first - 0.02 * width, latest - width);
  const from = Math.min(Math.max(middle - width / 2, earliest), latest - width);
  return { from, to: from + width, name: null };
}

export function moved(span: Span, share: number, limits: Limits): Span {
  const by = (span.to - span.from) * share;
  return kept({ from: span.from + by, to: span.to + by, name: null }, limits);
}

/** Zoomed by a factor (below 1 is closer) about a moment that keeps its place. */
export function zoomed(span: Span, factor: number, about: number, limits: Limits): Span {
  const width = span.to - span.from;
  const least = LEAST_MS / width;
  const by = Math.max(factor, least);
  return kept({ from: about - (about - span.from) * by, to: about + (span.to - about) * by, name: null }, limits);
}

/** The same width at one end of what is recorded. */
export function atEdge(span: Span, which: "first" | "present", limits: Limits): Span {
  const width = span.to - span.from;
  const from = which === "first" ? limits.first : limits.present - width;
  return kept({ from, to: from + width, name: null }, limits);
}

/** What a history was asked for. */
export interface Loaded {
  /** With its margins. */
  from: number;
  to: number;
  /** Of the span that it was asked for. */
  width: number;
}

/** Asked for beyond either side of a span, as a share of it, so that a drag does not run into white. */
export const MARGIN = 0.5;
/** With less of that left, more is asked for. */
const SPARE = 0.15;
/** Between these ratios of width, the bins of one span serve the other. */
const FINENESS = [0.8, 1.25] as const;

export function withMargins({ from, to }: { from: number; to: number }): Loaded {
  const width = to - from;
  return { from: from - MARGIN * width, to: to + MARGIN * width, width };
}

/** Whether what is loaded still serves a span: with room at both sides, and about as finely as if it were asked for anew. */
export function serves(loaded: Loaded, span: { from: number; to: number }): boolean {
  const width = span.to - span.from;
  const ratio = loaded.width / width;
  const room = loaded.from <= span.from - SPARE * width && loaded.to >= span.to + SPARE * width;
  return room && ratio >= FINENESS[0] && ratio <= FINENESS[1];
}

/** Followed to the present, where it is a named one. */
export const followed = (span: Span, limits: Limits): Span => (span.name === null ? span : named(span.name, limits));

export function toQuery(span: Span): Record<string, string | null> {
  if (span.name !== null) return { span: span.name, from: null, to: null };
  // Cut, not rounded: the minute that is read stays the same when the address is opened again.
  const stamp = (ms: number): string => new Date(Math.floor(ms / 1000) * 1000).toISOString().replace(".000Z", "Z");
  return { span: null, from: stamp(span.from), to: stamp(span.to) };
}

/** The span an address names; the usual one where it names none or nonsense. */
export function fromQuery(query: URLSearchParams, limits: Limits): Span {
  const from = Date.parse(query.get("from") ?? "");
  const to = Date.parse(query.get("to") ?? "");
  if (to > from) return kept({ from, to, name: null }, limits);
  const name = query.get("span");
  return named(name !== null && Object.hasOwn(NAMED, name) ? name : USUAL, limits);
}
