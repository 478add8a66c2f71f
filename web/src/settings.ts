/** What the reader has chosen for this device: language, units, clock. Kept by the browser, read once when the page is loaded. */

export const LANGUAGES = ["en", "de"] as const;
export type Language = (typeof LANGUAGES)[number];
export type TemperatureUnit = "C" | "F";
export type ClockHours = "24" | "12";

const KEY = "taffrail.";

/** A choice as it was kept; null where there is none. */
export function stored(name: string): string | null {
  try {
    return localStorage.getItem(KEY + name);
  } catch {
    // Storage refused, or none at all (tests).
    return null;
  }
}

/** Keeps a choice, for the visits that follow. */
export function keep(name: string, value: string): void {
  try {
    localStorage.setItem(KEY + name, value);
  } catch {
    // Storage refused: what was chosen lasts for this page.
  }
}

const wished = (): readonly string[] => (typeof navigator === "undefined" ? [] : (navigator.languages ?? [navigator.language]));
const isLanguage = (tag: string | null | undefined): tag is Language => LANGUAGES.some((each) => each === tag);

/** The chosen language, else the first of the browser's that there are words in, else English. `public/palette.js` goes by the same rule. */
export const language: Language = ((): Language => {
  const chosen = stored("language");
  if (isLanguage(chosen)) return chosen;
  return wished().map((tag) => tag.slice(0, 2).toLowerCase()).find(isLanguage) ?? "en";
})();

const USUAL: Record<Language, string> = { en: "en-GB", de: "de-DE" };

/** How numbers and dates are written: the browser's own region of that language where it names one. */
export const locale: string = wished().find((tag) => tag.length > 2 && tag.toLowerCase().startsWith(language)) ?? USUAL[language];

export const temperatureUnit: TemperatureUnit = stored("temperature") === "F" ? "F" : "C";
export const clockHours: ClockHours = stored("clock") === "12" ? "12" : "24";
