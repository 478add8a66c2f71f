/** A browser at the page under test, watched for everything that should not happen. */
import assert from "node:assert/strict";
import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";
import pngjs from "pngjs";

export const base = process.env.TAFFRAIL_URL?.replace(/\/$/, "");
if (!base) throw new Error("TAFFRAIL_URL is not set: give the address of a running daemon (or of web/mock/server.mjs)");

export const SIZES = [
  { width: 390, height: 844, touch: true },
  { width: 1024, height: 600, touch: false },
  { width: 1440, height: 900, touch: false },
];
export const PALETTES = ["day", "dusk", "night"];

const out = fileURLToPath(new URL("out/", import.meta.url));
mkdirSync(out, { recursive: true });
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

export const launch = () =>
  chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });

/**
 * Opens a path in a fresh window. `faults` fills with console errors, failed requests and requests to elsewhere.
 * `at`: another address than the daemon's own; `workers`: "allow" lets the page keep itself for when the daemon is away.
 */
export async function open(browser, path, size, palette, { at = base, workers = "block" } = {}) {
  const context = await browser.newContext({
    viewport: { width: size.width, height: size.height },
    deviceScaleFactor: size.touch ? 2 : 1,
    hasTouch: size.touch,
    locale: "en-GB",
    serviceWorkers: workers,
  });
  const page = await context.newPage();
  const faults = [];
  page.on("console", (message) => message.type() === "error" && faults.push(`console: ${message.text()}`));
  page.on("pageerror", (error) => faults.push(`error: ${error.message}`));
  page.on("requestfailed", (request) => {
    // Overtaken questions are dropped by the page on purpose.
    if (request.failure()?.errorText !== "net::ERR_ABORTED") faults.push(`failed: ${request.url()}`);
  });
  page.on("response", (response) => response.status() >= 400 && faults.push(`${response.status()}: ${response.url()}`));
  page.on("request", (request) => {
    if (new URL(request.url()).origin !== new URL(at).origin) faults.push(`elsewhere: ${request.url()}`);
  });
  await page.addInitScript((chosen) => {
    localStorage.setItem("taffrail.palette", chosen);
    window.shifts = [];
    new PerformanceObserver((list) => {
      for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.shifts.push(entry.value);
    }).observe({ type: "layout-shift", buffered: true });
  }, palette);
  await page.goto(at + path);
  return { page, faults, close: () => context.close() };
}

/** Takes a screenshot, keeps it in out/, and hands back its pixels. */
export async function picture(page, name) {
  const file = await page.screenshot({ path: `${out}${name}.png` });
  return pngjs.PNG.sync.read(file);
}

/** How many pixels of the first canvas under `selector` have exactly a palette colour; and how many canvas pixels are painted at all. */
export function painted(page, selector, colour) {
  return page.evaluate(
    ([where, name]) => {
      const canvas = document.querySelector(where);
      const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
      const hex = getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
      const [r, g, b] = [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
      let same = 0;
      let any = 0;
      for (let i = 0; i < data.length; i += 4) {
        if (data[i + 3] > 0) any += 1;
        if (data[i] === r && data[i + 1] === g && data[i + 2] === b && data[i + 3] === 255) same += 1;
      }
      return { same, any, all: data.length / 4 };
    },
    [selector, colour],
  );
}

/** Serious and critical findings of axe. `without`: rules left out. */
export async function violations(page, without = []) {
  await page.evaluate(axe);
  const result = await page.evaluate(
    (rules) => window.axe.run(document, { rules: Object.fromEntries(rules.map((rule) => [rule, { enabled: false }])) }),
    without,
  );
  return result.violations
    .filter((each) => each.impact === "serious" || each.impact === "critical")
    .map((each) => `${each.id}: ${each.nodes.map((node) => node.target.join(" ")).join("; ")}`);
}

export const overflow = (page) => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);

/** Night's brightest colour; src/style/palette.css states it. */
const NIGHT_LUMINANCE = 0.19;

/** Fails unless every pixel of a picture is red and none brighter than night allows. */
export function assertNight(shot) {
  const { most, notRed } = light(shot);
  assert.equal(notRed, null, "a pixel that is not red");
  assert.ok(most <= NIGHT_LUMINANCE, `luminance ${most}`);
}

/** Greatest relative luminance (WCAG 2.2) in a picture, and the first pixel that isn't red. */
function light({ data, width }) {
  const linear = Array.from({ length: 256 }, (_, v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4));
  let most = 0;
  let notRed = null;
  for (let i = 0; i < data.length; i += 4) {
    const [r, g, b] = [data[i], data[i + 1], data[i + 2]];
    most = Math.max(most, 0.2126 * linear[r] + 0.7152 * linear[g] + 0.0722 * linear[b]);
    if (notRed === null && (g > r || b > r || g > 0.25 * r + 4 || b > 0.25 * r + 4)) {
      notRed = { x: (i / 4) % width, y: Math.floor(i / 4 / width), r, g, b };
    }
  }
  return { most, notRed };
}

/** Waits until the value at the head of the first panel reads like `pattern`. */
export const headed = (page, pattern = /\d/) =>
  page.waitForFunction((wanted) => new RegExp(wanted).test(document.querySelector(".panel .value")?.textContent ?? ""), pattern.source);
