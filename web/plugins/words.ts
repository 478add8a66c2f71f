/** Tells the document where each language's words are, so that public/palette.js can ask for the reader's before the program runs. */
import type { Plugin } from "vite";
import { LANGUAGES } from "../src/settings.ts";

export const words = (): Plugin => ({
  name: "taffrail-words",
  apply: "build",
  transformIndexHtml(html, { bundle = {} }) {
    const addresses = LANGUAGES.map((language) => {
      const built = Object.values(bundle).find((each) => each.type === "chunk" && each.facadeModuleId?.endsWith(`/src/words/${language}/index.ts`));
      if (!built) throw new Error(`the words of "${language}" are not a file of their own`);
      return ` data-${language}="/${built.fileName}"`;
    });
    return html.replace(/<script src="\/palette\.js[^"]*"/, (script) => script + addresses.join(""));
  },
});
