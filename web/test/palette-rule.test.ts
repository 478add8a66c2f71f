/** The rule of the light stands twice: in public/palette.js before the first paint, in src/palette.ts afterwards. */
import { readFileSync } from "node:fs";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { palette } from "./colour";

const file = (path: string): string => readFileSync(new URL(path, import.meta.url), "utf8");
const early = file("../public/palette.js");

const kept = new Map<string, string>();
const metas = new Map<string, { content: string }>();
let systemIsDark = false;
const root = { dataset: {} as Record<string, string> };

beforeEach(() => {
  vi.useFakeTimers();
  vi.resetModules();
  kept.clear();
  metas.clear();
  root.dataset = {};
  vi.stubGlobal("localStorage", { getItem: (key: string) => kept.get(key) ?? null, setItem: (key: string, value: string) => kept.set(key, value), removeItem: (key: string) => kept.delete(key) });
  vi.stubGlobal("navigator", { languages: ["en-GB"] });
  vi.stubGlobal("matchMedia", () => ({ get matches() { return systemIsDark; }, addEventListener: () => undefined }));
  vi.stubGlobal("document", {
    documentElement: root,
    currentScript: { dataset: {} },
    addEventListener: () => undefined,
    querySelector(selector: string) {
      if (!metas.has(selector)) metas.set(selector, { content: "" });
      const meta = metas.get(selector)!;
      return Object.assign(meta, { setAttribute: (_: string, content: string) => (meta.content = content) });
    },
  });
  vi.stubGlobal("getComputedStyle", () => ({ getPropertyValue: (name: string) => palette(root.dataset["palette"]!)[name.slice(2)] ?? "" }));
});
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

const told = (): unknown => ({ palette: root.dataset["palette"], metas: Object.fromEntries([...metas].map(([name, { content }]) => [name, content])) });
function before(): unknown {
  new Function(early)();
  return told();
}

describe("light of the page", () => {
  it("is_the_same_before_and_after_the_first_paint", async () => {
    const page = await import("../src/palette");
    const chosen = [null, "auto", "clock", "day", "dusk", "night", "noon"];
    const times = [null, "not json", "null", '{"day":"09:30"}', '{"night":"00:30","dusk":"23:10","day":7}', '{"dawn":"12:00","day":"12:00","dusk":"12:00","night":"12:00"}'];
    const zones = [null, "Europe/Lisbon", "Pacific/Chatham", "Atlantis/Capital"];
    const seen = new Set<string>();
    for (const [choice, time, zone, dark] of product(chosen, times, zones, [true, false])) {
      kept.clear();
      for (const [name, value] of Object.entries({ palette: choice, "palette-times": time, zone })) if (value !== null) kept.set(`taffrail.${name}`, value);
      systemIsDark = dark;
      for (let at = Date.UTC(2026, 6, 1, 0, 0, 30); at < Date.UTC(2026, 6, 2); at += 190 * 60_000) {
        vi.setSystemTime(at);
        const first = before();
        expect(page.shownPalette(), JSON.stringify({ choice, time, zone, dark, at })).toBe(root.dataset["palette"]);
        seen.add(`${choice} ${root.dataset["palette"]}`);
        // The browser's own colours too: from any other palette, the page arrives at the same.
        root.dataset["palette"] = "none";
        page.followLight();
        vi.clearAllTimers();
        expect(told()).toEqual(first);
      }
    }
    expect([...seen].filter((each) => each.startsWith("clock")).sort()).toEqual(["clock day", "clock dusk", "clock night"]);
  });

  it("goes_by_the_boats_clock_and_changes_on_the_minute", async () => {
    kept.set("taffrail.palette", "clock");
    vi.setSystemTime(Date.UTC(2026, 6, 1, 18, 58, 50));
    const { followLight, keepZone, setPaletteTimes, paletteTimes, USUAL_TIMES } = await import("../src/palette");
    // Lisbon's summer is an hour ahead of UTC, Chatham's winter twelve and three quarters.
    keepZone("Europe/Lisbon");
    followLight();
    expect(root.dataset["palette"]).toBe("dusk");
    keepZone("Pacific/Chatham");
    expect(root.dataset["palette"]).toBe("day");
    keepZone("Etc/UTC");
    expect(root.dataset["palette"]).toBe("day");
    vi.advanceTimersByTime(69_000);
    expect(root.dataset["palette"]).toBe("day");
    vi.advanceTimersByTime(2000);
    expect(root.dataset["palette"]).toBe("dusk");
    setPaletteTimes({ ...USUAL_TIMES, night: "18:30", dusk: "18:00" });
    expect(root.dataset["palette"]).toBe("night");
    expect(paletteTimes().night).toBe("18:30");
    setPaletteTimes(USUAL_TIMES);
    expect([root.dataset["palette"], paletteTimes()]).toEqual(["dusk", USUAL_TIMES]);
  });

  it("has_the_papers_of_the_style_sheet_wherever_they_are_named", () => {
    const html = file("../index.html");
    for (const name of ["day", "dusk", "night"]) {
      const paper = palette(name)["paper"]!;
      expect(early).toContain(`${name}: "${paper}"`);
      if (name !== "night") expect(html).toContain(`html[data-palette="${name}"] { background: ${paper} }`);
    }
    expect(html).toContain(`html { background: ${palette("night")["paper"]} }`);
  });
});

function* product<A, B, C, D>(as: A[], bs: B[], cs: C[], ds: D[]): Generator<[A, B, C, D]> {
  for (const a of as) for (const b of bs) for (const c of cs) for (const d of ds) yield [a, b, c, d];
}
