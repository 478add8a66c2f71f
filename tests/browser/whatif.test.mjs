import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { launch, open, overflow, painted, picture, SIZES } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

/** Opens the Now page and waits for the picture and the branches' offers. */
async function opened(size, palette = "day") {
  const opening = await open(browser, "/", size, palette);
  await opening.page.waitForFunction(() => /from \d/.test(document.querySelector(".picture canvas")?.getAttribute("aria-label") ?? ""));
  await opening.page.waitForFunction(() => document.querySelectorAll(".what-if button").length > 2);
  return opening;
}

const offered = (page, text) => page.locator(".what-if button", { hasText: text }).first();
const answered = (page) => page.waitForResponse((response) => response.url().includes("/outlook?") && response.ok()).then((response) => response.json());

test("a_load_that_is_typed_redraws_the_fan_and_says_what_follows", async () => {
  const { page, faults, close } = await opened(SIZES[0]);
  const input = page.locator(".what-if input");
  const ask = async (load) => {
    const answer = answered(page);
    await input.fill(String(load));
    const told = await answer;
    await page.waitForFunction((a) => document.querySelector(".supposed")?.textContent.includes(a), `\u2212${load}`);
    return { told, said: await page.locator(".supposed").innerText(), row: await page.locator(".lasts tbody tr").nth(1).innerText() };
  };
  const [gentle, hard] = [await ask(3), await ask(50)];
  assert.ok(hard.told.endurance_s < gentle.told.endurance_s);
  assert.notEqual(hard.said, gentle.said);
  assert.notEqual(hard.row, gentle.row);
  assert.match(hard.said, /^at \u221250\.0.A: /);
  const fan = await painted(page, ".picture canvas", "mark");
  assert.ok(fan.same > 100, "what is supposed is drawn in the colour of notes");
  assert.equal(await overflow(page), 0);
  await picture(page, "what-if-390-day");
  await input.fill("");
  await page.waitForFunction(() => document.querySelector(".what-if .trouble").checkVisibility());
  await page.click("text=as it is");
  assert.equal(await page.locator(".supposed").isVisible(), false);
  await page.reload();
  assert.equal(await input.inputValue(), "50", "the last load that made sense");
  assert.deepEqual(faults, []);
  await close();
});

test("a_branch_at_half_is_asked_with_everything_else_as_it_is", async () => {
  const { page, faults, close } = await opened(SIZES[2]);
  const { branches } = await page.evaluate(async () => {
    const { banks } = await (await fetch("/api/v1/banks")).json();
    return (await fetch(`/api/v1/banks/${banks[0].name}/branches`)).json();
  });
  const drive = branches.find(({ purpose }) => purpose === "drive");
  const [half, full] = [answered(page), null];
  await offered(page, `${drive.title} at half`).click();
  const atHalf = await half;
  const atFull = answered(page);
  await offered(page, `${drive.title} at full`).click();
  const by = atHalf.current_a - (await atFull).current_a;
  assert.ok(Math.abs(by - drive.most_a / 2) < 1 + 0.1 * drive.most_a, `half of ${drive.most_a} A apart, not ${by} A (${full})`);
  assert.equal(await offered(page, `${drive.title} at full`).getAttribute("aria-pressed"), "true");
  await page.waitForFunction(() => /what would be/.test(document.querySelector(".picture canvas").getAttribute("aria-label")));
  await page.keyboard.press("Escape");
  assert.equal(await page.locator(".supposed").isVisible(), false, "Escape leads back");
  assert.deepEqual(faults, []);
  await close();
});

test("the_picture_is_dragged_and_stepped_into_the_past_and_back", async () => {
  const { page, faults, close } = await opened(SIZES[2]);
  const box = await page.locator(".picture").boundingBox();
  const word = page.locator(".now-word");
  const at = async () => Number.parseFloat(await word.evaluate((node) => node.style.left));
  const before_ = await at();
  await page.mouse.move(box.x + 300, box.y + 100);
  await page.mouse.down();
  await page.mouse.move(box.x + 420, box.y + 100, { steps: 6 });
  await page.mouse.up();
  assert.ok(Math.abs((await at()) - before_ - 120) <= 8, `the present moves with the hand: ${before_} to ${await at()}`);
  await page.click("text=Back to now");
  assert.equal(await at(), before_);

  const asked = page.waitForResponse((response) => response.url().includes("/history?") && response.ok());
  await page.locator(".picture").focus();
  await page.keyboard.press("PageUp");
  await page.keyboard.press("PageUp");
  await page.keyboard.press("PageUp");
  await asked;
  assert.equal(await word.isVisible(), false, "the present is out of view");
  await page.mouse.move(box.x + 400, box.y + 100);
  assert.match(await page.locator(".readout").innerText(), /\d\d:\d\d.*%/);
  await page.keyboard.press("End");
  assert.equal(await word.isVisible(), true);
  assert.deepEqual(faults, []);
  await close();
});

test("the_ledger_shows_each_branch_over_an_hour_and_a_day", async () => {
  const { page, faults, close } = await opened(SIZES[2]);
  const { banks } = await page.evaluate(async () => (await fetch("/api/v1/banks")).json());
  const names = async () => page.locator(".energy tbody th").allInnerTexts();
  await page.waitForFunction((count) => document.querySelectorAll(".energy tbody tr").length >= count, banks[0].branches.length);
  const sources = banks[0].branches.filter(({ role }) => role === "source").map(({ title }) => title);
  const shown = await names();
  assert.deepEqual([...shown.slice(0, sources.length)].sort(), [...sources].sort(), "sources above");
  const day = await page.locator(".energy tbody").innerText();
  await page.click("text=last hour");
  await page.waitForFunction((was) => document.querySelector(".energy tbody").innerText !== was, day);
  assert.deepEqual(faults, []);
  await close();
});
