import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { banks } from "../../web/mock/boat.mjs";
import { record } from "../../web/mock/record.mjs";
import { invented } from "./invented.mjs";
import { assertNight, base, headed, launch, open, overflow, painted, PALETTES, picture, SIZES, violations } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

const HOUR = 3_600_000;
const ask = async (path) => (await fetch(base + path)).json();
const firstBank = async () => (await ask("/api/v1/banks")).banks[0].name;
const ready = (page) => page.waitForFunction(() => document.querySelector(".passage-list tbody tr, .first:not(:empty)"));
const healthReady = (page) => page.waitForFunction(() => document.querySelector(".record")?.checkVisibility());
const sound = async (page, palette, faults) => {
  assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
  assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
  assert.deepEqual(faults, []);
};

const button = (page, text) => page.locator("main button:visible", { hasText: text });
const outcome = (page, text) => page.waitForFunction((wanted) => [...document.querySelectorAll(".outcome")].some((each) => each.textContent === wanted), text);

for (const size of SIZES) {
  for (const palette of ["day", "night"]) {
    test(`passages_are_listed_newest_first_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await open(browser, "/passages", size, palette);
      await ready(page);
      const { passages } = await ask(`/api/v1/banks/${await firstBank()}/passages?limit=50`);
      assert.equal(await page.locator(".passage-list tbody tr").count(), passages.length);
      const begun = passages.map((each) => each.begin);
      assert.deepEqual(begun, [...begun].sort().reverse(), "newest first");
      const shot = await picture(page, `passages-${size.width}-${palette}`);
      if (palette === "night") assertNight(shot);
      await sound(page, palette, faults);
      await close();
    });
  }
  for (const palette of PALETTES) {
    test(`a_passage_shows_its_picture_and_sums_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await open(browser, "/", size, palette);
      await invented(page);
      await page.goto(`${base}/passages`);
      await page.click(".passage-list a >> text=Round the point");
      await page.waitForURL(/passage=7/);
      await headed(page);
      assert.match(await page.locator(".say-passage").innerText(), /41\.4.Ah.*2\.20.Ah.*60.%.*reserve was not touched/);
      assert.match(await page.locator(".notes").innerText(), /30 min/);
      assert.match(await page.locator(".ledger-part").innerText(), /Drive motor[\s\S]*33\.3.Ah[\s\S]*Unaccounted for[\s\S]*2\.1 to 4\.7/);
      assert.equal(await page.locator(".extremes tbody tr").count(), 4);
      assert.ok((await painted(page, ".stack canvas", "band")).same > 20, "the band is drawn");
      const shot = await picture(page, `passage-${size.width}-${palette}`);
      if (palette === "night") assertNight(shot);
      await sound(page, palette, faults);
      await close();
    });

    test(`health_of_an_old_bank_reads_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await open(browser, "/", size, palette);
      await page.route(/\/api\/v1\/banks\/[^/]+\/record$/, (route) => route.fulfill({ json: record("drive", banks.drive, Date.now() / 1000) }));
      await page.goto(`${base}/health`);
      await healthReady(page);
      await page.waitForSelector(".fade-plot canvas");
      assert.match(await page.locator(".say-passage").innerText(), /holds 88.% of its rating/);
      assert.match(await page.locator(".sure").innerText(), /either way, from 33 findings over 6 years/);
      assert.equal(await page.locator(".advice li").count(), 4);
      assert.match(await page.locator(".use").innerText(), /Since last full[\s\S]*Below 80.% of charge\s+40.% of the time[\s\S]*Charge efficiency/);
      assert.match(await page.locator(".warmth").innerText(), /Above 30.°C\s+4,001.h/);
      assert.match(await page.locator(".cautions").innerText(), /burn and kill/);
      assert.match(await page.locator(".capacity").innerText(), /between \w+ \d{4} and \w+ \d{4}/);
      assert.match(await page.locator(".balance").innerText(), /Monobloc 2 holds 8 % less/);
      for (const colour of ["band", "fan", "mark"]) assert.ok((await painted(page, ".fade-plot canvas", colour)).same > 20, `${colour} is drawn`);
      const shot = await picture(page, `health-${size.width}-${palette}`);
      if (palette === "night") assertNight(shot);
      await sound(page, palette, faults);
      await close();
    });
  }
}

test("health_shows_what_the_daemon_knows", async () => {
  const { page, faults, close } = await open(browser, "/health", SIZES[2], "day");
  await healthReady(page);
  const told = await ask(`/api/v1/banks/${await firstBank()}/record`);
  assert.ok((await page.locator(told.fade.earned ? ".say-passage" : ".sure").innerText()).includes(told.fade.text));
  assert.equal(await page.locator(".advice li").count(), told.advice.length);
  const placed = new Set([...told.capacity.findings, ...told.fade.line].map(({ time }) => time).filter(Boolean));
  assert.equal(await page.locator(".fade").isVisible(), placed.size > 1);
  const known = told.use.days > 0 && told.use.soc_tenths.some((share) => share > 0);
  assert.equal(await page.locator(".use").getByRole("columnheader", { name: "State of charge" }).count(), known ? 1 : 0);
  await picture(page, "health-daemon");
  await sound(page, "day", faults);
  await close();
});

test("a_young_bank_is_told_plainly_not_enough_yet", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[0], "day");
  await page.route(/\/api\/v1\/banks\/[^/]+\/record$/, (route) => route.fulfill({ json: record("house", banks.house, Date.now() / 1000) }));
  await page.goto(`${base}/health`);
  await healthReady(page);
  assert.match(await page.locator(".say-passage").innerText(), /has not been measured yet/);
  assert.match(await page.locator(".sure").innerText(), /Not enough yet/);
  assert.equal(await page.locator(".fade").isVisible(), false);
  assert.match(await page.locator(".capacity").innerText(), /No capacity finding yet/);
  assert.match(await page.locator(".stress").innerText(), /Neither the measured fade nor the stress sum/);
  assert.match(await page.locator(".notes").innerText(), /was not believed/);
  await sound(page, "day", faults);
  await close();
});

test("a_bank_without_passages_says_so_and_how_they_come", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[0], "day");
  await page.route(/\/passages\?/, (route) => route.fulfill({ json: { passages: [] } }));
  await page.goto(`${base}/passages`);
  await ready(page);
  assert.match(await page.locator("main").innerText(), /No passage has been found yet\.[\s\S]*found from the data/);
  await sound(page, "day", faults);
  await close();
});

test("each_change_is_asked_back_and_sent_once", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day");
  const { sent, list } = await invented(page);
  const back = async () => {
    await page.goto(`${base}/passages?passage=7`);
    await page.waitForFunction(() => /Merge with the one after/.test(document.querySelector(".change")?.textContent ?? ""));
  };
  const confirmed = async (text, asked, act) => {
    await back();
    await button(page, text).click();
    assert.match(await page.locator(".question:visible").innerText(), asked);
    await page.keyboard.press("Escape");
    assert.equal(await page.locator(".question:visible").count(), 0);
    await button(page, text).click();
    await page.click(`.question .act >> text=${act}`);
    await outcome(page, "done as asked");
  };
  await confirmed("Remove it", /not found again/, "Remove it");
  assert.equal(new URL(page.url()).searchParams.get("passage"), null, "a removed one leads to the list");
  await confirmed("Merge with the one before", /become one/, "Merge them");
  await confirmed("Merge with the one after", /become one/, "Merge them");
  await confirmed("Split it", /two passages, cut at/, "Split it");
  await back();
  await button(page, "Set its ends").click();
  await outcome(page, "Change one of the two times first.");
  const end = page.locator(".change input").nth(1);
  const later = (text) => `${text.slice(0, -1)}${text.at(-1) === "9" ? 8 : 9}`;
  await end.fill(later(await end.inputValue()));
  await button(page, "Set its ends").click();
  assert.match(await page.locator(".question:visible").innerText(), /then lasts/);
  await page.click(".question .act >> text=Set the ends");
  await outcome(page, "done as asked");
  const minute = (text) => text.slice(0, 16);
  const [, own] = list;
  assert.deepEqual(
    sent.map(({ method, path, body }) => [method, path, Object.fromEntries(Object.entries(body).map(([key, each]) => [key, typeof each === "string" ? minute(each) : each]))]),
    [
      ["DELETE", "/7", {}],
      ["POST", "/merge", { ids: [7, 6] }],
      ["POST", "/merge", { ids: [7, 8] }],
      ["POST", "/7/split", { at: minute(new Date((Date.parse(own.begin) + Date.parse(own.end)) / 2).toISOString()) }],
      ["PATCH", "/7", { end: later(minute(own.end)) }],
    ],
  );
  assert.deepEqual(faults, []);
  await close();
});

test("a_tap_on_the_chart_sets_where_it_is_split", async () => {
  const { page, close } = await open(browser, "/", SIZES[0], "day");
  await invented(page);
  await page.goto(`${base}/passages?passage=7`);
  await headed(page);
  const field = page.locator(".change input").nth(2);
  const middle = await field.inputValue();
  const box = await page.locator(".panel .plot").first().boundingBox();
  await page.touchscreen.tap(box.x + box.width * 0.85, box.y + box.height / 2);
  assert.ok((await field.inputValue()) > middle, "to the right is later");
  await close();
});

test("name_and_note_are_kept_and_a_passage_is_marked_by_hand", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[0], "day");
  const { sent } = await invented(page);
  await page.goto(`${base}/passages?passage=7`);
  await page.fill("#passage-name", "Home again");
  await page.fill("#passage-note", "Fog until noon.");
  await button(page, "Keep name and note").click();
  await outcome(page, "Kept.");
  await page.click("text=All passages");
  await page.click("summary >> text=Mark a passage by hand");
  await page.locator(".mark-passage input").nth(2).fill("Trial run");
  await button(page, "Mark it").click();
  assert.match(await page.locator(".question:visible").innerText(), /lasts .*6 h/);
  await picture(page, "passages-marking");
  assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
  await page.click(".question .act");
  await page.waitForURL(/passage=7/);
  await outcome(page, "done as asked");
  assert.deepEqual(sent[0], { method: "PATCH", path: "/7", body: { name: "Home again", note: "Fog until noon." } });
  assert.equal(sent[1].body.name, "Trial run");
  assert.equal(Date.parse(sent[1].body.end) - Date.parse(sent[1].body.begin), 6 * HOUR);
  assert.deepEqual(faults, []);
  await close();
});

test("text_twice_as_large_reaches_beyond_no_edge", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[0], "day");
  await invented(page);
  await page.route(/\/api\/v1\/banks\/[^/]+\/record$/, (route) => route.fulfill({ json: record("drive", banks.drive, Date.now() / 1000) }));
  for (const [path, shown] of [["/passages", ".passage-list"], ["/passages?passage=7", ".ledger-part"], ["/health", ".record .use"]]) {
    await page.goto(base + path);
    await page.evaluate(() => (document.documentElement.style.fontSize = "200%"));
    await page.waitForSelector(shown);
    await page.waitForTimeout(300);
    assert.equal(await overflow(page), 0, path);
  }
  assert.deepEqual(faults, []);
  await close();
});

test("a_refused_change_gives_its_reason_and_stays", async () => {
  const { page, close } = await open(browser, "/", SIZES[2], "day");
  await invented(page, { status: 409, answer: { title: "Not possible now", status: 409, detail: "a capacity test is running" } });
  await page.goto(`${base}/passages?passage=7`);
  await button(page, "Remove it").click();
  await page.click(".question .act");
  await outcome(page, "a capacity test is running");
  assert.match(page.url(), /passage=7/);
  const fields = page.locator(".change input");
  await fields.nth(1).fill(await fields.nth(0).inputValue());
  await button(page, "Set its ends").click();
  await outcome(page, "Both times are needed, and the end must lie after the start.");
  await close();
});

test("a_daemon_that_does_not_answer_is_named", async () => {
  const { page, close } = await open(browser, "/", SIZES[2], "day");
  await page.route(/\/api\/v1\/banks\/[^/]+\/(passages|record)/, (route) => route.abort("connectionrefused"));
  await page.goto(`${base}/passages`);
  await page.waitForFunction(() => /could not be read/.test(document.querySelector(".first")?.textContent ?? ""));
  await page.goto(`${base}/health`);
  await page.waitForFunction(() => /could not be read/.test(document.querySelector(".say-passage")?.textContent ?? ""));
  await close();
});

test("pages_and_links_are_reached_by_keyboard_and_reports_are_linked", async () => {
  const { page, close } = await open(browser, "/", SIZES[2], "day");
  await invented(page);
  await page.goto(`${base}/`);
  await page.locator(".pages a", { hasText: "Passages" }).focus();
  await page.keyboard.press("Enter");
  await page.waitForURL(/\/passages/);
  await ready(page);
  assert.equal(await page.evaluate(() => document.activeElement?.textContent), "Passages", "the focus stays where it was");
  await page.locator(".passage-list a").nth(1).focus();
  await page.keyboard.press("Enter");
  await page.waitForURL(/passage=7/);
  const bank = await firstBank();
  assert.equal(await page.locator(".onward").first().getAttribute("href"), `/api/v1/banks/${bank}/passages/7/report`);
  await page.click("text=Open in History");
  await page.waitForURL(/\/history\?.*from=.*to=/);
  await page.goBack();
  await page.waitForURL(/passage=7/);
  await page.locator(".pages a", { hasText: "Health" }).click();
  await page.waitForURL(/\/health/);
  await healthReady(page);
  assert.equal(await page.locator(".onward").getAttribute("href"), `/api/v1/banks/${bank}/record/report`);
  await close();
});
