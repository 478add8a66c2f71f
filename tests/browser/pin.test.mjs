/** An order where a PIN is set: asked for in place, kept as long as the page lives. Asks a mock of its own, for no daemon at hand has a PIN. */
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { once } from "node:events";
import { createInterface } from "node:readline";
import { after, before, test } from "node:test";
import { fileURLToPath } from "node:url";

const PIN = "Ahoy 4711";

/** A mock of its own; `url` is where it listens. */
async function mock() {
  const program = fileURLToPath(new URL("../../web/mock/server.mjs", import.meta.url));
  const child = spawn(process.execPath, [program, "--port", "0", "--pin", PIN], { stdio: ["ignore", "pipe", "inherit"] });
  const [line] = await once(createInterface({ input: child.stdout }), "line");
  return { url: line.split(" at ")[1], end: () => child.kill() };
}

let server;
let browser;
let harness;
before(async () => {
  server = await mock();
  process.env.TAFFRAIL_URL = server.url;
  harness = await import("./harness.mjs");
  browser = await harness.launch();
});
after(async () => {
  await browser?.close();
  server?.end();
});

/** What is refused on purpose, and how the browser tells of it. */
const expected = (fault) => fault.startsWith("401: ") || fault.startsWith("429: ") || /status of (401|429)/.test(fault);
const field = (page) => page.locator(".question input[type=password]");
const told = (page, pattern) => page.waitForFunction((wanted) => new RegExp(wanted).test([...document.querySelectorAll(".outcome")].map((each) => each.textContent).join()), pattern.source);

async function opened(size, palette) {
  const opening = await harness.open(browser, "/setup", size, palette);
  await opening.page.locator(".orders button").first().waitFor();
  return opening;
}

async function sayFull(page) {
  await page.locator(".orders button", { hasText: "full now" }).click();
  await page.click("text=Reckon so");
}

test("an_order_asks_for_the_pin_in_place_and_the_next_one_does_not", async () => {
  const { page, faults, close } = await opened(harness.SIZES[2], "day");
  await sayFull(page);
  await field(page).waitFor();
  assert.match(await page.locator(".question").innerText(), /needs the PIN/);
  assert.equal(await field(page).evaluate((node) => node === document.activeElement), true, "the field has the focus");
  await page.keyboard.type("471");
  await page.keyboard.press("Enter");
  assert.match(await page.locator(".question").innerText(), /has 4 to 64/);
  await field(page).fill("Ahoy 4712");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /was not the PIN/.test(document.querySelector(".question").textContent));
  await field(page).fill(PIN);
  await page.click("text=Send with this PIN");
  await told(page, /\d/);
  assert.equal(await page.locator(".question").isVisible(), false);
  await page.locator(".orders button", { hasText: "set the sensor" }).click();
  await page.click("text=Set the zero");
  await told(page, /zero of the current sensor/);
  assert.deepEqual(faults.filter((fault) => !expected(fault)), []);
  await page.reload();
  await page.locator(".orders button").first().waitFor();
  await sayFull(page);
  await field(page).waitFor();
  await page.keyboard.press("Escape");
  assert.equal(await page.locator(".question").isVisible(), false, "it can be left");
  await close();
});

test("it_is_kept_until_the_window_is_closed_where_the_reader_wants_that", async () => {
  const { page, close } = await opened(harness.SIZES[0], "day");
  await sayFull(page);
  await field(page).fill(PIN);
  await page.click("text=Keep it until");
  await page.click("text=Send with this PIN");
  await told(page, /\d/);
  await page.reload();
  await page.locator(".orders button").first().waitFor();
  await sayFull(page);
  await told(page, /\d/);
  assert.equal(await field(page).count(), 0, "nobody was asked");
  await close();
  const other = await opened(harness.SIZES[0], "day");
  await sayFull(other.page);
  await field(other.page).waitFor();
  await other.close();
});

test("name_and_note_of_a_passage_ask_for_it_too", async () => {
  const { page, faults, close } = await harness.open(browser, "/passages", harness.SIZES[1], "dusk");
  await page.locator(".passage-list tbody a").first().click();
  await page.locator("#passage-name").fill("Round the point");
  await page.locator(".describe button[type=submit]").first().click();
  const asked = page.locator(".describe input[type=password]");
  await asked.fill(PIN);
  await page.keyboard.press("Enter");
  await told(page, /[Kk]ept/);
  assert.deepEqual(faults.filter((fault) => !expected(fault)), []);
  await close();
});

for (const size of [390, 1440]) {
  for (const palette of ["day", "dusk", "night"]) {
    test(`the_question_for_the_pin_reads_at_${size}_by_${palette}`, async () => {
      const { page, close } = await opened(harness.SIZES.find(({ width }) => width === size), palette);
      await sayFull(page);
      await field(page).waitFor();
      await page.keyboard.type("4711");
      await page.click("text=Keep it until");
      await page.locator(".question").scrollIntoViewIfNeeded();
      const shot = await harness.picture(page, `pin-${size}-${palette}`);
      if (palette === "night") harness.assertNight(shot);
      assert.equal(await harness.overflow(page), 0, "nothing reaches beyond the right edge");
      assert.deepEqual(await harness.violations(page, palette === "night" ? ["color-contrast"] : []), []);
      await close();
    });
  }
}

test("after_too_many_wrong_ones_it_says_how_long_to_wait", async () => {
  const { page, close } = await opened(harness.SIZES[2], "day");
  await sayFull(page);
  for (let tried = 0; tried < 6; tried += 1) {
    await field(page).fill("0000");
    const answered = page.waitForResponse((response) => [401, 429].includes(response.status()));
    await page.keyboard.press("Enter");
    await answered;
    await field(page).waitFor();
  }
  assert.match(await page.locator(".question").innerText(), /Too many wrong PINs: none is taken for another \d+.s/);
  await close();
});
