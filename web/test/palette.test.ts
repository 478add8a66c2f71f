import { describe, expect, it } from "vitest";
import { channels, css, difference, linear, palette, SIGHTS, type Rgb } from "./colour";

/** Relative luminance and contrast ratio as WCAG 2.2 defines them. */
function luminance(hex: string): number {
  const [r, g, b] = linear(hex);
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
      const [r, g, b] = channels(colour);
      expect(g, name).toBeLessThanOrEqual(0.2 * r);
      expect(b, name).toBeLessThanOrEqual(0.2 * r);
      expect(luminance(colour), name).toBeLessThanOrEqual(0.19);
    }
  });
  it("night_reads_as_well_as_its_darkness_allows", () => {
    const { paper, ink, trace, mark, mute } = palette("night") as Record<string, string>;
    for (const text of [ink, trace, mark]) expect(contrast(text!, paper!)).toBeGreaterThanOrEqual(4.5);
    expect(contrast(mute!, paper!)).toBeGreaterThanOrEqual(3);
  });
});

/**
 * What must be told apart, and by how much (CIEDE2000, where 1 is about the least difference seen between large patches side
 * by side). Thin lines, marks and words need 10, since small things lose colour to the eye; waters share a long edge, and 5
 * leaves them room for a screen in the sun.
 */
const APART: [string, string, number][] = [
  ["into", "out", 10],
  ["mark", "ink", 10],
  ["mark", "trace", 10],
  ["band", "trace", 10],
  ["band", "deep", 10],
  ["shoal", "deep", 5],
];
const least = (name: string, a: string, b: string): number => {
  const colours = palette(name);
  return Math.min(...Object.values(SIGHTS).map((see) => difference(see(linear(colours[a]!)), see(linear(colours[b]!)))));
};

describe("colours for every eye", () => {
  it("the_difference_is_that_of_its_authors", () => {
    // Pairs 1, 16 and 34 of the data in Sharma, Wu & Dalal, Color Research & Application 30 (2005), 21-30.
    const pairs: [Rgb, Rgb, number][] = [
      [[50, 2.6772, -79.7751], [50, 0, -82.7485], 2.0425],
      [[50, 2.5, 0], [50, 0, -2.5], 4.3065],
      [[2.0776, 0.0795, -1.135], [0.9033, -0.0636, -0.5514], 0.9082],
    ];
    for (const [a, b, stated] of pairs) expect(difference.ofLab(a, b)).toBeCloseTo(stated, 4);
  });
  it.each(["day", "dusk"])("what_must_be_told_apart_by_%s_is_so_for_every_eye", (name) => {
    for (const [a, b, apart] of APART) expect(least(name, a, b), `${a} and ${b}`).toBeGreaterThanOrEqual(apart);
  });
  it("night_has_one_hue_and_tells_apart_by_brightness", () => {
    // Marks and traces differ in shape there: dashes, words and rings against an unbroken line.
    for (const [a, b, apart] of APART.filter(([first]) => first === "into" || first === "band")) {
      expect(least("night", a, b), `${a} and ${b}`).toBeGreaterThanOrEqual(apart);
    }
  });
  it("figures_in_the_style_sheet_are_the_least_over_all_eyes", () => {
    for (const name of ["day", "dusk", "night"]) {
      const stated = new RegExp(`${name} apart: ([^\n]*)`).exec(css)?.[1];
      expect(stated, name).toBe(APART.map(([a, b]) => `${a}/${b} ${least(name, a, b).toFixed(1)}`).join(", "));
    }
  });
});
