import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";

const css = readFileSync(new URL("../src/style/palette.css", import.meta.url), "utf8");

function palette(name: string): Record<string, string> {
  const block = new RegExp(`data-palette="${name}"\\] \\{([^}]*)\\}`).exec(css)?.[1] ?? "";
  return Object.fromEntries([...block.matchAll(/--([\w-]+): (#[0-9a-f]{6});/g)].map((found) => [found[1]!, found[2]!]));
}
const channels = (hex: string): number[] => [1, 3, 5].map((at) => Number.parseInt(hex.slice(at, at + 2), 16));

/** Relative luminance and contrast ratio as WCAG 2.2 defines them. */
function luminance(hex: string): number {
  const [r, g, b] = channels(hex).map((value) => {
    const share = value / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
function contrast(a: string, b: string): number {
  const [dark, light] = [luminance(a), luminance(b)].sort((x, y) => x - y) as [number, number];
  return (light + 0.05) / (dark + 0.05);
}

const TEXT = ["ink", "mute", "mark"];
const GROUND = ["paper", "deep", "shoal", "shoal-deep"];

describe("palettes", () => {
  it("all_three_name_the_same_colours", () => {
    const names = Object.keys(palette("day"));
    expect(names.length).toBeGreaterThan(12);
    expect(Object.keys(palette("dusk"))).toEqual(names);
    expect(Object.keys(palette("night"))).toEqual(names);
  });
  it.each(["day", "dusk"])("text_of_%s_has_at_least_4.5_on_every_ground", (name) => {
    const colours = palette(name);
    for (const text of TEXT) {
      for (const ground of GROUND) {
        expect(contrast(colours[text]!, colours[ground]!), `${text} on ${ground}`).toBeGreaterThanOrEqual(4.5);
      }
    }
  });
  it("figures_in_the_style_sheet_are_the_computed_ones", () => {
    for (const name of ["day", "dusk", "night"]) {
      const stated = new RegExp(`${name}: ink ([\\d.]+), mute ([\\d.]+), mark ([\\d.]+)`).exec(css);
      const computed = TEXT.map((text) => contrast(palette(name)[text]!, palette(name)["paper"]!).toFixed(1));
      expect(stated?.slice(1), name).toEqual(computed);
    }
  });
  it("night_is_red_and_dark", () => {
    for (const [name, colour] of Object.entries(palette("night"))) {
      const [r, g, b] = channels(colour) as [number, number, number];
      expect(g, name).toBeLessThanOrEqual(0.2 * r);
      expect(b, name).toBeLessThanOrEqual(0.2 * r);
      expect(luminance(colour), name).toBeLessThanOrEqual(0.16);
    }
  });
});
