/** Stretches that are recorded but cannot be read: which of them lie in a span. Pure. */
import type { Unreadable } from "../api";
import type { Part } from "./stack";

/** From the first to the last of the stretches in a span, cut to it, and how many they are; null if there are none. */
export function unreadIn(stretches: Unreadable[], shown: Part): (Part & { pieces: number }) | null {
  const inside = stretches.flatMap(({ from, to }) => {
    if (from === null || to === null) return [];
    const part = { from: Math.max(Date.parse(from), shown.from), to: Math.min(Date.parse(to), shown.to) };
    return part.from <= part.to ? [part] : [];
  });
  if (inside.length === 0) return null;
  const from = Math.min(...inside.map((part) => part.from));
  const to = Math.max(...inside.map((part) => part.to));
  return { from, to, pieces: inside.length };
}
