/** Draws the picture of capacity: a falling coast, with the end of life as its shoal water. */
import uPlot from "uplot";
import { axisFont, endWidth, timeAxis, valueAxis } from "../history/chart";
import { level } from "../history/drawing";
import type { Colours } from "../palette";
import { columns, type Picture } from "./fade";

export interface Setting {
  colours: Colours;
  rem: number;
  zone: string;
  width: number;
  height: number;
  words: { now: string; end: string };
  onCursor: (index: number | null) => void;
}

export function fadeChart(picture: Picture, setting: Setting, target: HTMLElement): uPlot {
  const { colours, rem } = setting;
  const font = axisFont(rem);
  const edge = (): uPlot.Series => ({ width: 0, points: { show: false }, spanGaps: true });
  const centre = (dash?: number[]): uPlot.Series => ({ stroke: colours.trace, width: 1.75, points: { show: false }, spanGaps: true, ...(dash && { dash }) });
  const options: uPlot.Options = {
    width: setting.width,
    height: setting.height,
    ms: 1,
    padding: [Math.round(0.6 * rem), endWidth(rem), 0, 0],
    legend: { show: false },
    cursor: { y: false, points: { show: false }, drag: { x: false, y: false, setScale: false } },
    scales: {
      x: { time: false, auto: false, range: [picture.from, picture.to] },
      y: { range: [picture.bottom, picture.top] },
    },
    axes: [timeAxis({ ...setting, foot: true }, font), valueAxis({ unit: "1" }, setting, font)],
    series: [{}, edge(), edge(), centre(), edge(), edge(), centre([4, 4])],
    bands: [
      { series: [4, 5], fill: colours.fan },
      { series: [1, 2], fill: colours.band },
    ],
    hooks: {
      drawClear: [(u) => ground(u, picture, setting)],
      draw: [
        (u) => {
          lines(u, picture, setting, font);
          dots(u, picture, colours, rem);
          if (picture.end) ending(u, picture, colours, rem);
        },
      ],
      setCursor: [(u) => setting.onCursor(u.cursor.idx ?? null)],
    },
  };
  // A span without a line still has its scale.
  const rows = columns(picture);
  const data = rows[0]!.length > 0 ? rows : [[picture.from, picture.to], ...rows.slice(1).map(() => [null, null])];
  return new uPlot(options, data as uPlot.AlignedData, target);
}

/** The paper, and what lies below the end of life. */
function ground(u: uPlot, picture: Picture, { colours }: Setting): void {
  const { ctx } = u;
  const { left, top, width, height } = u.bbox;
  const shore = shoreline(u, picture);
  ctx.save();
  ctx.fillStyle = colours.deep;
  ctx.fillRect(left, top, width, height);
  ctx.fillStyle = colours.shoal;
  ctx.fillRect(left, shore, width, top + height - shore);
  ctx.restore();
}

function shoreline(u: uPlot, { endOfLife }: Picture): number {
  const { top, height } = u.bbox;
  return Math.min(Math.max(u.valToPos(endOfLife, "y", true), top), top + height);
}

/** The lines of the end of life and of the present, with their names; over the grid, so that nothing crosses the words. */
function lines(u: uPlot, picture: Picture, { colours, rem, words }: Setting, font: string): void {
  const { ctx } = u;
  const { left, top, width, height } = u.bbox;
  const ratio = devicePixelRatio;
  const shore = shoreline(u, picture);
  // Drawn after the forecast, whose dashes the canvas still has.
  ctx.save();
  ctx.setLineDash([]);
  level(u, shore, colours.mark);
  ctx.font = font.replace(/[\d.]+px/, `${0.82 * rem * ratio}px`);
  ctx.textBaseline = "top";
  ctx.textAlign = "left";
  ctx.fillStyle = colours.mark;
  ctx.fillText(words.end, left + 0.5 * rem * ratio, shore + 0.3 * rem * ratio);
  const now = Math.round(u.valToPos(picture.now, "x", true)) + 0.5;
  if (now >= left && now <= left + width) {
    ctx.strokeStyle = colours.mute;
    ctx.lineWidth = ratio;
    ctx.beginPath();
    ctx.moveTo(now, top);
    ctx.lineTo(now, top + height);
    ctx.stroke();
    ctx.fillStyle = colours.ink;
    // On the side where there is room for it.
    const room = left + width - now > 3 * rem * ratio;
    ctx.textAlign = room ? "left" : "right";
    ctx.fillText(words.now, now + (room ? 0.35 : -0.35) * rem * ratio, top + 0.2 * rem * ratio);
  }
  ctx.restore();
}

/** Each finding with its band; hollow where it does not count. */
function dots(u: uPlot, picture: Picture, colours: Colours, rem: number): void {
  const { ctx } = u;
  const { left, top, width, height } = u.bbox;
  const ratio = devicePixelRatio;
  const y = (value: number): number => u.valToPos(value, "y", true);
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  ctx.lineWidth = ratio;
  ctx.setLineDash([]);
  for (const dot of picture.dots) {
    const x = u.valToPos(dot.ms, "x", true);
    ctx.strokeStyle = dot.believed ? colours.out : colours.mute;
    ctx.fillStyle = dot.believed ? colours.out : colours.deep;
    if (dot.believed) {
      ctx.beginPath();
      ctx.moveTo(x, y(dot.low));
      ctx.lineTo(x, y(dot.high));
      ctx.stroke();
    }
    ctx.beginPath();
    ctx.arc(x, Math.min(Math.max(y(dot.ratio), top), top + height), 0.17 * rem * ratio, 0, 2 * Math.PI);
    ctx.fill();
    ctx.stroke();
  }
  ctx.restore();
}

/** The range in which the end of life is reached, on its line. */
function ending(u: uPlot, { end, endOfLife, to }: Picture, colours: Colours, rem: number): void {
  const { ctx } = u;
  const ratio = devicePixelRatio;
  const { left, width } = u.bbox;
  const x = (ms: number): number => Math.min(Math.max(u.valToPos(ms, "x", true), left), left + width);
  const y = u.valToPos(endOfLife, "y", true);
  ctx.save();
  ctx.strokeStyle = colours.mark;
  ctx.lineWidth = 0.28 * rem * ratio;
  ctx.setLineDash([]);
  ctx.beginPath();
  ctx.moveTo(x(end!.earliest), y);
  ctx.lineTo(x(end!.latest ?? to), y);
  ctx.stroke();
  ctx.restore();
}
