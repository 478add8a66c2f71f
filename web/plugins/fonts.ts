/** Cuts the fonts down to what the page can need, before the first file is asked for: the whole ones are twice as large. */
import { mkdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import subset from "subset-font";
import type { Plugin } from "vite";

const span = (from: number, to: number): string => String.fromCodePoint(...Array.from({ length: to - from + 1 }, (_, i) => from + i));

/**
 * Latin-1 holds the letters of western, northern and southern Europe, for the names of boats, banks and places; then what it
 * lacks of French and German, dashes, quotes, narrow spaces and the signs of quantities. A sign that the family has no
 * glyph for (the ohm is one) is taken from the device's own fonts.
 */
export const CHARACTERS = `${span(0x20, 0x7e)}${span(0xa0, 0xff)}ŒœŸẞ–—‘’‚“”„†…‹›′″−≤≥≈Ωλ€←↑→↓\u2007\u2009\u202f`;

/** Kerning and the figures of one width. */
const FEATURES = ["kern", "tnum"];

const WEIGHTS = [400, 600];
const from = (weight: number): URL =>
  new URL(`../node_modules/@fontsource/barlow-semi-condensed/files/barlow-semi-condensed-latin-${weight}-normal.woff2`, import.meta.url);
/** Made things stay out of `src/`, so that making them is no reason to build anew. */
const folder = new URL("../node_modules/.fonts/", import.meta.url);
const to = (weight: number): URL => new URL(`barlow-${weight}.woff2`, folder);

const changed = (file: URL | string): number => statSync(file, { throwIfNoEntry: false })?.mtimeMs ?? 0;

async function cut(weight: number): Promise<void> {
  const made = changed(to(weight));
  if (made > changed(from(weight)) && made > changed(fileURLToPath(new URL("../plugins/fonts.ts", folder)))) return;
  // Hints for coarse screens are half of the file, and the renderers of phones and of Linux go without them.
  const font = await subset(readFileSync(from(weight)), CHARACTERS, { targetFormat: "woff2", keepFeatures: FEATURES, noHinting: true });
  mkdirSync(folder, { recursive: true });
  writeFileSync(to(weight), font);
}

export const fonts = (): Plugin => ({
  name: "taffrail-fonts",
  async config() {
    await Promise.all(WEIGHTS.map(cut));
  },
});
