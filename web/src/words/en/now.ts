/** What the page Now says beside its sentence: what if, the past, and the ledger of the branches. */

export const suppose = {
  section: "What if",
  name: "What if",
  asItIs: "as it is",
  half: (branch: string) => `${branch} at half`,
  full: (branch: string) => `${branch} at full`,
  on: (branch: string) => `${branch} on`,
  drawing: "drawing",
  amperes: "What if so much were drawn, in amperes",
  failed: "A load in amperes.",
  reserve: (at: string, range: string) => `at ${at}: reserve ${range}`,
  empty: (at: string, range: string) => `at ${at}: empty ${range}`,
  becomesFull: (at: string, range: string) => `at ${at}: full ${range}`,
  nothing: (at: string) => `at ${at}: nothing comes out`,
  level: (at: string) => `at ${at}: it stays about as it is`,
  earlier: "Earlier",
  later: "Later",
  back: "Back to now",
};

export const branches = {
  name: "In and out",
  span: { hour: "last hour", day: "last 24 hours" },
  covered: (covered: string) => `${covered} of it recorded`,
  branch: "Branch",
  length: "Length",
  charge: "Charge",
  energy: "Energy",
  unaccounted: "Unaccounted for",
  sure: "more than the sensors explain",
  unknown: "not recorded",
};
