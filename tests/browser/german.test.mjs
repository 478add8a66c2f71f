import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { launch, open, overflow, SIZES, violations } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

/** A path read in German: the page is loaded anew once the language is chosen. */
async function german(path, size) {
  const opened = await open(browser, path, size, "day");
  await opened.page.evaluate(() => localStorage.setItem("taffrail.language", "de"));
  await opened.page.reload();
  return opened;
}

const VIEWS = [
  { path: "/", ready: ".known .lasts .text:not(:empty)", says: /Letzte 24 Stunden[\s\S]*Wie lange es reicht[\s\S]*Was sicher bekannt ist/ },
  { path: "/history", ready: ".by-day tbody tr", says: /Spannung[\s\S]*Nach Tagen[\s\S]*Geladen/ },
  { path: "/passages", ready: ".passage-list tbody tr, .first:not(:empty)", says: /Fahrten/ },
  { path: "/health", ready: ".record:not([hidden])", says: /Was zu tun ist[\s\S]*Kapazität[\s\S]*Innenwiderstand/ },
];

for (const size of SIZES) {
  test(`each_page_reads_in_german_at_${size.width}`, async () => {
    for (const { path, ready, says } of VIEWS) {
      const { page, faults, close } = await german(path, size);
      await page.waitForSelector(ready, { state: "attached" });
      assert.equal(await page.getAttribute("html", "lang"), "de");
      assert.match(await page.locator("main").innerText(), says);
      assert.deepEqual(await page.locator("main [lang=en]").allInnerTexts(), [], "what the daemon says has its German");
      assert.equal(await overflow(page), 0, `${path} reaches beyond the right edge`);
      assert.deepEqual(await violations(page), []);
      assert.deepEqual(faults, []);
      await close();
    }
  });
}

test("english_readers_fetch_no_german", async () => {
  const { page, close } = await open(browser, "/", SIZES[2], "day");
  await page.waitForSelector(".say");
  const fetched = await page.evaluate(() => performance.getEntriesByType("resource").map((each) => new URL(each.name).pathname));
  assert.deepEqual(fetched.filter((path) => /\/de-[^/]*\.js$/.test(path)), []);
  await close();
});
