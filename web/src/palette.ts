/** Which light the page is for. `public/palette.js` applies the same rule before the first paint. */
import { keep, stored } from "./settings";

export type Palette = "day" | "dusk" | "night";
export type Choice = Palette | "auto" | "clock";
export const CHOICES: Choice[] = ["auto", "clock", "day", "dusk", "night"];

/** When each light begins where it goes by the clock: "HH:MM" by the boat's zone. Dawn and dusk are lit alike. */
export interface PaletteTimes {
  dawn: string;
  day: string;
  dusk: string;
  night: string;
}
export const USUAL_TIMES: PaletteTimes = { dawn: "06:00", day: "07:00", dusk: "19:00", night: "21:00" };

const isTime = (text: unknown): text is string => typeof text === "string" && /^([01]\d|2[0-3]):[0-5]\d$/.test(text);

/** Names of what is kept; `public/palette.js` reads them too. */
const CHOICE = "palette";
const TIMES = "palette-times";
const ZONE = "zone";
const MINUTE_MS = 60_000;
const dark = matchMedia("(prefers-color-scheme: dark)");
const listeners = new Set<() => void>();

export function choice(): Choice {
  return CHOICES.find((each) => each === stored(CHOICE)) ?? "auto";
}

export function choose(chosen: Choice): void {
  keep(CHOICE, chosen);
  apply(chosen);
}

export function paletteTimes(): PaletteTimes {
  let chosen: Partial<PaletteTimes> = {};
  try {
    chosen = (JSON.parse(stored(TIMES) ?? "{}") ?? {}) as Partial<PaletteTimes>;
  } catch {
    // Not what this page keeps there: the usual times hold.
  }
  const names = Object.keys(USUAL_TIMES) as (keyof PaletteTimes)[];
  return Object.fromEntries(names.map((name) => [name, isTime(chosen[name]) ? chosen[name] : USUAL_TIMES[name]])) as unknown as PaletteTimes;
}

/** Keeps when each light begins, and shows it at once. */
export function setPaletteTimes(times: PaletteTimes): void {
  keep(TIMES, JSON.stringify(times));
  apply(choice());
}

/** Keeps the boat's zone, by whose clock the light goes from the first paint of the next visit on. */
export function keepZone(zone: string): void {
  if (zone === stored(ZONE)) return;
  keep(ZONE, zone);
  apply(choice());
}

function clock(): string {
  const form = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" } as const;
  try {
    return new Intl.DateTimeFormat("en-GB", { timeZone: stored(ZONE) ?? undefined, ...form }).format(Date.now());
  } catch {
    // A zone that this browser doesn't know: its own.
    return new Intl.DateTimeFormat("en-GB", form).format(Date.now());
  }
}

/** The light at a time of day, "HH:MM", whatever order the times come in. */
export function paletteAt(at: string, times: PaletteTimes): Palette {
  const starts = (Object.keys(USUAL_TIMES) as (keyof PaletteTimes)[]).map((name) => ({ start: times[name], palette: name === "dawn" ? "dusk" : name }));
  starts.sort((a, b) => (a.start < b.start ? -1 : a.start > b.start ? 1 : 0));
  // Before the first of the day, the last of yesterday still holds.
  return (starts.filter((each) => each.start <= at).at(-1) ?? starts.at(-1)!).palette;
}

/** What a choice comes to now. */
export function shownPalette(chosen: Choice = choice()): Palette {
  if (chosen === "auto") return dark.matches ? "dusk" : "day";
  return chosen === "clock" ? paletteAt(clock(), paletteTimes()) : chosen;
}

function apply(chosen: Choice): void {
  const shown = shownPalette(chosen);
  const root = document.documentElement;
  if (root.dataset["palette"] === shown) return;
  root.dataset["palette"] = shown;
  setMeta("theme-color", colours().paper);
  setMeta("color-scheme", shown === "day" ? "light" : "dark");
  for (const listener of listeners) listener();
}

const setMeta = (name: string, content: string): void => document.querySelector(`meta[name="${name}"]`)?.setAttribute("content", content);

export function onPalette(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** Goes with the system and with the clock, as chosen, while the page is open. */
export function followLight(): void {
  dark.addEventListener("change", () => apply(choice()));
  const eachMinute = (): void => {
    apply(choice());
    setTimeout(eachMinute, MINUTE_MS - (Date.now() % MINUTE_MS) + 20);
  };
  eachMinute();
  // Timers sleep with the device.
  document.addEventListener("visibilitychange", () => apply(choice()));
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
