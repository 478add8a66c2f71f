import { beforeAll, describe, expect, it } from "vitest";
import type { HealthRecord, Passage } from "../src/record";
import { de } from "../src/words/de";
import { en } from "../src/words/en";
import { readGerman } from "./german";
import { someNow as drawing } from "./now";

/** Said alike in both languages: names, units, and shapes of numbers alone. */
const ALIKE = new Set(
  `app palette.auto unit.seconds unit.minutes unit.hours unit.days range.within figure.doubt picture.fix history.span.1h history.span.6h
  health.capacity.at passages.summary.wh passages.edit.nameField health.reach.kn health.ventilation.perHour health.ventilation.area
  passages.say.lasted compare.share evidence.priority.note pin.field setup.bank.in setup.bank.reserve setup.daemon.version
  charts.panel.quantity.generator charts.panel.quantity.motor charts.panel.quantity.solar charts.keys.list.6.0`.split(/\s+/),
);

/** What a word says, given words that it knows. */
function text(word: unknown, path: string): string {
  if (typeof word !== "function") return String(word);
  const known: Record<string, string> = { "ledger.deviceState": "closed", "say.lastFix": "hand", "lasts.fixKind": "hand" };
  return String(word(known[path] ?? "one", "two", "three", "four", "five", "six"));
}

function walk(english: object, german: object, path: string, tell: (path: string, english: string, german: string) => void): void {
  for (const [key, word] of Object.entries(english)) {
    const other = (german as Record<string, unknown>)[key];
    const at = path ? `${path}.${key}` : key;
    if (typeof word === "object") walk(word as object, other as object, at, tell);
    else tell(at, text(word, at), text(other, at));
  }
}

