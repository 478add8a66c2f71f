#!/usr/bin/env node
/** Draws web/public/icon.svg as the PNG files that installing the page asks for. Run it when the drawing has changed. */
import { readFileSync, writeFileSync } from "node:fs";
import { chromium } from "playwright-core";
import pngjs from "pngjs";

const folder = new URL("../../web/public/", import.meta.url);
const drawing = readFileSync(new URL("icon.svg", folder)).toString("base64");
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--headless", "--no-sandbox", "--disable-gpu"] });
for (const size of [192, 512]) {
  const page = await browser.newPage({ viewport: { width: size, height: size } });
  await page.setContent(`<body style="margin:0"><img width="${size}" height="${size}" style="display:block" src="data:image/svg+xml;base64,${drawing}">`);
  const { data, width, height } = pngjs.PNG.sync.read(await page.screenshot());
  // Opaque, and packed as tightly as the format goes: the daemon carries them.
  writeFileSync(new URL(`icon-${size}.png`, folder), pngjs.PNG.sync.write({ data, width, height }, { colorType: 2, deflateLevel: 9 }));
}
await browser.close();
