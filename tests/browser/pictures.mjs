/**
 * Makes the pictures of README from a running demo: `TAFFRAIL_URL=http://127.0.0.1:7245 npm run pictures`.
 * They go to web/pictures/; look at them before they are committed.
 */
import { mkdirSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { launch, open } from "./harness.mjs";

const PHONE = { width: 390, height: 844, touch: true };
const TABLE = { width: 1024, height: 600, touch: false };
const DESK = { width: 1440, height: 900, touch: false };
const folder = fileURLToPath(new URL("../../web/pictures/", import.meta.url));
mkdirSync(folder, { recursive: true });

const drawn = () => /from \d/.test(document.querySelector(".picture canvas")?.getAttribute("aria-label") ?? "") && document.querySelectorAll(".energy tbody tr").length > 0;
const headed = () => /\d/.test(document.querySelector(".panel .value")?.textContent ?? "");

const browser = await launch();

async function take(name, path, size, palette, ready, prepare) {
  const { page, close } = await open(browser, path, size, palette);
  await page.waitForFunction(ready);
  await prepare?.(page);
  await page.waitForTimeout(1500);
  await page.screenshot({ path: `${folder}${name}.png` });
  console.log(`web/pictures/${name}.png`);
  await close();
}

/** The newest passage that has ended and is summed up. */
async function passage() {
  const { page, close } = await open(browser, "/", DESK, "day");
  const found = await page.evaluate(async () => {
    const { banks } = await (await fetch("/api/v1/banks")).json();
    const { passages } = await (await fetch(`/api/v1/banks/${banks[0].name}/passages?limit=50`)).json();
    return { bank: banks[0].name, id: passages.find((each) => !each.going_on && each.summary)?.id };
  });
  await close();
  return `/passages?bank=${found.bank}&passage=${found.id}`;
}

await take("now-day", "/", DESK, "day", drawn);
await take("now-night", "/", TABLE, "night", drawn);
await take("now-what-if", "/", PHONE, "dusk", drawn, async (page) => {
  await page.waitForFunction(() => document.querySelectorAll(".what-if button").length > 1);
  await page.locator(".what-if button").nth(1).click();
  await page.waitForSelector(".supposed:not([hidden])");
});
await take("history", "/history?span=1w", DESK, "day", headed);
await take("passage", await passage(), DESK, "day", headed);
await take("set-up", "/setup", TABLE, "day", () => /\d/.test(document.querySelector(".device td.value")?.textContent ?? ""));
await browser.close();
