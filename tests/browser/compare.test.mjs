import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { invented } from "./invented.mjs";
import { assertNight, base, headed, launch, open, overflow, picture, SIZES, violations } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

const figures = (page) => page.locator(".figures").innerText();
/** Answers questions for small histories with a line that falls from 90 % to 40 %, and counts them. */
async function falling(page) {
  const seen = { asked: 0, most: 0 };
  let open = 0;
  await page.route(/\/history\?.*points=60/, async (route) => {
    seen.asked += 1;
    seen.most = Math.max(seen.most, (open += 1));
    await new Promise((resume) => setTimeout(resume, 20));
    open -= 1;
    const query = new URL(route.request().url()).searchParams;
    const [from, to] = [Number(query.get("from_ms")), Number(query.get("to_ms"))];
    const step_ms = (to - from) / 20;
    const mean = Array.from({ length: 20 }, (_, i) => 0.9 - 0.025 * i);
    const soc = { unit: "1", mean, low: mean.map((v) => v - 0.03), high: mean.map((v) => v + 0.03) };
    await route.fulfill({ json: { from_ms: from, to_ms: to, step_ms, time_ms: mean.map((_, i) => from + i * step_ms), reconciled_until_ms: null, channels: { soc }, marks: [], unreadable: [] } }).catch(() => undefined);
  });
  return seen;
}
const drawn = (page, selector) => page.waitForFunction((which) => document.querySelectorAll(which).length > 0, selector);

for (const [size, palette] of [[SIZES[0], "day"], [SIZES[1], "night"], [SIZES[2], "dusk"]]) {
  test(`each_passage_has_its_trace_and_is_compared_at_${size.width}x${size.height}_by_${palette}`, async () => {
    const { page, faults, close } = await open(browser, "/", size, palette);
    await invented(page, { earlier: 5 });
    await falling(page);
    await page.goto(`${base}/passages`);
    await drawn(page, ".trace .line");
    assert.equal(await page.locator(".passage-list tr:has(.trace)").count(), 8);
    assert.match(await page.locator(".passage-list tbody tr").first().textContent(), /from 94.% to 62.%/, "the trace in words");
    let shot = await picture(page, `traces-${size.width}-${palette}`);
    if (palette === "night") assertNight(shot);
    assert.equal(await overflow(page), 0);
    assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);

    await page.click(".passage-list a >> text=Round the point");
    await headed(page);
    await drawn(page, ".sides-plot .beside");
    assert.match(await page.locator(".compare").innerText(), /the typical passage[\s\S]*median of the last 7/);
    assert.match(await figures(page), /Charge out[\s\S]*41\.4.Ah[\s\S]*than usual/);
    await page.locator(".compare").scrollIntoViewIfNeeded();
    shot = await picture(page, `compare-${size.width}-${palette}`);
    if (palette === "night") assertNight(shot);
    assert.equal(await overflow(page), 0);
    assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
    assert.deepEqual(faults, []);
    await close();
  });
}

test("the_way_from_the_list_to_a_comparison_and_back_is_walked_by_keyboard", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day");
  await invented(page, { earlier: 4 });
  await falling(page);
  await page.goto(`${base}/passages`);
  await page.locator(".passage-list a").nth(1).focus();
  await page.keyboard.press("Enter");
  await page.waitForURL(/passage=7/);
  await drawn(page, ".choice li");
  await page.locator(".choice summary").focus();
  await page.keyboard.press("Enter");
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "the typical passage");
  assert.equal(await page.evaluate(() => document.activeElement.getAttribute("aria-current")), "true");
  await page.keyboard.press("Escape");
  assert.equal(await page.locator(".choice ul").isVisible(), false);
  await page.keyboard.press("Enter");
  await page.keyboard.press("Tab");
  await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  await page.waitForURL(/passage=7&with=8/);
  assert.equal(await page.evaluate(() => document.activeElement.tagName), "SUMMARY", "the focus is where the choice was opened");
  assert.match(await figures(page), /The other[\s\S]*Charge out[\s\S]*about the same/);
  await page.goBack();
  await page.waitForURL((url) => !url.searchParams.has("passage"));
  assert.deepEqual(faults, []);
  await close();
});

test("a_comparison_is_linked_and_reads_under_the_pointer", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day");
  await invented(page, { earlier: 4 });
  await falling(page);
  await page.goto(`${base}/passages?passage=7&with=101`);
  await drawn(page, ".sides-plot .beside");
  assert.match(await figures(page), /Charge out\s+41\.4.Ah\s+24\.0.Ah\s+\+17\.4.Ah 73.% more/);
  assert.match(await figures(page), /Deepest\s+60.%\s+78.%\s+−18 points deeper/);
  await page.locator(".sides-plot").scrollIntoViewIfNeeded();
  const box = await page.locator(".sides-plot").boundingBox();
  await page.mouse.move(box.x + box.width / 4, box.y + 10);
  assert.match(await page.locator(".sides .reading").innerText(), /^after 1 h: this one \d+.%, the other \d+.%$/);
  assert.deepEqual(faults, []);
  await close();
});

test("what_cannot_be_compared_is_said", async () => {
  const { page, close } = await open(browser, "/", SIZES[0], "day");
  await invented(page);
  await falling(page);
  await page.goto(`${base}/passages?passage=7`);
  await page.waitForFunction(() => /from 3 reconciled passages on; beside this one there are 2/.test(document.querySelector(".compare")?.textContent ?? ""));
  assert.equal(await page.locator(".choice li").count(), 2);
  await page.locator(".choice summary").click();
  assert.equal(await overflow(page), 0, "the list stays on the page");
  await page.route(/\/passages\/999$/, (route) => route.fulfill({ status: 404, contentType: "application/problem+json", body: JSON.stringify({ detail: "there is no passage 999" }) }));
  await page.goto(`${base}/passages?passage=7&with=999`);
  await page.waitForFunction(() => /could not be read: there is no passage 999/.test(document.querySelector(".compare")?.textContent ?? ""));
  await close();
});

test("a_long_list_asks_for_traces_near_the_window_only_and_a_few_at_a_time", async () => {
  const { page, close } = await open(browser, "/", SIZES[1], "day");
  await invented(page, { earlier: 400 });
  const seen = await falling(page);
  const begun = Date.now();
  await page.goto(`${base}/passages`);
  await drawn(page, ".trace .line");
  assert.ok(Date.now() - begun < 5000, `${Date.now() - begun} ms`);
  await page.waitForTimeout(1000);
  assert.ok(seen.asked > 5 && seen.asked < 40, `${seen.asked} asked`);
  assert.ok(seen.most <= 3, `${seen.most} at a time`);
  await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
  await page.waitForFunction(() => [...document.querySelectorAll(".trace")].at(-1).querySelector(".line") !== null);
  const shifts = await page.evaluate(() => window.shifts.reduce((sum, each) => sum + each, 0));
  assert.ok(shifts < 0.05, `nothing moves as they come: ${shifts}`);
  await close();
});

test("text_twice_as_large_leaves_room_for_the_comparison", async () => {
  const { page, close } = await open(browser, "/", SIZES[0], "day");
  await invented(page, { earlier: 4 });
  await falling(page);
  await page.goto(`${base}/passages?passage=7`);
  await drawn(page, ".sides-plot .beside");
  await page.evaluate(() => (document.documentElement.style.fontSize = "200%"));
  await page.locator(".choice summary").click();
  await page.waitForTimeout(200);
  assert.equal(await overflow(page), 0);
  await picture(page, "compare-large");
  await close();
});
