import { readdirSync, readFileSync } from "node:fs";
import { beforeAll, describe, expect, it } from "vitest";
import { banks } from "../mock/boat.mjs";
import { record } from "../mock/record.mjs";
import { said as catalogue } from "../src/words/de/said";
import { said as inEnglish } from "../src/words/said";
import { readGerman } from "./german";

let said: (text: string) => string;
let spokenOf: (text: string) => { text: string; foreign: boolean }[];
beforeAll(async () => {
  readGerman();
  ({ said, spokenOf } = await import("../src/words/said"));
});

/** What the daemon says, as its own tests and a boat's days have it. */
const HEARD: [string, string][] = [
  ["At 4.1 A nearly all of what is held comes out: 59 to 82 Ah.", "Bei 4,1 A kommt fast alles heraus, was darin ist: 59 bis 82 Ah."],
  ["At 0.38 A nearly all of what is held comes out: 7.0 Ah.", "Bei 0,38 A kommt fast alles heraus, was darin ist: 7,0 Ah."],
  [
    "79 to 91 Ah comes out at 23.8 A; the other 12 Ah held stays behind until a rest, a gentler load or warmth frees it.",
    "79 bis 91 Ah kommen bei 23,8 A heraus; die übrigen 12 Ah bleiben darin, bis Ruhe, eine kleinere Last oder Wärme sie freigibt.",
  ],
  [
    "At 90.0 A nothing comes out now, although 31 Ah (26 % of its capacity) is still held: a rest or a gentler load gives it back.",
    "Bei 90,0 A kommt jetzt nichts heraus, obwohl noch 31 Ah (26 % der Kapazität) darin sind: Ruhe oder eine kleinere Last gibt sie wieder frei.",
  ],
  ["The bank rests: 8.4 Ah of the 96 Ah held is out of reach for now; half of that is back in 2.0 h.", "Die Bank ruht: 8,4 Ah von 96 Ah sind vorerst nicht erreichbar; die Hälfte davon kommt in 2,0 h zurück."],
  ["full fix: reckoned 97.3 %, now 100.0 %", "Fix (voll): gegisst 97,3 %, jetzt 100,0 %"],
  ["hand fix: not known before, now 80.0 %", "Fix (von Hand): vorher nicht bekannt, jetzt 80,0 %"],
  ["held full until then", "bis dahin voll gehalten"],
  ["Drive bank: nobody was watching for 2.3 days; the band is wider", "Drive bank: Für 2,3 Tage unbeobachtet; das Band ist breiter"],
  ["Drive bank: nobody was watching for 2.3 days by a clock that nothing vouches for; the band is wider", "Drive bank: Für 2,3 Tage (nach einer Uhr, für die nichts bürgt) unbeobachtet; das Band ist breiter"],
  [
    "House bank: now reckoned by the filter, which begins with the charge and the band of the counter",
    "House bank: Jetziges Verfahren: Filter; es beginnt mit Ladung und Band des bisherigen (Zähler)",
  ],
  ["House bank: zero of the current sensor set by hand; it reads -0.043 A when no current flows", "House bank: Nullpunkt des Stromsensors von Hand gesetzt; ohne Strom zeigt er \u22120,043 A"],
  [
    "drive-shunt: 3 lines could not be read, 12 values were refused since the start; last: current_a: 900 is not within -400 to 400",
    "drive-shunt: 3 Zeilen nicht lesbar, 12 Werte abgewiesen, seit dem Start; zuletzt: current_a: 900 liegt nicht zwischen \u2212400 und 400",
  ],
  ["nothing comes from drive-shunt", "von drive-shunt kommt nichts"],
  ["nothing comes from drive-shunt: nothing came for 10 s: check the device's power and its data line", "von drive-shunt kommt nichts: seit 10 s nichts gekommen: Versorgung und Datenleitung des Geräts prüfen"],
  ["the port of drive-shunt has gone: /dev/ttyUSB0 went away: end of file", "der Anschluss von drive-shunt ist weg: /dev/ttyUSB0 ist verschwunden: Dateiende"],
  [
    "the port of house has gone: /dev/ttyX may not be opened: add the user that taffrail runs as to the group that `stat -Lc %G /dev/ttyX` names",
    "der Anschluss von house ist weg: /dev/ttyX darf nicht geöffnet werden: den Benutzer, unter dem taffrail läuft, in die Gruppe aufnehmen, die `stat -Lc %G /dev/ttyX` nennt",
  ],
  ["time set by hand; times since the computer started moved forward by 56.9 years", "Uhr von Hand gestellt; die Zeiten seit dem Start des Rechners rücken vor um 56,9 Jahre"],
  ["the computer's clock was set; times from now on moved back by 12 min; nothing is lost or stored twice", "die Uhr des Rechners wurde gestellt; die Zeiten von jetzt an rücken zurück um 12 min; nichts ist verloren oder doppelt gespeichert"],
  ["the computer's clock was set back by 40 s; times stay as they were set by hand", "die Uhr des Rechners wurde gestellt, um 40 s zurück; die Zeiten bleiben, wie sie von Hand gestellt sind"],
  [
    "nothing can be stored at present: /data/taffrail.sqlite cannot grow, the card is full: make room; what is not yet written is kept in memory; reckoning and page go on from memory",
    "zurzeit kann nichts gespeichert werden: /data/taffrail.sqlite kann nicht wachsen, die Karte ist voll: Platz schaffen; noch nicht Geschriebenes bleibt im Arbeitsspeicher; Gissung und Seite laufen aus dem Arbeitsspeicher weiter",
  ],
  ["the store writes again; what waited is stored, 5400 samples thinned out, 12 samples or records lost for want of memory", "der Speicher schreibt wieder; was wartete, ist gespeichert, 5.400 Messwerte ausgedünnt, 12 Messwerte oder Einträge aus Speichermangel verloren"],
  [
    "drive-shunt: 3600 samples from 2026-11-12 09:00:00 to 2026-11-12 10:00:00 UTC cannot be read (the checksum does not match). They are set aside in the store, byte for byte; sums of whole hours and days are kept. If it happens again, replace the card",
    "drive-shunt: 3.600 Messwerte von 2026-11-12 09:00:00 bis 2026-11-12 10:00:00 UTC sind nicht lesbar (die Prüfsumme stimmt nicht). Sie liegen unverändert beiseite im Speicher; Summen ganzer Stunden und Tage bleiben. Kommt es wieder vor, die Karte ersetzen",
  ],
  ["Passage 1204 is marked.", "Fahrt 1204 ist markiert."],
  ["For 60 min of 2.0 h there are no samples: what flowed then is not in the sums.", "Ohne Messwerte: 60 min; die ganze Zeit: 2,0 h. Was da floss, steht nicht in den Summen."],
  ["Solar was not read for 3.5 h of 9.6 h.", "Solar: 3,5 h von 9,6 h nicht gemessen."],
  [
    "Peukert exponent 1.120 from the 20 h rate; IEC 60896 (λ 0.006 to 0.010 per K by rate), restated to 25 °C",
    "Peukert-Exponent 1,120 ab dem 20-stündigen Strom; IEC 60896 (λ 0,006 bis 0,010 je K nach Strom), bezogen auf 25 °C",
  ],
  ["Usually 62.38 mΩ at 25 °C. It changes by +4 % a year (+1 to +6).", "Gewöhnlich 62,38 mΩ bei 25 °C. Er ändert sich um +4 % im Jahr (+1 bis +6)."],
  [
    "At the last finding the bank held 87 % of its rating (84 to 90). It reaches 80 % in 1.2 to 3.4 years from then (90 %), as likely before as after 2.1.",
    "Beim letzten Befund hielt die Bank 87 % ihrer Nennkapazität (84 bis 90). 80 % erreicht sie 1,2 bis 3,4 Jahre danach (90 %), ebenso wahrscheinlich vor wie nach 2,1 Jahren.",
  ],
  ["None holds clearly less than the others. Furthest from the mean: monobloc 1, -54 mV at the end of charge.", "Keiner hält deutlich weniger als die anderen. Am weitesten vom Mittel: Monoblock 1, \u221254 mV bei Ladeschluss."],
  [
    "By cycles: 4375 to 80 % at 80 % depth, 7000 at half (3500 cycles at 1 C and 25 °C: data sheet of a 304 Ah cell (read); the same throughput at lesser depth: assumed), added up by the linear rule of Palmgren and Miner.",
    "Nach Zyklen: 4.375 bis 80 % bei 80 % Tiefe, 7.000 bei halber (3500 Zyklen bei 1 C und 25 °C: Datenblatt einer 304-Ah-Zelle (gelesen); gleicher Durchsatz bei kleinerer Tiefe angenommen), addiert nach der linearen Regel von Palmgren und Miner.",
  ],
  [
    "Drive bank: Rested for 12 min only, 60 min are needed. Switch off charger and loads, wait 48 min, then start. 9 °C is outside 18 to 32 °C. Wait for other weather, or go on: the result is corrected to 25 °C, but the published corrections differ there.",
    "Drive bank: Erst 12 min geruht, 60 min sind nötig. Ladegerät und Lasten abschalten, 48 min warten, dann beginnen. 9 °C liegt außerhalb von 18 bis 32 °C. Anderes Wetter abwarten, oder weitermachen: Das Ergebnis wird auf 25 °C korrigiert, doch die veröffentlichten Korrekturen weichen dort voneinander ab.",
  ],
  ["Drive bank: capacity test: No load came within 24 h.", "Drive bank: Kapazitätsprüfung: Innerhalb von 24 h kam keine Last."],
  [
    "104.6 Ah in 8.72 h at 12.0 A; the rating promises 9.75 h at this load. Capacity 89.4 % ± 2.4 % of the rating, by time-adjusted method, 25 °C (IEEE 450 / IEEE 1188). Degraded: below 90 % of the rating, or more than 10 % points below the last test (IEEE 450 / IEEE 1188, as cited by testing firms). Test again within a year.",
    "104,6 Ah in 8,72 h mit 12,0 A; der Nennwert verspricht 9,75 h bei dieser Last. Kapazität 89,4 % ± 2,4 % des Nennwerts, nach dem zeitkorrigierten Verfahren, 25 °C (IEEE 450 / IEEE 1188). Gealtert: unter 90 % des Nennwerts oder mehr als 10 Prozentpunkte unter der letzten Prüfung (IEEE 450 / IEEE 1188, nach Prüffirmen). Innerhalb eines Jahres erneut prüfen.",
  ],
  ["+0.41 A (±0.08 A) at zero, from the charge between full charges; 0.05 A is stated.", "+0,41 A (±0,08 A) ohne Strom, aus der Ladung zwischen Vollladungen; angegeben sind 0,05 A."],
  ["House bank: the resistance of monobloc 2 within a second has risen by 24 % and stayed so on three days. Usual cause: a terminal or link that is loose or corroded; it can get hot under load. Have the connections inspected with the bank isolated.", "House bank: Der Widerstand von Monoblock 2 innerhalb einer Sekunde ist um 24 % gestiegen und drei Tage so geblieben. Übliche Ursache: eine lose oder korrodierte Klemme oder Verbindung; sie kann unter Last heiß werden. Die Verbindungen bei abgetrennter Bank prüfen lassen."],
];

