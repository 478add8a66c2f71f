import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { assertNight, base, launch, open, overflow, PALETTES, picture, SIZES, violations } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

const order = (page, text) => page.locator(".orders button", { hasText: text });

/** Opens the Set-up page and waits until its sections hold what the daemon said. */
async function opened(size, palette) {
  const opening = await open(browser, "/setup", size, palette);
  await opening.page.waitForFunction(() => {
    const text = (selector) => document.querySelector(selector)?.textContent ?? "";
    return text(".described dd") !== "" && /\d/.test(text(".described td b")) && /\d/.test(text(".device td.value")) && text(".daemon dd") !== "";
  });
  return opening;
}

const ask = (page, path) => page.evaluate(async (at) => (await fetch(at)).json(), path);

async function ofBank(page, what) {
  const { banks } = await ask(page, "/api/v1/banks");
  return ask(page, `/api/v1/banks/${banks[0].name}/${what}`);
}
const now = (page) => ofBank(page, "now");

/** Notes the hand orders that leave the page, and answers them in the daemon's place. */
async function inPlaceOfTheDaemon(page, status, body) {
  const orders = [];
  await page.route(/\/api\/v1\/banks\/[^/]+\/(fixes|zero)$/, (route) => {
    const request = route.request();
    orders.push({ what: request.url().split("/").at(-1), type: request.headers()["content-type"], body: request.postDataJSON() });
    return route.fulfill({ status, contentType: status === 200 ? "application/json" : "application/problem+json", body: JSON.stringify(body) });
  });
  return orders;
}

