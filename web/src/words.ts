/**
 * Every string a reader sees, in the language of the page. A language is one folder of `words/` with the keys of English;
 * the type checker says what is missing. Those of another language than English are fetched only where they are read.
 */
import { language } from "./settings";
import { en } from "./words/en";

/** The same keys and arguments, with any text. */
type Widened<T> = T extends string ? string : T extends (...given: infer A) => string ? (...given: A) => string : { [K in keyof T]: Widened<T[K]> };
export type Words = Widened<typeof en>;

/** The words of German import no code, else they would wait for the page and the page for them. */
const german = async (): Promise<Words> => (await import("./words/de")).de;

/** In English where the others cannot be fetched. */
export const words: Words = language === "de" ? await german().catch(() => en) : en;
