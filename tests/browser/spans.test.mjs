/** History's panels, marks and chosen spans. */
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { assertNight, headed, launch, open, overflow, picture, SIZES, violations } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

async function opened(size, palette, path = "/history") {
  const opening = await open(browser, path, size, palette);
  await headed(opening.page);
  await opening.page.waitForTimeout(400);
  return opening;
}

const toggles = (page) => page.locator(".toggles .tool");
const shown = (page) => page.locator(".panel h2").allInnerTexts();
const settled = (page) => page.waitForFunction(() => document.querySelector(".part-section .extremes tbody tr") && document.querySelector(".part-section .ledger-part"));

/** Chooses the span between two shares of the plot's width. */
async function choose(page, from, to) {
  const box = await page.locator(".panel .u-over").nth(1).boundingBox();
  const y = box.y + box.height / 2;
  await page.keyboard.down("Shift");
  await page.mouse.move(box.x + box.width * from, y);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * to, y, { steps: 5 });
  await page.mouse.up();
  await page.keyboard.up("Shift");
  await settled(page);
}

test("panels_are_chosen_by_name_and_the_choice_is_kept", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const names = await toggles(page).allInnerTexts();
  const was = await shown(page);
  assert.ok(was.includes("Charge") && was.includes("Current") && was.length < names.length, `${was} of ${names}`);
  const other = names.find((name) => !was.includes(name));
  const answer = page.waitForResponse((response) => response.url().includes("/history?") && response.ok());
  await page.locator(".toggles").getByRole("button", { name: other, exact: true }).click();
  await answer;
  assert.deepEqual(new Set(await shown(page)), new Set([...was, other]));
  await page.reload();
  await headed(page);
  assert.ok((await shown(page)).includes(other), "after another visit too");
  for (const name of await shown(page)) await page.locator(".toggles").getByRole("button", { name, exact: true }).press("Enter");
  assert.equal((await shown(page)).length, 1, "the last one stays");
  assert.deepEqual(faults, []);
  await close();
});

test("branches_share_a_panel_for_sources_and_one_for_loads", async (t) => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const bank = await page.evaluate(async () => (await (await fetch("/api/v1/banks")).json()).banks[0]);
  const roles = new Set(bank.branches.filter((branch) => branch.channel).map((branch) => branch.role));
  if (roles.size < 2) t.skip("branches of one kind only");
  else {
    const names = await shown(page);
    assert.ok(names.includes("Sources") && names.includes("Loads"), String(names));
    for (const { channel, title } of bank.branches) assert.ok(!channel || !names.includes(title), `${title} has no panel of its own`);
  }
  assert.deepEqual(faults, []);
  await close();
});

