import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import pngjs from "pngjs";
import { gate } from "./gate.mjs";
import { assertNight, base, launch, open, painted, SIZES } from "./harness.mjs";

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

const says = (page) => page.locator(".say").innerText();
const live = (page) =>
  page.waitForFunction(() => !document.querySelector(".figures.old, .known.old") && /\d/.test(document.querySelector(".figure.voltage .value")?.textContent ?? ""), null, { timeout: 60_000 });
const drawn = (page) => page.waitForFunction(() => /from \d/.test(document.querySelector(".picture canvas")?.getAttribute("aria-label") ?? ""));
const away = (page) => page.waitForFunction(() => /does not answer/.test(document.querySelector(".say")?.textContent ?? ""), null, { timeout: 15_000 });
/** Faults other than the questions that nobody answered, and the answers that were cut. */
const serious = (faults) => faults.filter((fault) => !/net::ERR_(CONNECTION|EMPTY_RESPONSE|TIMED_OUT|INCOMPLETE)|^failed: /.test(fault));

/** What the page must say and show, and must not, while the daemon is away. */
async function assertOld(page) {
  assert.match(await says(page), /does not answer; the figures below are of .*\d\d:\d\d/);
  assert.equal(await page.locator(".figures.old").count(), 1, "the figures are marked");
  assert.equal(await page.locator(".known.old").count(), 1);
  assert.match(await page.locator(".figures .note").innerText(), /Old figures/);
  assert.match(await page.locator(".figure.charge .value").innerText(), /\d/);
  assert.match(await page.locator(".now-word").innerText(), /^\d\d:\d\d$/, "the picture stands at the daemon's last word");
  assert.equal((await painted(page, ".picture canvas", "fan")).same, 0, "nothing lies ahead");
  assert.ok((await painted(page, ".picture canvas", "trace")).same > 100, "the past stands");
  assert.match(await page.locator(".picture canvas").getAttribute("aria-label"), /Nothing was heard since/);
}

/** Opens the page with leave to keep itself, and waits until it has, and is in its own hands. */
async function kept(through, path, palette = "day") {
  const opening = await open(browser, path, SIZES[2], palette, { at: through.at, workers: "allow" });
  await opening.page.waitForFunction(() => navigator.serviceWorker.controller !== null && Object.keys(localStorage).some((key) => key.startsWith("taffrail.last-past.")));
  return opening;
}

test("a_page_left_open_marks_its_figures_old_and_lives_again_by_itself", async () => {
  const through = await gate();
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day", { at: through.at });
  await drawn(page);
  await live(page);
  await through.shut();
  const gone = Date.now();
  await away(page);
  assert.ok(Date.now() - gone < 10_000, `it took ${Date.now() - gone} ms`);
  await assertOld(page);
  await through.open();
  await live(page);
  assert.equal(await page.locator(".now-word").innerText(), "now");
  await page.waitForFunction(() => !/does not answer/.test(document.querySelector(".say").textContent));
  assert.deepEqual(serious(faults), []);
  await close();
  await through.shut();
});

test("a_computer_that_fell_silent_is_as_good_as_away", async () => {
  const through = await gate();
  const { page, faults, close } = await open(browser, "/", SIZES[0], "day", { at: through.at });
  await drawn(page);
  await live(page);
  through.silence();
  await away(page);
  await assertOld(page);
  await through.open();
  await live(page);
  assert.deepEqual(serious(faults), []);
  await close();
  await through.shut();
});

for (const how of ["shut", "silence"]) {
  test(`the_page_opens_with_the_last_known_state_after_${how}`, async () => {
    const through = await gate();
    const { page, faults, close } = await kept(through, "/");
    await live(page);
    const charge = await page.locator(".figure.charge .value").innerText();
    await through[how]();
    await page.reload();
    await away(page);
    await drawn(page);
    await assertOld(page);
    assert.equal(await page.locator(".figure.charge .value").innerText(), charge);
    for (const [path, name] of [["/history", "history"], ["/passages", "passages"], ["/health?bank=x", "health"]]) {
      await page.goto(through.at + path);
      await page.waitForSelector(`main.${name}`);
    }
    await page.click("nav.pages a >> nth=0");
    await away(page);
    await assertOld(page);
    await through.open();
    // Questions that were asked into the silence hold the browser's few connections for a while.
    await live(page);
    await page.waitForFunction(() => document.querySelector(".now-word").textContent === "now");
    assert.deepEqual(serious(faults), []);
    await close();
    await through.shut();
  });
}

test("what_the_daemon_measures_is_kept_by_no_cache", async () => {
  const through = await gate();
  const { page, close } = await kept(through, "/");
  await page.goto(`${through.at}/history`);
  await page.waitForSelector(".stack canvas");
  const paths = await page.evaluate(async () => {
    const caches_ = await Promise.all((await caches.keys()).map((name) => caches.open(name)));
    return (await Promise.all(caches_.map((cache) => cache.keys()))).flat().map(({ url }) => new URL(url).pathname);
  });
  assert.ok(paths.includes("/") && paths.includes("/palette.js") && paths.some((path) => path.endsWith(".woff2")), paths.join());
  assert.deepEqual(paths.filter((path) => path.startsWith("/api")), []);
  await close();
  await through.shut();
});

