import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { assertNight, headed, launch, open, overflow, painted, PALETTES, picture, SIZES, violations } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

const drawn = (page) => page.evaluate(() => document.querySelector(".stack canvas").toDataURL());
const title = (page) => page.locator(".span-title").innerText();
const head = (page) => page.locator(".panel .value").first().innerText();

/** Waits for the history answer that a gesture leads to, and hands back the span it asked for. */
async function asked(page, act) {
  const answer = page.waitForResponse((response) => response.url().includes("/history?") && response.ok());
  await act();
  const query = new URL((await answer).url()).searchParams;
  await page.waitForTimeout(250);
  return Number(query.get("to_ms")) - Number(query.get("from_ms"));
}

async function opened(size, palette, path = "/history") {
  const opening = await open(browser, path, size, palette);
  await headed(opening.page);
  await opening.page.waitForTimeout(300);
  return opening;
}

for (const size of SIZES) {
  for (const palette of PALETTES) {
    test(`history_zooms_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await opened(size, palette);
      const band = await painted(page, ".stack canvas", "band");
      assert.ok(band.same > 20, `the band's colour covers ${band.same} pixels`);
      const shot = await picture(page, `history-${size.width}-${palette}`);

      const [wasTitle, wasDrawn] = [await title(page), await drawn(page)];
      const box = await page.locator(".panel .plot").nth(1).boundingBox();
      await page.mouse.move(box.x + box.width * 0.6, box.y + box.height / 2);
      const wheeled = await asked(page, () => page.mouse.wheel(0, -400));
      assert.notEqual(await title(page), wasTitle);
      const nearer = await drawn(page);
      assert.notEqual(nearer, wasDrawn, "the wheel draws anew");
      await page.waitForURL(/from=.*to=/);

      await page.locator(".stack").focus();
      const pressed = await asked(page, () => page.keyboard.press("+"));
      assert.ok(pressed < wheeled, `plus zooms in: ${pressed} against ${wheeled}`);
      assert.notEqual(await drawn(page), nearer, "the key draws anew");
      const widened = await asked(page, () => page.keyboard.press("-"));
      assert.ok(widened > pressed, "minus zooms out");
      const before_ = await title(page);
      await page.keyboard.press("ArrowLeft");
      assert.notEqual(await title(page), before_, "an arrow moves the span");

      assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
      if (palette === "night") {
        assertNight(shot);
      }
      assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
      assert.deepEqual(faults, []);
      await close();
    });
  }
}

test("drag_pans_and_the_address_brings_the_span_back", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const was = await title(page);
  const box = await page.locator(".panel .plot").nth(1).boundingBox();
  const y = box.y + box.height / 2;
  await page.mouse.move(box.x + box.width * 0.4, y);
  await page.mouse.down();
  await asked(page, () => page.mouse.move(box.x + box.width * 0.8, y, { steps: 6 }));
  await page.mouse.up();
  const panned = await title(page);
  assert.notEqual(panned, was);
  await page.waitForURL(/from=/);
  await page.reload();
  await page.waitForSelector(".span-title:not(:empty)");
  assert.equal(await title(page), panned);
  assert.deepEqual(faults, []);
  await close();
});

test("chosen_part_shows_its_sums_and_extremes", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const whole = await page.locator(".panel .value").allInnerTexts();
  const box = await page.locator(".panel .plot").nth(1).boundingBox();
  const y = box.y + box.height / 2;
  await page.keyboard.down("Shift");
  await page.mouse.move(box.x + box.width * 0.85, y);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.93, y, { steps: 5 });
  await page.mouse.up();
  await page.keyboard.up("Shift");
  await page.mouse.move(5, 5);
  await page.waitForFunction(() => /^chosen/.test(document.querySelector(".sums").textContent) && /kWh/.test(document.querySelector(".sums").textContent));
  assert.ok(await page.locator(".chosen").isVisible());
  assert.notDeepEqual(await page.locator(".panel .value").allInnerTexts(), whole, "extremes are of the part");
  await picture(page, "history-chosen");
  await page.locator(".stack").focus();
  await page.keyboard.press("Escape");
  await page.waitForFunction(() => /^shown/.test(document.querySelector(".sums").textContent));
  assert.deepEqual(faults, []);
  await close();
});

test("two_taps_measure_on_a_phone", async () => {
  const { page, faults, close } = await opened(SIZES[0], "day");
  await page.click("text=Measure");
  const box = await page.locator(".panel .plot").nth(1).boundingBox();
  for (const part of [0.6, 0.85]) await page.touchscreen.tap(box.x + box.width * part, box.y + box.height / 2);
  await page.waitForFunction(() => /^chosen.*kWh/.test(document.querySelector(".sums").textContent));
  assert.deepEqual(faults, []);
  await close();
});

