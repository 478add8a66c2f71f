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
  { path: "/", ready: ".lasts .text:not(:empty)", says: /Was wäre bei[\s\S]*letzte 24 Stunden[\s\S]*Wie lange es reicht/ },
  { path: "/history", ready: ".by-day tbody tr", says: /Spannung[\s\S]*Nach Tagen[\s\S]*Geladen/ },
  { path: "/passages", ready: ".passage-list tbody tr, .first:not(:empty)", says: /Fahrten/ },
  { path: "/health", ready: ".record:not([hidden])", says: /Was zu tun ist[\s\S]*Kapazität[\s\S]*Innenwiderstand/ },
  { path: "/setup", ready: ".device td.value", says: /Verbrennungen verursachen und töten[\s\S]*Was sicher bekannt ist[\s\S]*Geräte/ },
];

for (const size of SIZES) {
  test(`each_page_reads_in_german_at_${size.width}`, async () => {
    for (const { path, ready, says } of VIEWS) {
      const { page, faults, close } = await german(path, size);
      await page.waitForSelector(ready, { state: "attached" });
      assert.equal(await page.getAttribute("html", "lang"), "de");
      assert.match(await page.locator("main").innerText(), says);
      assert.deepEqual(await page.locator("main [lang=en]:not(label)").allInnerTexts(), [], "what the daemon says has its German");
      assert.equal(await overflow(page), 0, `${path} reaches beyond the right edge`);
      assert.deepEqual(await violations(page), []);
      assert.deepEqual(faults, []);
      await close();
    }
  });
}

for (const language of ["en", "de"]) {
  test(`a_reader_of_${language}_fetches_its_words_alone_and_beside_the_program`, async () => {
    const { page, close } = await open(browser, "/", SIZES[2], "day");
    await page.evaluate((chosen) => localStorage.setItem("taffrail.language", chosen), language);
    const fetched = [];
    page.on("request", (request) => fetched.push(...(/\/(en|de)-[^/]*\.js$/.exec(request.url())?.slice(1) ?? [])));
    let release;
    const held = new Promise((resume) => (release = resume));
    await page.route(/\/index-[^/]*\.js$/, async (route) => {
      await held;
      await route.continue();
    });
    await Promise.all([page.waitForRequest(/\/(en|de)-[^/]*\.js$/), page.reload({ waitUntil: "commit" })]);
    release();
    await page.waitForSelector(".say:not(:empty)");
    assert.deepEqual(fetched, [language]);
    await close();
  });
}

test("where_german_cannot_be_fetched_the_page_is_in_english", async () => {
  const { page, close } = await open(browser, "/", SIZES[2], "day");
  await page.evaluate(() => localStorage.setItem("taffrail.language", "de"));
  await page.route(/\/de-[^/]*\.js$/, (route) => route.abort());
  await page.reload();
  await page.waitForSelector(".say:not(:empty)");
  assert.equal(await page.getAttribute("html", "lang"), "en");
  assert.match(await page.locator("nav.pages").innerText(), /History/);
  await close();
});
