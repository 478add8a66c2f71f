/** Which language the page is in stands twice: in public/palette.js, which asks for its words, and in src/settings.ts. */
import { readFileSync } from "node:fs";
import { afterEach, expect, it, vi } from "vitest";
import { LANGUAGES } from "../src/settings";

const early = readFileSync(new URL("../public/palette.js", import.meta.url), "utf8");

afterEach(() => vi.unstubAllGlobals());

/** Stubs a browser, and hands back what its head comes to hold. */
function browser(chosen: string | null, navigator: object, dataset: Record<string, string>): { rel: string; href: string }[] {
  const head: { rel: string; href: string }[] = [];
  vi.stubGlobal("localStorage", { getItem: (key: string) => (key === "taffrail.language" ? chosen : null) });
  vi.stubGlobal("navigator", navigator);
  vi.stubGlobal("matchMedia", () => ({ matches: false }));
  vi.stubGlobal("document", {
    documentElement: { dataset: {} },
    currentScript: { dataset },
    createElement: () => ({}),
    head: { append: (link: (typeof head)[number]) => head.push(link) },
    querySelector: () => ({}),
  });
  return head;
}

const addresses = Object.fromEntries(LANGUAGES.map((language) => [language, `/assets/${language}.js`]));

it("the_words_asked_for_first_are_those_the_page_is_in", async () => {
  const asked = new Set<string>();
  for (const chosen of [null, "de", "en", "DE", "de-AT", "fr", "constructor", ""]) {
    for (const languages of [[], ["en-GB", "de"], ["de-CH", "en"], ["fr-FR", "DE"], ["fr", "es"], ["EN-us"], undefined]) {
      const navigator = { languages, language: "de-DE" };
      const head = browser(chosen, navigator, addresses);
      new Function(early)();
      vi.resetModules();
      const { language } = await import("../src/settings");
      expect(head, JSON.stringify({ chosen, languages })).toEqual([{ rel: "modulepreload", href: addresses[language] }]);
      asked.add(language);
    }
  }
  expect([...asked].sort()).toEqual([...LANGUAGES].sort());
});

it("nothing_is_asked_for_where_the_build_named_no_words", () => {
  const head = browser("de", { languages: ["de"] }, {});
  new Function(early)();
  expect(head).toEqual([]);
});
