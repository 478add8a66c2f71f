/** How this device shows the page: language, unit of temperature, clock. Kept by the browser; the page is loaded anew with it. */
import { el } from "../dom";
import { clockHours, keep, language, LANGUAGES, temperatureUnit } from "../settings";
import { words } from "../words";

/** Names of the languages, each in itself. */
const OWN_NAMES: Record<(typeof LANGUAGES)[number], string> = { en: "English", de: "Deutsch" };

export function choicesSection(): HTMLElement {
  const w = words.setup.choices;
  return el(
    "section",
    { class: "choices-of-device" },
    el("h2", {}, w.name),
    one("language", w.language, language, LANGUAGES.map((each): [string, string] => [each, OWN_NAMES[each]])),
    one("temperature", w.temperature, temperatureUnit, [["C", "°C"], ["F", "°F"]]),
    one("clock", w.clock, clockHours, [["24", w.hours24], ["12", w.hours12]]),
    el("p", { class: "sub" }, w.more),
  );
}

function one(name: "language" | "temperature" | "clock", title: string, chosen: string, options: [string, string][]): HTMLElement {
  const inputs = options.map(([value, text]) => {
    const input = el("input", { type: "radio", name, value });
    input.checked = value === chosen;
    input.addEventListener("change", () => {
      keep(name, value);
      location.reload();
    });
    return el("label", { lang: name === "language" ? value : undefined }, input, text);
  });
  return el("fieldset", { class: "choice" }, el("legend", {}, title), ...inputs);
}
