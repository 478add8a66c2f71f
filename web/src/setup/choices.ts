/** How this device shows the page: language, unit of temperature, clock, and when its light changes. Kept by the browser. */
import { el } from "../dom";
import { paletteTimes, setPaletteTimes, USUAL_TIMES, type PaletteTimes } from "../palette";
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
    lightTimes(),
    el("p", { class: "sub" }, w.more),
  );
}

/** When each light begins, where it goes by time. A field that holds no time goes back to the usual one. */
function lightTimes(): HTMLElement {
  const w = words.setup.choices;
  const times = paletteTimes();
  const fields = (Object.keys(USUAL_TIMES) as (keyof PaletteTimes)[]).map((name) => {
    const field = el("input", { type: "time", class: "amount field" });
    field.value = times[name];
    field.addEventListener("change", () => {
      if (field.value === "") field.value = USUAL_TIMES[name];
      times[name] = field.value;
      setPaletteTimes(times);
    });
    return el("label", {}, w.light[name], field);
  });
  return el("fieldset", { class: "choice" }, el("legend", {}, w.lightByTime), ...fields);
}

/** A choice that the page is loaded anew with. */

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
