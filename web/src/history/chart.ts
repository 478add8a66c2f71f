/** One panel's chart: a uPlot with our pens. */
import uPlot from "uplot";
import { number, tickLabel } from "../format";
import type { Colours } from "../palette";
import { FONT } from "../picture/draw";
import { ticks } from "../zone";
import { alone, flows, ground, lineEnds, nights, zeroLine, type Paper } from "./drawing";
import type { PanelSpec } from "./panels";

export interface Setting extends Paper {
  rem: number;
  /** Room right of the plot, for the names of lines. */
  end: number;
  /** Whether this panel carries the time axis. */
  foot: boolean;
  width: number;
  height: number;
  /** Length of the span to be shown, in milliseconds; uPlot knows it only after the value scales are set. */
  spanMs: () => number;
  onCursor: (index: number | null) => void;
}

export const SYNC = "taffrail-history";
/** Within spans longer than this the charge panel shows its whole scale. */
const WHOLE_MS = 12 * 3_600_000;

const TONES = 4;
/** Shading of more lines than these would hide the lines. */
const MOST_SHADED = 6;
/** Opacity of such a shading, in hexadecimal after a colour. */
const FAINT = "2e";

const STEPS = [-3, -2, -1, 0, 1, 2, 3, 4, 5].flatMap((e) => [1, 2, 2.5, 5].map((m) => m * 10 ** e));

const inKilowatts = (watts: number[]): boolean => watts.some((w) => Math.abs(w) >= 1000);

/** Decimals that a step of 1, 2, 2.5 or 5 times a power of ten needs. */
function decimals(step: number): number {
  for (let n = 0; n < 4; n += 1) {
    const scaled = step * 10 ** n;
    if (Math.abs(scaled - Math.round(scaled)) < 1e-6 * scaled) return n;
  }
  return 4;
}

// Whole pixels: uPlot scales the number it finds before "px" and knows no fractions.
export const axisFont = (rem: number): string => `400 ${Math.round(0.82 * rem)}px ${FONT}`;
export const footHeight = (rem: number): number => Math.round(1.7 * rem);
export const axisWidth = (rem: number): number => Math.round(3.1 * rem);
/** Right of the plot, for short names of lines. */
export const endWidth = (rem: number): number => Math.round(1.6 * rem);

export function chart(spec: PanelSpec, setting: Setting, target: HTMLElement): uPlot {
  const { colours, rem } = setting;
  const several = spec.lines.length > 1;
  const tones = tonesOf(spec, colours);
  const filled = spec.signed && !several;
  const font = axisFont(rem);
  const options: uPlot.Options = {
    width: setting.width,
    height: setting.height,
    ms: 1,
    padding: [Math.round(0.35 * rem), setting.end, setting.foot ? 0 : Math.round(0.35 * rem), 0],
    legend: { show: false },
    cursor: {
      y: false,
      points: { show: false },
      drag: { x: false, y: false, setScale: false },
      sync: { key: SYNC, setSeries: false },
    },
    scales: {
      x: { time: false, auto: false },
      y: { range: (_u, low, high) => ends(spec, setting.spanMs(), low, high) },
    },
    axes: [timeAxis(setting, font), valueAxis(spec, setting, font)],
    series: [
      {},
      ...spec.lines.flatMap((_, line): uPlot.Series[] => {
        const edge = (): uPlot.Series => ({ width: 0, points: { show: false } });
        const stroke = tones[line]!;
        const dash = line >= TONES ? [4, 2] : [];
        const centre: uPlot.Series = { stroke, dash, width: spec.key === "soc" ? 1.75 : 1.25, points: dots(stroke) };
        return filled ? [edge(), edge(), { ...centre, points: { show: false } }].map((series) => ({ ...series, paths: () => null })) : [edge(), edge(), centre];
      }),
      // Dashed, so that it is told from the line itself in any light.
      ...(spec.beside ? [{ stroke: colours.mute, width: 1.25, dash: [5, 3], points: { show: false } }] : []),
    ],
    bands: filled ? [] : shades(spec, tones, colours),
    hooks: {
      drawClear: [(u) => ground(u, spec, setting)],
      drawAxes: [(u) => nights(u, setting)],
      draw: [
        (u) => {
          if (filled) flows(u, colours);
          if (spec.signed) zeroLine(u, colours.mute);
          if (spec.lines.some((line) => line.label)) lineEnds(u, spec, tones, font, rem, setting.end);
        },
      ],
      setCursor: [(u) => setting.onCursor(u.cursor.idx ?? null)],
    },
  };
  return new uPlot(options, [[]], target);
}

