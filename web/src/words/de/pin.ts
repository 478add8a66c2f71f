/** German: what is said where an order needs the PIN. */

export const pin = {
  needed: "Dafür braucht es die PIN, die in der Konfiguration des Boots steht.",
  wrong: "Das war nicht die PIN.",
  wait: (span: string) => `Zu viele falsche PINs: noch ${span} lang wird keine angenommen.`,
  bad: "Eine PIN hat 4 bis 64 Buchstaben, Ziffern und Zeichen.",
  field: "PIN",
  keep: "Behalten, bis dieses Fenster geschlossen wird",
  send: "Mit dieser PIN senden",
};
