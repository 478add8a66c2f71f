/** Makes /sw.js of src/worker.js once everything else is built: it names what to keep. */
import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import type { Plugin } from "vite";
import { PAGES, path } from "../src/route.ts";

const file = (name: string): Buffer => readFileSync(new URL(name, import.meta.url));
const hash = (content: string | Uint8Array): string => createHash("sha256").update(content).digest("hex").slice(0, 8);

/** Runs before anything else and belongs to the document it came with: its content is made a part of its address. */
const EARLY = "/palette.js";
const early = (): string => `${EARLY}?${hash(file(`../public${EARLY}`))}`;

export const worker = (): Plugin => ({
  name: "taffrail-worker",
  apply: "build",
  transformIndexHtml: (html) => html.replace(`src="${EARLY}"`, `src="${early()}"`),
  generateBundle: {
    // After the document is written.
    order: "post",
    handler(_, bundle) {
      const built = Object.values(bundle).map((each) => ({ name: each.fileName, content: each.type === "chunk" ? each.code : each.source }));
      const document = built.find(({ name }) => name === "index.html");
      if (!document) this.error("the document is not among the built files");
      // The icons in pixels are asked for when the page is installed, and then the daemon is there.
      const fixed = readdirSync(new URL("../public/", import.meta.url)).filter((name) => !name.endsWith(".png")).map((name) => `/${name}`);
      const assets = built.filter((each) => each !== document).map(({ name }) => `/${name}`);
      const files = ["/", ...fixed.map((name) => (name === EARLY ? early() : name)), ...assets.sort()];
      const version = hash([...built.map(({ content }) => hash(content)), ...fixed.map((name) => hash(file(`../public${name}`)))].join());
      const said: Record<string, unknown> = { $FILES: files, $VIEWS: PAGES.map(path), $VERSION: version };
      const source = file("../src/worker.js").toString().replaceAll(/= (.*)(\$[A-Z]+);/g, (_all, before: string, name: string) => `= ${before}${JSON.stringify(said[name])};`);
      this.emitFile({ type: "asset", fileName: "sw.js", source });
    },
  },
});
