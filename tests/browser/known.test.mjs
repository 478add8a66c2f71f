import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { assertNight, base, launch, open, overflow, PALETTES, picture, SIZES, violations } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

const chosen = ".lasts tbody tr:nth-child(2)";
const order = (page, text) => page.locator(".orders button", { hasText: text });

/** Opens the Now page and waits until the sections under the ledger hold what the daemon said. */
async function opened(size, palette) {
  const opening = await open(browser, "/", size, palette);
  await opening.page.waitForFunction(
    (row) => {
      const text = (selector) => document.querySelector(selector)?.textContent ?? "";
      return text(".lasts .text") !== "" && /[a-z0-9]/.test(text(`${row} td:nth-child(3)`));
    },
    chosen,
  );
  return opening;
}

async function now(page) {
  const bank = await page.evaluate(async () => (await (await fetch("/api/v1/banks")).json()).banks[0].name);
  return page.evaluate(async (name) => (await fetch(`/api/v1/banks/${name}/now`)).json(), bank);
}

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
    test(`what_is_known_reads_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await opened(size, palette);
      const said = await now(page);
      const learned = await page.locator(".learned dl > div:visible").count();
      assert.equal(learned, said.learned?.length ?? 0, "one row for each learned quantity");
      assert.equal(await page.locator(".learned > p").isVisible(), said.learned === null, "a method that learns nothing says so");
      const names = await page.locator(".lasts dt").allInnerTexts();
      assert.deepEqual(names, ["Drawn since full", "Last fix"]);
      assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");

      await order(page, "set the sensor").click();
      await page.locator(".question").scrollIntoViewIfNeeded();
      const shot = await picture(page, `known-${size.width}-${palette}`);
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

test("chosen_load_changes_the_answer_and_is_remembered", async () => {
  const { page, faults, close } = await opened(SIZES[0], "day");
  const input = page.locator(".lasts input");
  const answer = async (load) => {
    const answered = page.waitForResponse((response) => response.url().endsWith(`/endurance?load_a=${load}`) && response.ok());
    await input.fill(String(load));
    const told = await (await answered).json();
    await page.waitForTimeout(150);
    return { told, shown: await page.locator(`${chosen} td`).allInnerTexts() };
  };
  const [gentle, hard] = [await answer(2), await answer(50)];
  assert.ok(hard.told.empty_s < gentle.told.empty_s);
  assert.notDeepEqual(hard.shown, gentle.shown);
  await input.fill("");
  await page.waitForFunction(() => document.querySelector(".lasts .trouble").checkVisibility());
  assert.deepEqual(await page.locator(`${chosen} td`).allInnerTexts(), ["\u2013", "\u2013", "\u2013"]);
  await page.reload();
  assert.equal(await input.inputValue(), "50", "the last load that made sense");
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
  await page.waitForFunction((text) => document.querySelector(".lasts .facts").textContent.includes(text), after_.last_fix.text);
  assert.deepEqual(faults, [], `at ${base}`);
  await close();
});
