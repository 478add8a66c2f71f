import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { assertNight, launch, open, overflow, painted, PALETTES, picture, SIZES, violations } from "./harness.mjs";

/** Layout shift score (Web Vitals "good" is 0.1) that a whole visit may gather. */
const MOST_SHIFT = 0.05;

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

const figures = (page) => page.locator(".figures dl").innerText();

for (const size of SIZES) {
  for (const palette of PALETTES) {
    test(`now_lives_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await open(browser, "/", size, palette);
      await page.waitForFunction(() => /\d/.test(document.querySelector(".figure.voltage .value")?.textContent ?? ""));
      const first = await figures(page);
      await page.waitForFunction((was) => document.querySelector(".figures dl").innerText !== was, first, { timeout: 10_000 });

      await page.waitForFunction(() => /from \d/.test(document.querySelector(".picture canvas")?.getAttribute("aria-label") ?? ""));
      const band = await painted(page, ".picture canvas", "band");
      assert.ok(band.same > 20, `the band's colour covers ${band.same} pixels`);
      assert.ok(band.any > 0.5 * band.all, "the picture is drawn");
      const trace = await painted(page, ".picture canvas", "trace");
      assert.ok(trace.same > 100, `the trace's colour covers ${trace.same} pixels`);

      assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
      const shift = await page.evaluate(() => window.shifts.reduce((a, b) => a + b, 0));
      assert.ok(shift <= MOST_SHIFT, `layout shift ${shift}`);
      const shot = await picture(page, `now-${size.width}-${palette}`);
      if (palette === "night") {
        assertNight(shot);
      }
      // Night is dim on purpose: its contrast is stated beside its colours and is no accident.
      assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
      assert.deepEqual(faults, []);
      await close();
    });
  }
}

test("sentence_picture_and_figures_fit_the_chart_table_screen", async () => {
  const { page, close } = await open(browser, "/", SIZES[1], "day");
  await page.waitForFunction(() => /\d/.test(document.querySelector(".figure.voltage .value")?.textContent ?? ""));
  const bottom = await page.evaluate(() => document.querySelector(".figures").getBoundingClientRect().bottom);
  const ledger = await page.evaluate(() => document.querySelector(".ledger h2").getBoundingClientRect().bottom);
  assert.ok(bottom <= 600 && ledger <= 600, `figures end at ${bottom}, the ledger begins by ${ledger}`);
  await close();
});

test("cursor_reads_the_past_and_ahead", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day");
  await page.waitForFunction(() => /from \d/.test(document.querySelector(".picture canvas")?.getAttribute("aria-label") ?? ""));
  const box = await page.locator(".picture").boundingBox();
  const now = await page.evaluate(() => Number.parseFloat(document.querySelector(".now-word").style.left));
  await page.mouse.move(box.x + now - 15, box.y + box.height / 2);
  assert.match(await page.locator(".readout").innerText(), /\d\d:\d\d.*%/);
  await page.mouse.move(box.x + now + 15, box.y + box.height / 2);
  assert.match(await page.locator(".readout").innerText(), /ahead/);
  await page.mouse.move(2, 2);
  assert.equal(await page.locator(".readout").isVisible(), false);
  await page.locator(".picture").focus();
  await page.keyboard.press("ArrowLeft");
  assert.match(await page.locator(".readout").innerText(), /\d\d:\d\d/);
  assert.deepEqual(faults, []);
  await close();
});

test("light_is_chosen_on_the_page_and_remembered", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day");
  const before_ = await page.evaluate(() => document.documentElement.dataset.palette);
  await page.click(".light summary");
  await page.click(".light label:has(input[value=night])");
  assert.equal(before_, "day");
  assert.equal(await page.evaluate(() => document.documentElement.dataset.palette), "night");
  assert.equal(await page.evaluate(() => localStorage.getItem("taffrail.palette")), "night");
  assert.deepEqual(faults, []);
  await close();
});

test("night_is_dark_before_any_of_the_page_has_run", async () => {
  const { page, close } = await open(browser, "/", SIZES[2], "night");
  await page.route("**/assets/*.js", (route) => route.abort());
  await page.reload();
  assertNight(await picture(page, "night-before-script"));
  await close();
});

test("text_at_twice_its_size_stays_within_the_page", async () => {
  for (const path of ["/", "/history"]) {
    for (const size of SIZES) {
      const { page, close } = await open(browser, path, size, "day");
      await page.waitForSelector(path === "/" ? ".figures" : ".stack canvas");
      await page.evaluate(() => (document.documentElement.style.fontSize = "200%"));
      await page.waitForTimeout(1200);
      await picture(page, `twice-${path === "/" ? "now" : "history"}-${size.width}`);
      assert.equal(await overflow(page), 0, `${path} at ${size.width}`);
      await close();
    }
  }
});
