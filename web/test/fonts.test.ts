import { readdirSync, readFileSync } from "node:fs";
import { expect, it } from "vitest";
import { CHARACTERS } from "../plugins/fonts.ts";

it("fonts_are_cut_for_every_character_of_the_words", () => {
  const folder = new URL("../src/words/", import.meta.url);
  const files = readdirSync(folder, { recursive: true, encoding: "utf8" }).filter((name) => name.endsWith(".ts"));
  expect(files.length).toBeGreaterThan(4);
  for (const file of files) {
    const text = readFileSync(new URL(file, folder), "utf8").replaceAll(/\\u([0-9a-f]{4})/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)));
    const missing = [...new Set(text)].filter((each) => each !== "\n" && !CHARACTERS.includes(each));
    expect(missing, file).toEqual([]);
  }
});