/** A colour for each line: what flows in has the colour of inflow first, what flows out that of outflow. */
function tonesOf({ key, lines }: PanelSpec, { trace, out, into, mute }: Colours): string[] {
  const order = key === "sources" ? [into, trace, mute, out] : key === "loads" ? [out, trace, mute, into] : [trace, out, into, mute];
  return lines.map((_, i) => order[i % TONES]!);
}

/** From the least to the greatest of each bin; faint where several lines share a panel, and none where there are too many. */
function shades({ key, lines }: PanelSpec, tones: string[], colours: Colours): uPlot.Band[] {
  if (lines.length === 1) return [{ series: [1, 2], fill: key === "soc" ? colours.band : colours["out-soft"] }];
  if (lines.length > MOST_SHADED) return [];
  return tones.map((tone, i) => ({ series: [1 + 3 * i, 2 + 3 * i], fill: tone + FAINT }));
}

function dots(fill: string): uPlot.Series.Points {
  return { show: true, size: 3, width: 0, fill, filter: (u, series) => alone(u.data[series] as (number | null)[], ...(u.series[0]!.idxs ?? [0, -1])) };
}

export function timeAxis({ colours, rem, zone, foot }: Pick<Setting, "colours" | "rem" | "zone" | "foot">, font: string): uPlot.Axis {
  const inSpan = (u: uPlot, from: number, to: number) => ticks(from, to, zone, u.bbox.width / devicePixelRatio / (4.4 * rem));
  return {
    size: foot ? footHeight(rem) : 0,
    font,
    stroke: colours.mute,
    gap: 0.3 * rem,
    grid: { stroke: colours.line, width: 1 },
    ticks: { show: foot, stroke: colours.mute, width: 1, size: 0.28 * rem },
    splits: (u, _axis, from, to) => inSpan(u, from, to).map((tick) => tick.ms),
    values: (u, splits) => {
      if (!foot) return splits.map(() => "");
      const levels = new Map(inSpan(u, u.scales["x"]!.min!, u.scales["x"]!.max!).map((tick) => [tick.ms, tick]));
      return splits.map((ms) => tickLabel(levels.get(ms) ?? { ms, level: "minute" }, zone, true));
    },
  };
}

export function valueAxis(spec: Pick<PanelSpec, "unit">, { colours, rem, height }: Pick<Setting, "colours" | "rem" | "height">, font: string): uPlot.Axis {
  const ratio = spec.unit === "1";
  return {
    size: axisWidth(rem),
    font,
    stroke: colours.mute,
    gap: 0.45 * rem,
    space: Math.max(rem, height / 6),
    incrs: ratio ? [0.01, 0.02, 0.05, 0.1, 0.25, 0.5] : STEPS,
    grid: { stroke: colours.line, width: 1 },
    ticks: { show: false },
    values: (_u, splits) => {
      const step = Math.abs((splits[1] ?? 1) - (splits[0] ?? 0));
      const scale = ratio ? 100 : spec.unit === "W" && inKilowatts(splits) ? 1e-3 : 1;
      return splits.map((value) => number(value * scale, decimals(step * scale)));
    },
  };
}

/** Ends of the value scale: charge whole on long spans, flows about zero, everything else close about its data. */
function ends(spec: PanelSpec, spanMs: number, low: number | null, high: number | null): [number, number] {
  if (low === null || high === null || !Number.isFinite(low) || !Number.isFinite(high)) return [0, 1];
  if (spec.key === "soc") {
    if (spanMs > WHOLE_MS) return [0, 1];
    const slack = Math.max(0.02, (0.1 - (high - low)) / 2);
    return [Math.max(0, low - slack), Math.min(1, high + slack)];
  }
  const least = { V: 0.2, "°C": 2, "°F": 4, A: 1, W: 20 }[spec.unit] ?? 0.1;
  const slack = Math.max((high - low) * 0.06, (least - (high - low)) / 2);
  const bottom = low - slack;
  const top = high + slack;
  return spec.signed ? [Math.min(bottom, -slack), Math.max(top, slack)] : [bottom, top];
}
