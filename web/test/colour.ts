/** What colours are and how they look, for the tests of the palettes. */
import { readFileSync } from "node:fs";

export const css = readFileSync(new URL("../src/style/palette.css", import.meta.url), "utf8");

export type Rgb = [number, number, number];

/** A palette's colours as the style sheet has them. */
export function palette(name: string): Record<string, string> {
  const block = new RegExp(`data-palette="${name}"\\] \\{([^}]*)\\}`).exec(css)?.[1] ?? "";
  return Object.fromEntries([...block.matchAll(/--([\w-]+): (#[0-9a-f]{6});/g)].map((found) => [found[1]!, found[2]!]));
}

export const channels = (hex: string): Rgb => [1, 3, 5].map((at) => Number.parseInt(hex.slice(at, at + 2), 16)) as Rgb;

/** sRGB's channels as shares of light. */
export const linear = (hex: string): Rgb =>
  channels(hex).map((value) => {
    const share = value / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  }) as Rgb;

const through =
  (matrix: [Rgb, Rgb, Rgb]) =>
  (rgb: Rgb): Rgb =>
    matrix.map(([r, g, b]) => Math.min(1, Math.max(0, r * rgb[0] + g * rgb[1] + b * rgb[2]))) as Rgb;

/**
 * How a colour looks to eyes that lack one kind of cone: the matrices of severity 1.0 of Machado, Oliveira & Fernandes, "A
 * physiologically-based model for simulation of color vision deficiency", IEEE Transactions on Visualization and Computer
 * Graphics 15 (2009), 1291-1298.
 */
export const SIGHTS: Record<string, (rgb: Rgb) => Rgb> = {
  full: (rgb) => rgb,
  protanopia: through([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
  deuteranopia: through([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]]),
  tritanopia: through([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]]),
};

/** CIE L*a*b* under D65 of linear sRGB (IEC 61966-2-1). */
function lab([r, g, b]: Rgb): Rgb {
  const part = (t: number): number => (t > (6 / 29) ** 3 ? Math.cbrt(t) : t / (3 * (6 / 29) ** 2) + 4 / 29);
  const x = part((0.4124564 * r + 0.3575761 * g + 0.1804375 * b) / 0.95047);
  const y = part(0.2126729 * r + 0.7151522 * g + 0.072175 * b);
  const z = part((0.0193339 * r + 0.119192 * g + 0.9503041 * b) / 1.08883);
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}

const RAD = Math.PI / 180;
const turn = (a: number, b: number): number => (a === 0 && b === 0 ? 0 : (Math.atan2(b, a) / RAD + 360) % 360);

/** CIEDE2000 (CIE 142-2001), by the formulas of Sharma, Wu & Dalal, whose test data the tests hold it to. */
function ofLab([l1, a1, b1]: Rgb, [l2, a2, b2]: Rgb): number {
  const mean = (Math.hypot(a1, b1) + Math.hypot(a2, b2)) / 2;
  const g = 0.5 * (1 - Math.sqrt(mean ** 7 / (mean ** 7 + 25 ** 7)));
  const [p1, p2] = [a1 * (1 + g), a2 * (1 + g)];
  const [c1, c2] = [Math.hypot(p1, b1), Math.hypot(p2, b2)];
  const [h1, h2] = [turn(p1, b1), turn(p2, b2)];
  const coloured = c1 * c2 !== 0;
  const round = coloured ? ((h2 - h1 + 540) % 360) - 180 : 0;
  const hue = 2 * Math.sqrt(c1 * c2) * Math.sin((round / 2) * RAD);
  const l = (l1 + l2) / 2;
  const c = (c1 + c2) / 2;
  const h = !coloured ? h1 + h2 : Math.abs(h1 - h2) <= 180 ? (h1 + h2) / 2 : h1 + h2 < 360 ? (h1 + h2 + 360) / 2 : (h1 + h2 - 360) / 2;
  const wave = (share: number, times: number, off: number): number => share * Math.cos((times * h + off) * RAD);
  const t = 1 - wave(0.17, 1, -30) + wave(0.24, 2, 0) + wave(0.32, 3, 6) - wave(0.2, 4, -63);
  const lightness = (l2 - l1) / (1 + (0.015 * (l - 50) ** 2) / Math.sqrt(20 + (l - 50) ** 2));
  const chroma = (c2 - c1) / (1 + 0.045 * c);
  const hues = hue / (1 + 0.015 * c * t);
  const bend = -2 * Math.sqrt(c ** 7 / (c ** 7 + 25 ** 7)) * Math.sin(60 * Math.exp(-(((h - 275) / 25) ** 2)) * RAD);
  return Math.sqrt(lightness ** 2 + chroma ** 2 + hues ** 2 + bend * chroma * hues);
}

/** How different two colours look, given as linear sRGB. */
export const difference = Object.assign((a: Rgb, b: Rgb): number => ofLab(lab(a), lab(b)), { ofLab });
