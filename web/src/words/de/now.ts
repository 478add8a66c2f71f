/** Was die Seite Jetzt neben ihrem Satz sagt: was wäre wenn, die Vergangenheit und die Bilanz der Zweige. */

export const suppose = {
  section: "Was wäre, wenn",
  name: "Was wäre bei",
  asItIs: "wie es ist",
  half: (branch: string) => `${branch} halb`,
  full: (branch: string) => `${branch} voll`,
  on: (branch: string) => `${branch} an`,
  drawing: "Entnahme",
  amperes: "Was wäre bei einer Entnahme von so viel Ampere",
  failed: "Eine Last in Ampere.",
  reserve: (at: string, range: string) => `bei ${at}: Reserve ${range}`,
  empty: (at: string, range: string) => `bei ${at}: leer ${range}`,
  becomesFull: (at: string, range: string) => `bei ${at}: voll ${range}`,
  nothing: (at: string) => `bei ${at}: es kommt nichts heraus`,
  level: (at: string) => `bei ${at}: es bleibt etwa, wie es ist`,
  earlier: "Früher",
  later: "Später",
  back: "Zurück zu jetzt",
};

export const branches = {
  name: "Hinein und heraus",
  span: { hour: "letzte Stunde", day: "letzte 24 Stunden" },
  covered: (covered: string) => `davon ${covered} aufgezeichnet`,
  branch: "Zweig",
  length: "Länge",
  charge: "Ladung",
  energy: "Energie",
  unaccounted: "Nicht zugeordnet",
  sure: "mehr als die Fehler der Sensoren",
  unknown: "nicht aufgezeichnet",
};