for (const size of SIZES) {
  for (const palette of ["day", "night"]) {
    test(`marks_open_and_stay_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await opened(size, palette, "/history?span=1w");
      await page.locator(".mark.passage").first().waitFor();
      const [mark, note] = [page.locator(".row .mark").first(), page.locator(".mark-note")];
      await mark.focus();
      await page.keyboard.press("Enter");
      assert.ok(await note.isVisible());
      assert.equal(await mark.getAttribute("aria-expanded"), "true");
      await page.mouse.move(5, 5);
      assert.ok(await note.isVisible(), "it stays when the pointer is elsewhere");
      await page.keyboard.press("Escape");
      assert.ok(await note.isHidden());
      assert.ok(await mark.evaluate((node) => node === document.activeElement), "the focus is back on the mark");

      const passage = page.locator(".mark.passage").last();
      if (size.touch) await passage.tap();
      else await passage.click();
      assert.ok(await note.getByRole("link").first().isVisible());
      const shot = await picture(page, `marks-${size.width}-${palette}`);
      if (palette === "night") assertNight(shot);
      assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
      assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
      const title = await page.locator(".span-title").innerText();
      await note.getByRole("button", { name: "Show here" }).first().click();
      assert.notEqual(await page.locator(".span-title").innerText(), title);
      await note.getByRole("link").first().click();
      await page.waitForURL(/passages\?.*passage=\d+/);
      assert.deepEqual(faults, []);
      await close();
    });

    test(`chosen_span_is_added_up_at_${size.width}x${size.height}_by_${palette}`, async () => {
      const { page, faults, close } = await opened(size, palette, "/history?span=1w");
      if (size.touch) {
        await page.click("text=Measure");
        const box = await page.locator(".panel .plot").nth(1).boundingBox();
        for (const part of [0.4, 0.7]) await page.touchscreen.tap(box.x + box.width * part, box.y + box.height / 2);
        await settled(page);
      } else await choose(page, 0.3, 0.6);
      const section = page.locator(".part-section");
      assert.match(await section.innerText(), /Net[\s\S]*Mean current[\s\S]*Charge at the start[\s\S]*Ledger[\s\S]*Extremes/);
      await page.click(".see");
      const top = await section.evaluate((node) => node.getBoundingClientRect().top);
      assert.ok(top < size.height / 2, `it is in view: ${top}`);
      await section.getByRole("button", { name: "Export" }).click();
      const link = section.getByRole("link").first();
      const query = new URL(await link.getAttribute("href"), page.url()).searchParams;
      assert.ok(Date.parse(query.get("to")) > Date.parse(query.get("from")));
      const shot = await picture(page, `chosen-${size.width}-${palette}`);
      if (palette === "night") assertNight(shot);
      assert.deepEqual(await violations(page, palette === "night" ? ["color-contrast"] : []), []);
      assert.equal(await overflow(page), 0, "nothing reaches beyond the right edge");
      await section.getByRole("button", { name: "Clear it" }).click();
      assert.ok(await section.isHidden());
      assert.deepEqual(faults, []);
      await close();
    });
  }
}

test("keys_choose_a_span_and_go_to_the_ends_of_the_record", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day");
  const title = () => page.locator(".span-title").innerText();
  await page.locator(".stack").focus();
  const was = await title();
  await page.keyboard.press("m");
  for (let i = 0; i < 10; i += 1) await page.keyboard.press("ArrowRight");
  assert.ok(await page.locator(".chosen").isVisible());
  assert.equal(await title(), was, "arrows move the end of the span, not the charts");
  await page.keyboard.press("m");
  await page.waitForFunction(() => /^chosen.*2 h 2\d min/.test(document.querySelector(".sums").textContent));
  await page.keyboard.press("Escape");
  assert.ok(await page.locator(".part-section").isHidden());
  await page.keyboard.press("Home");
  const first = await title();
  await page.keyboard.press("PageDown");
  assert.notEqual(await title(), first);
  await page.keyboard.press("End");
  assert.match(await title(), new RegExp(was.slice(0, 6)));
  assert.deepEqual(faults, []);
  await close();
});

test("two_taps_in_one_place_zoom_in", async () => {
  const { page, faults, close } = await opened(SIZES[0], "day", "/history?span=1w");
  const box = await page.locator(".panel .u-over").nth(1).boundingBox();
  const answer = page.waitForResponse((response) => response.url().includes("/history?") && response.ok());
  for (let i = 0; i < 2; i += 1) await page.touchscreen.tap(box.x + box.width * 0.5, box.y + box.height / 2);
  await answer;
  await page.waitForURL(/from=.*to=/);
  const query = new URL(page.url()).searchParams;
  const days = (Date.parse(query.get("to")) - Date.parse(query.get("from"))) / 86_400_000;
  assert.ok(days > 2 && days < 3.5, `${days} days`);
  assert.deepEqual(faults, []);
  await close();
});

test("two_fingers_zoom_and_one_moves", async () => {
  const { page, faults, close } = await opened(SIZES[0], "day", "/history?span=1w");
  const touch = await page.context().newCDPSession(page);
  const box = await page.locator(".panel .u-over").nth(1).boundingBox();
  const y = box.y + box.height / 2;
  const at = (...shares) => shares.map((share, id) => ({ x: box.x + share * box.width, y, id }));
  const send = (type, ...shares) => touch.send("Input.dispatchTouchEvent", { type, touchPoints: at(...shares) });
  const days = async () => {
    await page.waitForTimeout(600);
    const query = new URL(page.url()).searchParams;
    return ["from", "to"].map((end) => Date.parse(query.get(end)) / 86_400_000);
  };
  await send("touchStart", 0.4, 0.6);
  for (let i = 1; i <= 10; i += 1) await send("touchMove", 0.4 - 0.02 * i, 0.6 + 0.02 * i);
  await send("touchEnd");
  const [from, to] = await days();
  assert.ok(Math.abs((to - from) / (7 / 3) - 1) < 0.15, `fingers thrice as far apart: ${to - from} days`);
  await send("touchStart", 0.3);
  for (let i = 1; i <= 10; i += 1) await send("touchMove", 0.3 + 0.04 * i);
  await send("touchEnd");
  const [after_] = await days();
  assert.ok(Math.abs((from - after_) / (0.4 * (to - from)) - 1) < 0.1, `what was under the finger stays there: ${from - after_}`);
  assert.deepEqual(faults, []);
  await close();
});

test("the_wheel_beside_the_plots_scrolls_the_page", async () => {
  const { page, faults, close } = await opened(SIZES[1], "day", "/history?span=1mo");
  const head = await page.locator(".panel .head").nth(1).boundingBox();
  const title = await page.locator(".span-title").innerText();
  await page.mouse.move(head.x + 10, head.y + 10);
  await page.mouse.wheel(0, 200);
  await page.waitForFunction(() => scrollY > 50);
  assert.equal(await page.locator(".span-title").innerText(), title);
  assert.deepEqual(faults, []);
  await close();
});

test("panning_keeps_what_is_drawn_and_asks_little", async () => {
  const { page, faults, close } = await opened(SIZES[2], "day", "/history?span=1d");
  const asked = [];
  page.on("request", (request) => request.url().includes("/history?") && asked.push(request.url()));
  const box = await page.locator(".panel .u-over").nth(1).boundingBox();
  const y = box.y + box.height / 2;
  await page.mouse.move(box.x + 20, y);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.3, y, { steps: 20 });
  const painted = await page.evaluate(() => {
    const canvas = document.querySelector(".stack canvas");
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    return data.some((value) => value > 0);
  });
  await page.mouse.up();
  assert.ok(painted);
  await page.waitForTimeout(400);
  assert.ok(asked.length <= 1, `${asked.length} requests for a short drag`);
  const times = await page.evaluate(() => performance.getEntriesByType("resource").filter((each) => each.name.includes("/history?")).map((each) => Math.round(each.responseEnd - each.requestStart)));
  assert.ok(Math.max(...times) < 2000, `answers took ${times} ms`);
  assert.deepEqual(faults, []);
  await close();
});

test("text_at_twice_its_size_stays_within_the_page", async () => {
  for (const size of SIZES) {
    const { page, faults, close } = await opened(size, "day", "/history?span=1w");
    await page.addStyleTag({ content: "html { font-size: 200% }" });
    await page.waitForTimeout(400);
    await page.locator(".keys summary").click();
    await page.evaluate(() => document.querySelector(".row .mark")?.click());
    await picture(page, `history-twice-${size.width}`);
    assert.equal(await overflow(page), 0, `nothing reaches beyond the right edge at ${size.width}`);
    assert.deepEqual(faults, []);
    await close();
  }
});
