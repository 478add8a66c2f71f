#!/usr/bin/env node
/**
 * How soon the first picture stands on a phone: prints a table, and is no pass mark, since the computer it runs on counts too.
 * Usage: TAFFRAIL_URL=http://... npm run first-picture [-- RUNS]
 */
import { base, launch } from "./harness.mjs";

const RUNS = Number(process.argv[2] ?? 7);
/** A phone of middling speed some rooms from the access point. */
const PHONE = { width: 390, height: 844, slower: 4, megabits: 20, latency: 10 };

/** Notes in `window.seen` when the canvas was first drawn, and when the past day stood on it. */
function watch() {
  window.seen = {};
  new MutationObserver(() => {
    const says = document.querySelector(".picture canvas")?.getAttribute("aria-label");
    if (!says) return;
    window.seen.picture ??= performance.now();
    if (/\d.*%/.test(says)) window.seen.past ??= performance.now();
  }).observe(document, { subtree: true, childList: true, attributes: true });
}

async function visit(context, kind) {
  const page = await context.newPage();
  const session = await context.newCDPSession(page);
  const bytes = (PHONE.megabits * 1e6) / 8;
  await session.send("Network.enable");
  await session.send("Network.emulateNetworkConditions", { offline: false, latency: PHONE.latency, downloadThroughput: bytes, uploadThroughput: bytes });
  await session.send("Emulation.setCPUThrottlingRate", { rate: PHONE.slower });
  await page.addInitScript(watch);
  await page.goto(base);
  await page.waitForFunction(() => window.seen.past);
  const seen = await page.evaluate(() => ({
    painted: performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? Number.NaN,
    ...window.seen,
    kB: [performance.getEntriesByType("navigation")[0], ...performance.getEntriesByType("resource")].reduce((sum, each) => sum + each.transferSize, 0) / 1000,
    requests: performance.getEntriesByType("resource").length + 1,
  }));
  // What the page fetches for later belongs to the first visit.
  await page.waitForTimeout(4000);
  await page.close();
  return { kind, ...seen };
}

const browser = await launch();
const seen = [];
for (let run = 0; run < RUNS; run += 1) {
  const context = await browser.newContext({ viewport: { width: PHONE.width, height: PHONE.height }, deviceScaleFactor: 2, hasTouch: true });
  seen.push(await visit(context, "first visit"), await visit(context, "second visit"));
  await context.close();
}
await browser.close();

const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];
const COLUMNS = { painted: "first paint, ms", picture: "picture, ms", past: "with its past, ms", kB: "kB till then", requests: "requests" };
console.log(`${base}: processor ${PHONE.slower} times slower, ${PHONE.megabits} Mbit/s, ${PHONE.latency} ms; median of ${RUNS} (least)`);
console.log(["".padEnd(13), ...Object.values(COLUMNS).map((name) => name.padStart(18))].join(""));
for (const kind of ["first visit", "second visit"]) {
  const runs = seen.filter((each) => each.kind === kind);
  const cell = (key) => `${median(runs.map((run) => run[key])).toFixed(0)} (${Math.min(...runs.map((run) => run[key])).toFixed(0)})`.padStart(18);
  console.log([kind.padEnd(13), ...Object.keys(COLUMNS).map(cell)].join(""));
}
