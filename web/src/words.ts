/**
 * Every string a reader sees, in the language of the page. A language is one folder of `words/` with the keys of English;
 * the type checker says what is missing. German is fetched only where it is read; its files import no code, else they would
 * wait for the page and the page for them.
 */
import { language } from "./settings";
import { en } from "./words/en";

/** The same keys and arguments, with any text. */
type Widened<T> = T extends string ? string : T extends (...given: infer A) => string ? (...given: A) => string : { [K in keyof T]: Widened<T[K]> };
export type Words = Widened<typeof en>;
/** A sentence of the daemon with placeholders, and the same in the language of the page. */
export type Saying = readonly [string, string];

/** Null for English, and where German cannot be fetched. */
const german = language === "de" ? await import("./words/de").catch(() => null) : null;

export const words: Words = german?.de ?? en;
/** Empty in the daemon's own language. */
export const sayings: readonly Saying[] = german?.said ?? [];
