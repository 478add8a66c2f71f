/** What the page Health says of how sure it is, and of time spent partly charged and hot. */

export const evidence = {
  /** Behind the headline of an advice; a note has none. */
  priority: { note: "", caution: "Vorsicht", warning: "Warnung" },
  sure: "Wie sicher",
  nothing: "Bisher ist nur die Nennkapazität bekannt.",
  within: (half: string, from: string) => `Auf ${half} der Nennkapazität genau nach beiden Seiten, ${from}.`,
  one: (when: string) => `aus einem Befund vom ${when}`,
  several: (count: string, span: string) => `aus ${count} Befunden über ${span}`,
  years: (count: string) => `${count} Jahre`,
  months: (count: string) => `${count} Monate`,
  days: (count: string) => `${count} Tage`,
  off: (count: number) => (count === 1 ? "Ein weiterer liegt zu weit ab, um zu zählen." : `${count} weitere liegen zu weit ab, um zu zählen.`),
  trend: (half: string) => `Der Verlust im Jahr ist auf ${half} nach beiden Seiten bekannt.`,
  test: "Am meisten bringt ein Kapazitätstest.",
  firstOnly: "Ein Befund macht noch keine Linie: Das Bild des Schwunds beginnt mit dem zweiten.",
  below: (charge: string) => `Unter ${charge} Ladung`,
  hotter: (temperature: string) => `Über ${temperature}`,
  ofTime: "der Zeit",
  never: "nie",
  warmth: "Warm und kalt",
} as const;