for (const size of SIZES) {
  for (const palette of PALETTES) {
    test(`set_up_reads_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await opened(size, palette);
      const [said, described] = [await now(page), await ofBank(page, "description")];
      const rows = await page.locator(".described tbody tr").count();
      assert.equal(rows, (said.learned?.length ?? 0) + 1, "one row for each learned quantity, and the gain");
      const facts = await page.locator(".described .fact-list").innerText();
      assert.ok(facts.includes(String(described.rated_capacity_ah)) && facts.includes(`${Math.round(100 * described.reserve)}`), facts);
      const caution = page.locator(".minding");
      assert.match(await caution.innerText(), /protects nothing[\s\S]*can burn and kill[\s\S]*qualified marine electrician/);
      assert.ok((await caution.boundingBox()).y < size.height, "the cautions are on the first screen");
      assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
      await page.waitForTimeout(2500);
      const shift = await page.evaluate(() => window.shifts.reduce((a, b) => a + b, 0));
      assert.ok(shift <= 0.1, `layout shift ${shift}`);

      await order(page, "set the sensor").click();
      await page.locator(".question").scrollIntoViewIfNeeded();
      const shot = await picture(page, `setup-${size.width}-${palette}`);
      if (palette === "night") {
        assertNight(shot);
      }
      assert.equal(await overflow(page), 0, "nor does the question");
      assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
      assert.deepEqual(faults, []);
      await close();
    });
  }
}

test("devices_show_each_channel_live_with_what_was_wrong", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const { devices } = await ask(page, "/api/v1/devices");
  assert.equal(await page.locator(".device").count(), devices.length);
  for (const [i, device] of devices.entries()) {
    const shown = page.locator(".device").nth(i);
    assert.equal(await shown.locator("tbody tr").count(), device.channels.length);
    assert.ok((await shown.innerText()).includes(device.port));
    assert.match(await shown.innerText(), /Samples since the start/);
  }
  const first = await page.locator(".device").first().innerText();
  await page.waitForFunction((was) => document.querySelector(".device").innerText !== was, first, { timeout: 15_000 });
  assert.deepEqual(faults, []);
  await close();
});

test("settings_and_backup_can_be_taken_along", async () => {
  const { page, close } = await opened(SIZES[2], "day");
  const taken = async (text) => {
    const [download] = await Promise.all([page.waitForEvent("download"), page.click(`text=${text}`)]);
    return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
  };
  const settings = await taken("Settings in effect");
  assert.match(settings.name, /-settings-\d{4}-\d\d-\d\d\.toml$/);
  assert.match(settings.bytes.toString(), /\[\[bank\]\]\nname = /);
  const backup = await taken("Backup of the whole record");
  assert.match(backup.name, /-store-\d{4}-\d\d-\d\d\.sqlite$/);
  assert.equal(backup.bytes.subarray(0, 15).toString(), "SQLite format 3");
  await close();
});

test("language_unit_and_clock_are_chosen_and_kept_on_the_device", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  await page.click(".choice label:has(input[value=F])");
  await page.waitForFunction(() => /°F/.test(document.querySelector(".device")?.innerText ?? ""));
  await page.click(".choice label:has(input[value='12'])");
  await page.waitForFunction(() => /\d\s[ap]m/i.test(document.querySelector(".bar .time")?.textContent ?? ""));
  await page.click(".choice label:has(input[value=de])");
  await page.waitForFunction(() => document.documentElement.lang === "de" && /Einrichtung/.test(document.querySelector(".bar")?.textContent ?? ""));
  await page.goto(`${base}/`);
  await page.waitForFunction(() => /°F/.test(document.querySelector(".figure.temperature")?.textContent ?? ""));
  assert.match(await page.locator(".figure.charge dt").innerText(), /Ladung/);
  assert.deepEqual(faults, []);
  await close();
});

test("an_order_is_asked_back_and_can_be_left", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const orders = await inPlaceOfTheDaemon(page, 200, { text: "" });
  for (const [text, asked] of [["full now", /reckoned as full/], ["set the sensor", /reads .*\d.A now;.* every load and source is off/]]) {
    await order(page, text).click();
    const question = page.locator(".question");
    assert.match(await question.innerText(), asked);
    assert.match(await question.innerText(), /kept in the log/);
    assert.equal(await question.evaluate((node) => node === document.activeElement), true, "the question has the focus");
    await page.keyboard.press("Escape");
    assert.equal(await question.isVisible(), false);
    assert.equal(await order(page, text).evaluate((node) => node === document.activeElement), true, "back where it began");
    await order(page, text).click();
    await page.click("text=Leave it");
    assert.equal(await question.isVisible(), false);
  }
  await page.locator(".orders input").first().fill("101");
  await page.click("text=Say so");
  assert.equal(await page.locator(".question").isVisible(), false);
  assert.match(await page.locator(".outcome").innerText(), /from 0 to 100/);
  assert.deepEqual(orders, [], "nothing was sent");
  assert.deepEqual(faults, []);
  await close();
});

test("a_question_is_answered_by_the_keyboard_alone", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const orders = await inPlaceOfTheDaemon(page, 200, { text: "hand fix: reckoned 71.0 %, now 100.0 %" });
  await order(page, "full now").focus();
  await page.keyboard.press("Enter");
  await page.locator(".question").waitFor();
  await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /now 100/.test(document.querySelector(".outcome").textContent));
  assert.equal(orders.length, 1);
  assert.deepEqual(faults, []);
  await close();
});

test("a_confirmed_order_is_sent_once_and_its_result_shown", async () => {
  const { page, faults, close } = await opened(SIZES[0], "day");
  const orders = await inPlaceOfTheDaemon(page, 200, { text: "hand fix: reckoned 71.0 %, now 100.0 %" });
  const type = "application/json";
  await order(page, "full now").click();
  await page.click("text=Reckon so");
  await page.waitForFunction(() => /now 100/.test(document.querySelector(".outcome").textContent));
  await page.locator(".orders input").nth(0).fill("60");
  await page.locator(".orders input").nth(1).fill("9.8");
  await page.locator(".orders input").nth(1).press("Enter");
  assert.match(await page.locator(".question").innerText(), /hold 60.%, give or take 9\.8.%/);
  await page.click("text=Reckon so");
  await page.waitForFunction(() => /now 100/.test(document.querySelector(".outcome").textContent));
  await order(page, "set the sensor").click();
  await page.click("text=Set the zero");
  await page.waitForFunction(() => /now 100/.test(document.querySelector(".outcome").textContent));
  assert.deepEqual(
    orders.map((sent) => ({ ...sent, body: { ...sent.body, ...(sent.body.std_dev && { std_dev: sent.body.std_dev.toFixed(4) }) } })),
    [
      { what: "fixes", type, body: { soc: 1, std_dev: "0.0100" } },
      { what: "fixes", type, body: { soc: 0.6, std_dev: "0.0500" } },
      { what: "zero", type, body: {} },
    ],
  );
  assert.deepEqual(faults, []);
  await close();
});

test("a_refused_order_gives_its_reason", async () => {
  const { page, close } = await opened(SIZES[2], "day");
  await inPlaceOfTheDaemon(page, 409, { status: 409, title: "Not possible now", detail: "there is no reading yet" });
  await order(page, "set the sensor").click();
  await page.click("text=Set the zero");
  await page.waitForFunction(() => document.querySelector(".outcome").textContent === "there is no reading yet");
  assert.equal(await page.locator(".outcome.trouble").count(), 1);
  await close();
});

test("a_stated_charge_is_reckoned_from_and_shown_as_the_last_fix", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const stated = Math.round(100 * (await now(page)).soc);
  await page.locator(".orders input").first().fill(String(stated));
  await page.click("text=Say so");
  await page.click("text=Reckon so");
  await page.waitForFunction(() => !["", "Telling the daemon."].includes(document.querySelector(".outcome").textContent));
  const after_ = await now(page);
  assert.equal(after_.last_fix.kind, "hand", await page.locator(".outcome").innerText());
  assert.ok(Math.abs(after_.soc - stated / 100) < 0.01, `${after_.soc} after ${stated} % was stated`);
  assert.deepEqual(faults, [], `at ${base}`);
  await page.goto(base);
  await page.waitForFunction((text) => document.querySelector(".lasts .facts")?.textContent.includes(text), after_.last_fix.text);
  await close();
});