describe("the words of German", () => {
  it("each_word_of_english_is_there_and_is_another_one", () => {
    const same: string[] = [];
    walk(en, de, "", (path, english, german) => {
      expect(german, path).not.toMatch(/undefined|\[object/);
      if (english === german) same.push(path);
    });
    expect(new Set(same)).toEqual(ALIKE);
  });
  it("nothing_strong_is_left_open", () => {
    walk(en, de, "", (path, english, german) => {
      expect(german.split("*").length % 2, path).toBe(1);
      expect(german.includes("*"), path).toBe(english.includes("*"));
    });
  });
});

const ZONE = "Europe/Berlin";
const PRESENT = Date.parse("2026-11-25T10:00:00Z");

/** The page's modules as a reader of German has them. */
async function load() {
  readGerman();
  const [format, range, sentence, figures, health, passages] = await Promise.all([
    import("../src/format"),
    import("../src/range"),
    import("../src/sentence"),
    import("../src/now/figures"),
    import("../src/health/said"),
    import("../src/passages/said"),
  ]);
  return { format, range, sentence, figures, health, passages };
}

describe("a page in German", () => {
  let page: Awaited<ReturnType<typeof load>>;
  beforeAll(async () => void (page = await load()));
  const said = (now: Parameters<typeof page.sentence.heldThoughSpent>[0]): string =>
    page.sentence
      .sentence({ now, present: PRESENT, zone: ZONE, link: "up" })
      .map((piece) => piece.text)
      .join("");

  it("numbers_have_a_comma_and_days_their_points", () => {
    const { format } = page;
    expect(format.number(1234.5, 1)).toBe("1.234,5");
    expect(format.span(-470, 1500, "W")).toEqual({ low: "\u22120,47", high: { value: "1,50", unit: "kW" } });
    expect(format.span(0, 12_345, "Ah")).toEqual({ low: "0,0", high: { value: "12.345,0", unit: "Ah" } });
    expect(format.day(PRESENT, ZONE, PRESENT)).toBe("Mi. 25. Nov.");
    expect(format.day(PRESENT, ZONE, PRESENT + 90 * 86_400_000)).toBe("Mi. 25. Nov. 2026");
    expect(page.range.fromTo(PRESENT, PRESENT + 3_600_000, PRESENT, ZONE)).toBe("Mi. 25. Nov. 11:00 bis 12:00");
  });
  it("the_day_of_a_range_goes_before_it", () => {
    const { clockRange } = page.range;
    const hour = 3600;
    expect(clockRange(PRESENT, 2 * hour, 3 * hour, ZONE)).toBe("zwischen 13:00 und 14:00");
    expect(clockRange(PRESENT, 20 * hour, 23 * hour, ZONE)).toBe("morgen zwischen 07:00 und 10:00");
    expect(clockRange(PRESENT, 11 * hour, 15 * hour, ZONE)).toBe("zwischen heute 22:00 und morgen 02:00");
    expect(clockRange(PRESENT, 60 * hour, 64 * hour, ZONE)).toBe("zwischen Freitag 23:00 und Samstag 03:00");
    expect(clockRange(PRESENT, 20 * hour, 20 * hour, ZONE)).toBe("morgen gegen 07:00");
    expect(clockRange(PRESENT, -hour, 20 * hour, ZONE)).toBe("morgen vor 07:00");
    expect(clockRange(PRESENT, 200 * hour, 290 * hour, ZONE)).toBe("zwischen Do. 3. Dez. und Mo. 7. Dez.");
    expect(clockRange(PRESENT, 200 * hour, 201 * hour, ZONE)).toBe("am Do. 3. Dez.");
  });
  it("the_sentence_is_german_with_what_is_put_into_it", () => {
    const now = drawing();
    const first = said(now);
    expect(first).toMatch(/^Entnahme: \S+\u202fk?W\. Bei .* ist die Reserve (heute |morgen )?zwischen .* erreicht\. Letzter Fix: voll, /);
    expect(said({ ...now, reserve_low_s: null, reserve_high_s: null })).toMatch(/ ist die Bank .*zwischen .* leer\./);
    expect(said({ ...now, store_trouble: "/data/x.sqlite cannot grow, the card is full: make room; what is not yet written is kept in memory" })).toContain(
      "Es kann nichts gespeichert werden: /data/x.sqlite kann nicht wachsen, die Karte ist voll: Platz schaffen;",
    );
  });
  it("a_current_that_shows_as_zeros_flows_neither_way", () => {
    const bank = { name: "drive", title: "Drive", chemistry: "agm", cells_in_series: 24, rated_capacity_ah: 120, rated_hours: 20, reserve: 0.3, first_time: null, branches: [], channels: [] };
    const flow = (current_a: number) => page.figures.figures(bank, { ...drawing(), current_a, power_w: null }, null)[2]!;
    expect(flow(-0.001)).toMatchObject({ value: "0,00", sub: "so gut wie keiner" });
    expect(flow(-0.05)).toMatchObject({ value: "\u22120,05", sub: "aus der Bank" });
  });
  it("an_unnamed_passage_stands_under_its_day", () => {
    const passage = { id: 1, name: "", note: "", origin: "found", begin: "2026-11-12T08:12:00Z", end: "2026-11-12T16:40:00Z", going_on: false, settled: true, summary: null } as Passage;
    const reader = { present: PRESENT, zone: ZONE };
    expect(page.passages.titleOf(passage, reader)).toBe("Fahrt vom Do. 12. Nov. 09:12");
    expect(page.passages.spanText(passage, reader)).toBe("Do. 12. Nov. 09:12 bis 17:40");
  });
  it("what_was_looked_at_ends_with_the_zone", () => {
    const record = { first: "2026-11-03T10:00:00Z", surveyed_to: "2026-11-25T09:00:00Z" } as HealthRecord;
    expect(page.health.spanText(record, { present: PRESENT, zone: ZONE })).toBe("Aus Aufzeichnungen vom 3. Nov. bis 25. Nov., Europe/Berlin.");
  });
});
