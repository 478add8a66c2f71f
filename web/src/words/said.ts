/** What the daemon says, in the language of the page: its log, its answers and its record are English for every reader. Pure. */
import { number } from "../format";
import { sayings, type Saying } from "../words";

export interface Spoken {
  text: string;
  /** Left in English: there are no words for it. */
  foreign: boolean;
}

interface Pattern {
  form: RegExp;
  /** Names of the placeholders, in the order of the form's groups. */
  names: string[];
  text: string;
}

const PLACEHOLDER = /\{(\w)\}/g;
const NUMBER = "([+-]?\\d+(?:\\.\\d+)?)";
/** Within one sentence. */
const TEXT = "((?:(?![.!?] [A-Z\\d]).)+?)";

function patternOf([english, text]: Saying): Pattern {
  const names: string[] = [];
  const form = english
    .split(PLACEHOLDER)
    .map((part, i) => {
      if (i % 2 === 0) return part.replace(/[.*+?^$()|[\]\\]/g, "\\$&");
      names.push(part);
      return /\d/.test(part) ? NUMBER : TEXT;
    })
    .join("");
  return { form: new RegExp(`^${form}$`), names, text };
}

const given = ([english]: Saying): number => english.replace(PLACEHOLDER, "").length;

/** The longest first: "nothing comes from {a}: {b}" before "nothing comes from {a}". */
const patterns = [...sayings].sort((a, b) => given(b) - given(a)).map(patternOf);

/** A number as the daemon writes it, with the same decimals. */
const amount = (text: string): string => number(Number(text), text.split(".")[1]?.length ?? 0, text.startsWith("+"));

/** What stands in a placeholder; null where it had to be known and is not. */
function filling(name: string, text: string): string | null {
  if (/\d/.test(name)) return amount(text);
  return name === name.toLowerCase() ? said(text) : known(text);
}

/** A text as one saying; null where it is none. */
function one(text: string): string | null {
  for (const { form, names, text: into } of patterns) {
    const found = form.exec(text);
    if (!found) continue;
    const parts = new Map(names.map((name, i) => [name, filling(name, found[i + 1]!)]));
    if ([...parts.values()].includes(null)) continue;
    return into.replace(PLACEHOLDER, (_, name: string) => parts.get(name)!);
  }
  // A bank or a device before a colon, which is nobody's to translate.
  const colon = text.indexOf(": ");
  const rest = colon > 0 ? known(text.slice(colon + 2)) : null;
  return rest === null ? null : `${text.slice(0, colon)}: ${rest.charAt(0).toUpperCase()}${rest.slice(1)}`;
}

/** A text all of which there are words for; null for others. */
function known(text: string): string | null {
  const all = spokenOf(text);
  return all.some(({ foreign }) => foreign) ? null : joined(all);
}

const joined = (all: Spoken[]): string => all.map(({ text }) => text).join(" ");

/** The text in pieces: of its sentences, as many at once as make one saying. */
export function spokenOf(text: string): Spoken[] {
  if (patterns.length === 0 || text === "") return [{ text, foreign: false }];
  const sentences = text.replace(/([.!?]) (?=[A-Z\d])/g, "$1\n").split("\n");
  const all: Spoken[] = [];
  for (let from = 0; from < sentences.length; ) {
    let to = sentences.length;
    let found: string | null = null;
    for (; to > from && found === null; to -= 1) found = one(sentences.slice(from, to).join(" "));
    all.push(found === null ? { text: sentences[from]!, foreign: true } : { text: found, foreign: false });
    from = found === null ? from + 1 : to + 1;
  }
  return all;
}

/** The text in the language of the page, as far as there are words for it. */
export const said = (text: string): string => joined(spokenOf(text));
