import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { assertNight, launch, open, overflow, picture, SIZES, violations } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

/** Opens the Now page of a boat whose clock is not believed, until somebody sets it; `answers` come in turn. */
async function unset(size, palette, answers) {
  let trusted = false;
  const sent = [];
  const opening = await open(browser, "/", size, palette);
  const { page } = opening;
  await page.route(/\/api\/v1\/live$/, (route) => route.fulfill({ status: 204 }));
  await page.route(/\/api\/v1\/banks\/[^/]+\/now$/, async (route) => {
    const answer = await route.fetch();
    await route.fulfill({ response: answer, json: { ...(await answer.json()), time_trusted: trusted } });
  });
  await page.route(/\/api\/v1\/clock$/, (route) => {
    sent.push(route.request().postDataJSON());
    const { status, body } = answers.shift();
    trusted = status === 200;
    return route.fulfill({ status, contentType: status === 200 ? "application/json" : "application/problem+json", body: JSON.stringify(body) });
  });
  await page.reload();
  await page.locator(".set-clock form").waitFor();
  return { ...opening, sent };
}

const DONE = { status: 200, body: { text: "time set by hand; times since the computer started moved forward by 57.0 years", moved_ms: 1 } };
const button = (page, text) => page.locator(".set-clock button", { hasText: text });

for (const size of SIZES) {
  for (const palette of ["day", "night"]) {
    test(`a_clock_that_cannot_be_right_can_be_set_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, sent, close } = await unset(size, palette, [DONE]);
      await button(page, "time of this device").click();
      await page.locator(".set-clock .question").waitFor();
      assert.deepEqual(sent, [], "it is asked back first");
      assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
      const shot = await picture(page, `clock-${size.width}-${palette}`);
      if (palette === "night") assertNight(shot);
      assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
      await page.locator(".set-clock .act").click();
      await page.locator(".set-clock .outcome", { hasText: "57.0 years" }).waitFor();
      assert.equal(sent.length, 1);
      const off = Math.abs(Date.parse(sent[0].time) - Date.now());
      assert.ok(off < 600_000 && sent[0].even_so === false, JSON.stringify(sent));
      await page.locator(".set-clock form").waitFor({ state: "hidden" });
      await close();
    });
  }
}

test("a_stated_time_is_that_of_the_boats_zone_and_one_behind_the_record_is_asked_about_again", async () => {
  const behind = { status: 409, body: { title: "Not possible now", status: 409, detail: "the time given lies before what is recorded", insist: "even_so" } };
  const { page, sent, close } = await unset(SIZES[2], "day", [behind, DONE]);
  const zone = await page.evaluate(async () => (await (await fetch("/api/v1/banks")).json()).zone);
  await page.locator(".set-clock input").fill("2027-02-03T04:05");
  await button(page, "Set the time").first().click();
  await page.locator(".set-clock .question", { hasText: "04:05" }).waitFor();
  await page.locator(".set-clock .act").click();
  await page.locator(".set-clock .question", { hasText: "lies before what is recorded" }).waitFor();
  await page.locator(".set-clock .act", { hasText: "all the same" }).click();
  await page.locator(".set-clock .outcome", { hasText: "57.0 years" }).waitFor();
  assert.deepEqual(sent.map((each) => each.even_so), [false, true]);
  const shown = await page.evaluate(
    ([ms, zone]) => new Intl.DateTimeFormat("en-GB", { timeZone: zone, dateStyle: "short", timeStyle: "short" }).format(ms),
    [Date.parse(sent[0].time), zone],
  );
  assert.equal(shown, "03/02/2027, 04:05");
  await close();
});

test("a_refused_time_says_why_and_an_empty_field_asks_for_both_parts", async () => {
  const refused = { status: 400, body: { title: "Bad request", status: 400, detail: "time: check the year and the zone" } };
  const { page, sent, close } = await unset(SIZES[0], "day", [refused]);
  await page.locator(".set-clock input").fill("");
  await button(page, "Set the time").first().click();
  await page.locator(".set-clock .trouble", { hasText: "both a date and a time" }).waitFor();
  await page.locator(".set-clock input").fill("2025-02-03T04:05");
  await button(page, "Set the time").first().click();
  await page.locator(".set-clock .act").click();
  await page.locator(".set-clock .trouble", { hasText: "check the year" }).waitFor();
  assert.equal(sent.length, 1);
  assert.ok(await page.locator(".set-clock form").isVisible(), "another time can be stated");
  await close();
});