test("named_spans_ask_for_their_length", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  for (const [name, hours] of [["1 h", 1], ["1 w", 168], ["6 h", 6]]) {
    const span = await asked(page, () => page.click(`.spans >> text="${name}"`));
    assert.ok(Math.abs(span / 3_600_000 / hours - 2) < 0.05, `${name}: asked for ${span / 3_600_000} h with its margins`);
    await page.waitForURL(new RegExp(`span=${name.replace(" ", "")}`));
    assert.match(await head(page), /\d/);
  }
  assert.deepEqual(faults, []);
  await close();
});

test("the_other_bank_comes_in_front_on_both_pages", async (t) => {
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day");
  await page.waitForFunction(() => /\d/.test(document.querySelector(".figure.voltage .value")?.textContent ?? ""));
  if ((await page.locator(".banks a").count()) < 2) {
    await close();
    t.skip("one bank only");
    return;
  }
  const volts = await page.locator(".figure.voltage .value").innerText();
  const name = await page.locator(".banks a").nth(1).innerText();
  await page.locator(".banks a").nth(1).click();
  await page.waitForURL(/bank=/);
  await page.waitForFunction((was) => {
    const shown = document.querySelector(".figure.voltage .value")?.textContent ?? "";
    return /\d/.test(shown) && shown !== was;
  }, volts);
  assert.equal(await page.locator(".banks a[aria-current]").innerText(), name);
  await page.click(".pages >> text=History");
  await headed(page);
  assert.equal(await page.locator(".banks a[aria-current]").innerText(), name);
  await page.goBack();
  await page.waitForSelector(".figures");
  assert.deepEqual(faults, []);
  await close();
});

test("line_of_that_time_is_drawn_beside_the_reconciled_one_and_kept_in_the_address", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day", "/history?span=1w");
  const toggle = page.locator("button", { hasText: "Line of that time" });
  const alone = await drawn(page);
  const answer = page.waitForResponse((response) => /\/history\?.*line=both/.test(response.url()) && response.ok());
  await toggle.click();
  const told = await (await answer).json();
  assert.equal(told.channels.soc_live.mean.length, told.time_ms.length);
  await page.waitForFunction((was) => document.querySelector(".stack canvas").toDataURL() !== was, alone);
  assert.equal(await toggle.getAttribute("aria-pressed"), "true");
  await picture(page, "history-both");
  const box = await page.locator(".panel .plot").first().boundingBox();
  await page.mouse.move(box.x + box.width * 0.5, box.y + box.height / 2);
  await headed(page, /then \d+/);
  await page.waitForTimeout(300);
  assert.match(await head(page), /then \d+/, "words under the pointer stay");
  await page.waitForURL(/line=both/);
  await page.reload();
  await headed(page);
  assert.equal(await toggle.getAttribute("aria-pressed"), "true");
  await toggle.click();
  await page.waitForURL((url) => !url.searchParams.has("line"));
  assert.deepEqual(faults, []);
  await close();
});

for (const size of SIZES) {
  for (const palette of ["day", "night"]) {
    test(`days_stand_below_the_picture_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await opened(size, palette, "/history?span=1w");
      const rows = page.locator(".by-day tbody tr");
      await rows.first().waitFor();
      const stack = await page.locator(".stack").boundingBox();
      const table = await page.locator(".by-day").boundingBox();
      assert.ok(stack.y + stack.height <= table.y, "the picture comes first");
      if (!size.touch) assert.ok(table.y >= size.height - 1, `and fills the first screen: ${table.y}`);
      const count = await rows.count();
      assert.ok(count >= 1 && count <= 8, `${count} days in a week`);
      assert.match(await rows.first().locator("td").last().innerText(), /so far/, "today comes first");
      assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
      await rows.last().scrollIntoViewIfNeeded();
      const shot = await picture(page, `days-${size.width}-${palette}`);
      if (palette === "night") assertNight(shot);
      assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
      assert.deepEqual(faults, []);
      await close();
    });
  }
}

test("days_show_what_the_daemon_answers_newest_first_and_at_most_31_are_asked_for", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day", "/history?span=1w");
  await page.locator(".by-day tbody tr").first().waitFor();
  const answer = page.waitForResponse((response) => response.url().includes("/days?") && response.ok());
  await page.getByRole("button", { name: "1 mo", exact: true }).click();
  const answered = await answer;
  const asked = new URL(answered.url()).searchParams;
  const days = (Date.parse(asked.get("to")) - Date.parse(asked.get("from"))) / 86_400_000 + 1;
  assert.ok(days > 8 && days <= 31, `${days} days`);
  const recorded = (await answered.json()).days.filter((day) => day.covered_s > 0).reverse();
  const shown = page.locator(".by-day tbody tr");
  await page.waitForFunction((count) => document.querySelectorAll(".by-day tbody tr").length === count, recorded.length);
  for (const [index, day] of recorded.entries()) {
    const text = (await shown.nth(index).innerText()).replace(/[\s\u202f,]/g, "");
    const out = day.charge_out_ah;
    const digits = out.toFixed(out < 10 ? 2 : out < 100 ? 1 : 0);
    assert.ok(text.includes(`${digits}Ah`), `${day.date}: ${text} says ${digits} Ah`);
  }
  assert.deepEqual(faults, []);
  await close();
});