/** All Rust of the daemon as one text, with its broken strings made whole. */
function rust(folder: string): string {
  return readdirSync(folder, { withFileTypes: true })
    .map((each) => {
      const path = `${folder}/${each.name}`;
      if (each.isDirectory()) return rust(path);
      return path.endsWith(".rs") ? readFileSync(path, "utf8").replace(/\\\n\s*/g, "").replaceAll('\\"', '"') : "";
    })
    .join("\n");
}

const sample = (english: string): string =>
  english.replace(/\{(\w)\}/g, (_, name: string) => (/\d/.test(name) ? `${Number(name) + 2}.5` : name === name.toUpperCase() ? "full" : `${name}${name}x`));

describe("what the daemon says", () => {
  it("in_english_it_stays_as_it_is", () => {
    expect(inEnglish("At 4.1 A nothing comes out.")).toBe("At 4.1 A nothing comes out.");
  });
  it("in_german_it_is_said_with_german_numbers", () => {
    for (const [english, german] of HEARD) expect(said(english)).toBe(german);
  });
  it("what_there_are_no_words_for_stays_english_and_is_marked", () => {
    expect(spokenOf("Full, 2.0 h ago. The kettle boils.")).toEqual([
      { text: "Voll, vor 2,0 h.", foreign: false },
      { text: "The kettle boils.", foreign: true },
    ]);
    expect(said("Galley: the kettle boils")).toBe("Galley: the kettle boils");
  });
  it("a_whole_health_record_can_be_said", () => {
    const told = new Set(["text", "reason", "evidence", "action", "source", "law", "verdict", "rules", "notes"]);
    const left = new Set<string>();
    const look = (value: unknown, key: string): void => {
      if (Array.isArray(value)) for (const each of value) look(each, key);
      else if (value !== null && typeof value === "object") for (const [name, each] of Object.entries(value)) look(each, name);
      else if (typeof value === "string" && told.has(key)) for (const { text, foreign } of spokenOf(value)) if (foreign) left.add(text);
    };
    look(record("drive", banks.drive, 1_800_000_000), "");
    look(record("house", banks.house, 1_800_000_000), "");
    expect([...left]).toEqual([]);
  });
  it("each_saying_is_found_by_its_own_english_and_by_no_other", () => {
    expect(new Set(catalogue.map(([english]) => english)).size).toBe(catalogue.length);
    for (const [english, german] of catalogue) {
      const holes = (text: string): string[] => [...text.matchAll(/\{(\w)\}/g)].map((found) => found[1]!).sort();
      expect(new Set(holes(german)), english).toEqual(new Set(holes(english)));
      const expected = german.replace(/\{(\w)\}/g, (_, name: string) => (/\d/.test(name) ? `${Number(name) + 2},5` : name === name.toUpperCase() ? "voll" : `${name}${name}x`));
      expect(said(sample(english)), english).toBe(expected);
    }
  });
  it("the_daemon_says_each_of_them_still", () => {
    const source = rust(`${import.meta.dirname}/../../src`);
    // Between a placeholder and the next, and where the daemon puts a sentence together of several.
    const pieces = (english: string): string[] => english.split(/\{\w\}|; |: | until | of (?=\{)|(?<=\}) (?:to (?=\{)|days)/);
    const gone = catalogue.flatMap(([english]) => pieces(english).filter((piece) => !source.includes(piece.trim())));
    expect(gone).toEqual([]);
  });
});
