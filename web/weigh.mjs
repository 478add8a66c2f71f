#!/usr/bin/env node
/** Prints what each file of dist/ weighs on its way to the browser, and fails above the limit. Usage: npm run weigh, after a build. */
import { readdirSync, readFileSync } from "node:fs";
import { extname } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";

/** All files together, in bytes as sent: a phone at the far end of a boat's network takes the page in well under a second. */
const LIMIT = 150_000;
/** Packed already; the daemon's packing gains nothing on them. */
const PACKED = [".woff2", ".png"];
/** Asked for when the page is installed, and on no other visit. */
const RARE = /^icon-\d+\.png$/;

const root = fileURLToPath(new URL("dist/", import.meta.url));
const files = readdirSync(root, { recursive: true, withFileTypes: true })
  .filter((entry) => entry.isFile())
  .map((entry) => {
    const path = `${entry.parentPath}/${entry.name}`;
    const bytes = readFileSync(path);
    return { name: path.slice(root.length).replace(/^\//, ""), bytes: PACKED.includes(extname(path)) ? bytes.length : gzipSync(bytes).length };
  })
  .sort((a, b) => b.bytes - a.bytes);
const sum = files.reduce((all, { name, bytes }) => (RARE.test(name) ? all : all + bytes), 0);

const row = (bytes, name) => console.log(`${(bytes / 1000).toFixed(1).padStart(7)} kB  ${name}`);
for (const { name, bytes } of files) row(bytes, RARE.test(name) ? `${name}, not counted: asked for when the page is installed` : name);
row(sum, `all together; at most ${LIMIT / 1000} kB`);
if (sum > LIMIT) {
  console.error(`the page is ${((sum - LIMIT) / 1000).toFixed(1)} kB too heavy`);
  process.exitCode = 1;
}
