#!/usr/bin/env node
/** Prints what each file of dist/ weighs on its way to the browser, and fails above the limit. Usage: npm run weigh, after a build. */
import { readdirSync, readFileSync } from "node:fs";
import { extname } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";

/** All that one reader fetches for all pages, in bytes as sent: a phone at the far end of a boat's network takes it in well under a second. */
const LIMIT = 150_000;
/** Packed already; the daemon's packing gains nothing on them. */
const PACKED = [".woff2", ".png"];
/** Asked for when the page is installed, and on no other visit. */
const RARE = /^icon-\d+\.png$/;

const root = fileURLToPath(new URL("dist/", import.meta.url));
/** File of the words by language, as the document names them (plugins/words.ts). */
const words = new Map([...readFileSync(`${root}index.html`, "utf8").matchAll(/ data-(\w\w)="\/([^"]+)"/g)].map(([, language, name]) => [name, language]));
if (words.size === 0) throw new Error("dist/index.html names no words: its build is not of this page");

const files = readdirSync(root, { recursive: true, withFileTypes: true })
  .filter((entry) => entry.isFile())
  .map((entry) => {
    const path = `${entry.parentPath}/${entry.name}`;
    const bytes = readFileSync(path);
    return { name: path.slice(root.length).replace(/^\//, ""), bytes: PACKED.includes(extname(path)) ? bytes.length : gzipSync(bytes).length };
  })
  .sort((a, b) => b.bytes - a.bytes);
/** What is read in one language; without one, all that there is. */
const sum = (read) => files.reduce((all, { name, bytes }) => (RARE.test(name) || (read && words.has(name) && words.get(name) !== read) ? all : all + bytes), 0);

function about(name) {
  if (RARE.test(name)) return `${name}, not counted: asked for when the page is installed`;
  return words.has(name) ? `${name}, words of "${words.get(name)}"` : name;
}

const row = (bytes, text) => console.log(`${(bytes / 1000).toFixed(1).padStart(7)} kB  ${text}`);
for (const { name, bytes } of files) row(bytes, about(name));
for (const language of words.values()) {
  const all = sum(language);
  row(all, `all that a reader of "${language}" fetches; at most ${LIMIT / 1000} kB`);
  if (all <= LIMIT) continue;
  console.error(`the page in "${language}" is ${((all - LIMIT) / 1000).toFixed(1)} kB too heavy`);
  process.exitCode = 1;
}
row(sum(), "both languages; a service worker, where there is one, keeps them afterwards");
