/** What the page Health says of how sure it is, and of time spent partly charged and hot. */

export const evidence = {
  /** Behind the headline of an advice; a note has none. */
  priority: { note: "", caution: "caution", warning: "warning" },
  sure: "How sure",
  nothing: "Only the rating is known so far.",
  within: (half: string, from: string) => `Within ${half} of the rating either way, ${from}.`,
  one: (when: string) => `from one finding of ${when}`,
  several: (count: string, span: string) => `from ${count} findings over ${span}`,
  years: (count: string) => `${count} years`,
  months: (count: string) => `${count} months`,
  days: (count: string) => `${count} days`,
  off: (count: number) => (count === 1 ? "One more lies too far off to count." : `${count} more lie too far off to count.`),
  trend: (half: string) => `The loss a year is known to within ${half} either way.`,
  test: "A capacity test narrows it most.",
  firstOnly: "One finding makes no line: the picture of the fade begins with the second.",
  below: (charge: string) => `Below ${charge} of charge`,
  hotter: (temperature: string) => `Above ${temperature}`,
  ofTime: "of the time",
  never: "never",
  warmth: "Hot and cold",
} as const;