test("another_boat_at_the_same_address_gets_a_page_of_its_own", async () => {
  const through = await gate();
  const { page, close } = await open(browser, "/", SIZES[2], "day", { at: through.at });
  await live(page);
  await through.shut();
  await away(page);
  await page.route("**/api/v1/banks", async (route) => {
    const answer = await route.fetch();
    await route.fulfill({ response: answer, json: { ...(await answer.json()), boat: "Another" } });
  });
  await through.open();
  await page.waitForFunction(() => document.querySelector("h1")?.textContent.startsWith("Another"));
  await live(page);
  await close();
  await through.shut();
});

test("where_browsers_allow_no_service_worker_nothing_fails", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day", { workers: "allow" });
  await page.addInitScript(() => delete Navigator.prototype.serviceWorker);
  await page.reload();
  await live(page);
  await page.waitForTimeout(2500);
  assert.equal(await page.evaluate(() => "serviceWorker" in navigator), false);
  assert.deepEqual(faults, []);
  await close();
});

test("the_page_can_be_installed", async () => {
  const { page, faults, close } = await open(browser, "/", SIZES[2], "day", { workers: "allow" });
  const manifest = await page.evaluate(async () => (await fetch(document.querySelector("link[rel=manifest]").href)).json());
  const files = [...manifest.icons, { src: "/manifest.webmanifest", type: "application/manifest+json" }, { src: "/sw.js", type: "text/javascript" }];
  for (const { src, type, sizes } of files) {
    const answer = await page.request.get(new URL(src, base).href);
    assert.equal(answer.status(), 200, src);
    assert.ok(answer.headers()["content-type"].startsWith(type), `${src}: ${answer.headers()["content-type"]}`);
    if (type !== "image/png") continue;
    const { width, height } = pngjs.PNG.sync.read(await answer.body());
    assert.equal(`${width}x${height}`, sizes, src);
  }
  assert.equal((await page.request.get(`${base}/sw.js`)).headers()["cache-control"] ?? "no-cache", "no-cache");
  const session = await page.context().newCDPSession(page);
  const { installabilityErrors } = await session.send("Page.getInstallabilityErrors");
  // The window of a test leaves no traces, and that alone forbids it.
  assert.deepEqual(installabilityErrors.map(({ errorId }) => errorId).filter((id) => id !== "in-incognito"), []);
  assert.deepEqual(faults, []);
  await close();
});

test("at_night_no_frame_is_light_while_the_page_loads_and_changes", async () => {
  const { page, close } = await open(browser, "/", SIZES[2], "night");
  await live(page);
  // Slow enough for a light frame to be seen, if there were one.
  await page.route(/\.(css|js)(\?|$)/, async (route) => {
    await new Promise((resume) => setTimeout(resume, 250));
    await route.continue();
  });
  const session = await page.context().newCDPSession(page);
  const frames = [];
  session.on("Page.screencastFrame", ({ data, sessionId }) => {
    frames.push(data);
    void session.send("Page.screencastFrameAck", { sessionId }).catch(() => undefined);
  });
  await session.send("Page.startScreencast", { format: "png", everyNthFrame: 1 });
  await page.reload();
  await live(page);
  for (const name of ["history", "passages", "health", "now"]) {
    await page.click(`nav.pages a[href^="${name === "now" ? "/?" : `/${name}`}"]`);
    await page.waitForSelector(`main.${name}`);
    await page.waitForTimeout(400);
  }
  for (const path of ["/history", "/health", "/"]) {
    await page.goto(base + path);
    await page.waitForSelector("main");
    await page.waitForTimeout(300);
  }
  await session.send("Page.stopScreencast");
  assert.ok(frames.length > 10, `${frames.length} frames`);
  for (const frame of frames) assertNight(pngjs.PNG.sync.read(Buffer.from(frame, "base64")));
  await close();
});

test("the_windows_frame_goes_with_the_light", async () => {
  const { page, close } = await open(browser, "/", SIZES[2], "night");
  const meta = () => page.evaluate(() => ["theme-color", "color-scheme"].map((name) => document.querySelector(`meta[name=${name}]`).content));
  assert.deepEqual(await meta(), ["#000000", "dark"]);
  await page.click(".light summary");
  await page.click(".light label:has(input[value=day])");
  assert.deepEqual(await meta(), ["#fbfaf6", "light"]);
  await page.waitForSelector(".light:not([open])");
  await page.click(".light summary");
  await page.click(".light label:has(input[value=clock])");
  assert.equal(await page.evaluate(() => localStorage.getItem("taffrail.zone")), await page.evaluate(async () => (await (await fetch("/api/v1/banks")).json()).zone));
  await close();
});
