/** Which light the page is for. `public/palette.js` applies the same rule before the first paint. */

export type Palette = "day" | "dusk" | "night";
export type Choice = Palette | "auto";
export const CHOICES: Choice[] = ["auto", "day", "dusk", "night"];

const KEY = "taffrail.palette";
const dark = matchMedia("(prefers-color-scheme: dark)");
const listeners = new Set<() => void>();

export function choice(): Choice {
  try {
    const kept = localStorage.getItem(KEY) as Choice | null;
    return kept && CHOICES.includes(kept) ? kept : "auto";
  } catch {
    return "auto";
  }
}

export function choose(chosen: Choice): void {
  try {
    localStorage.setItem(KEY, chosen);
  } catch {
    // A private window keeps nothing; the choice then lasts for this page.
  }
  apply(chosen);
}

function apply(chosen: Choice): void {
  document.documentElement.dataset["palette"] = chosen === "auto" ? (dark.matches ? "dusk" : "day") : chosen;
  for (const listener of listeners) listener();
}

export function onPalette(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

export function followSystem(): void {
  dark.addEventListener("change", () => choice() === "auto" && apply("auto"));
}

const NAMES = [
  "paper", "ink", "mute", "line", "deep", "shoal", "shoal-deep", "trace", "band", "fan", "fan-shoal",
  "mark", "into", "into-soft", "out", "out-soft",
] as const;
export type Colours = Record<(typeof NAMES)[number], string>;

/** The palette's colours as the style sheet has them now, for canvases. */
export function colours(): Colours {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()])) as Colours;
}
