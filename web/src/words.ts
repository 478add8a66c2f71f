/**
 * Every string a reader sees, in the language of the page. A language is one folder of `words/` with the keys of English;
 * the type checker says what is missing.
 */
import { language, type Language } from "./settings";
import { de } from "./words/de";
import { en } from "./words/en";

/** The same keys and arguments, with any text. */
type Widened<T> = T extends string ? string : T extends (...given: infer A) => string ? (...given: A) => string : { [K in keyof T]: Widened<T[K]> };
export type Words = Widened<typeof en>;

const ALL: Record<Language, Words> = { en, de };

export const words: Words = ALL[language];
