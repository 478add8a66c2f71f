/** What is said where an order needs the PIN. */

export const pin = {
  needed: "This needs the PIN that is set in the boat\u2019s configuration.",
  wrong: "That was not the PIN.",
  wait: (span: string) => `Too many wrong PINs: none is taken for another ${span}.`,
  bad: "A PIN has 4 to 64 letters, digits and signs.",
  field: "PIN",
  keep: "Keep it until this window is closed",
  send: "Send with this PIN",
};
