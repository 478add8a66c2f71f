/**
 * Every string a reader sees, in the language of the page. A language is one folder of `words/` with the keys of English;
 * the type checker says what is missing. Only the reader's language is fetched, beside the program: `public/palette.js` asks for
 * it first. The files of a language import no code, else they would wait for the page and the page for them.
 */
import { language, type Language } from "./settings";
import type { en } from "./words/en";

/** The same keys and arguments, with any text. */
type Widened<T> = T extends string ? string : T extends (...given: infer A) => string ? (...given: A) => string : { [K in keyof T]: Widened<T[K]> };
export type Words = Widened<typeof en>;
/** A sentence of the daemon with placeholders, and the same in the language of the page. */
export type Saying = readonly [string, string];

interface Spoken {
  words: Words;
  /** Empty in the daemon's own language. */
  sayings: readonly Saying[];
  /** The language of these words. */
  tongue: Language;
}

async function english(): Promise<Spoken> {
  const { en } = await import("./words/en");
  return { words: en, sayings: [], tongue: "en" };
}

async function german(): Promise<Spoken> {
  const { de, said } = await import("./words/de");
  return { words: de, sayings: said, tongue: "de" };
}

/** English too where the reader's language cannot be fetched. */
export const { words, sayings, tongue }: Spoken = await (language === "de" ? german().catch(english) : english());
