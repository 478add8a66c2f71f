/** Draws a scene. Everything that has a place was given it by scene.ts; here are pens and paper only. */
import type { Now } from "../api";
import { clock, current, joined, percent, tickLabel } from "../format";
import type { Colours } from "../palette";
import { clockLabel, durations } from "../range";
import { words } from "../words";
import { said } from "../words/said";
import { alongLine, aroundPoint, besideBracket, clear, overBracket, type Box } from "./labels";
import { boxesAlong, type Point, type Ribbon, type Scene } from "./scene";

export const FONT = '"Barlow Semi Condensed", "Arial Narrow", "Liberation Sans Narrow", system-ui, sans-serif';

interface Pen {
  ctx: CanvasRenderingContext2D;
  scene: Scene;
  colours: Colours;
  rem: number;
  zone: string;
}

export function draw(ctx: CanvasRenderingContext2D, scene: Scene, now: Now, colours: Colours, rem: number, zone: string): void {
  const pen: Pen = { ctx, scene, colours, rem, zone };
  const { frame } = scene;
  ctx.clearRect(0, 0, frame.width, frame.height);
  ctx.font = `400 ${0.82 * rem}px ${FONT}`;
  ctx.lineJoin = "round";
  water(pen);
  grid(pen);
  if (scene.fan) fan(pen, scene.fan);
  for (const ribbon of scene.past) band(pen, ribbon);
  reserveLine(pen);
  strip(pen);
  if (scene.fan) centre(pen, scene.fan);
  for (const ribbon of scene.past) trace(pen, ribbon);
  nowLine(pen);
  labels(pen, now);
  axis(pen);
}

function water({ ctx, scene, colours }: Pen): void {
  const { left, right, top, bottom, stripTop, stripBottom } = scene.frame;
  const fill = (colour: string, from: number, to: number): void => {
    ctx.fillStyle = colour;
    ctx.fillRect(left, from, right - left, to - from);
  };
  const deepest = Math.min(0.1, scene.reserve);
  fill(colours.deep, top, scene.y(scene.reserve));
  fill(colours.shoal, scene.y(scene.reserve), scene.y(deepest));
  fill(colours["shoal-deep"], scene.y(deepest), bottom);
  fill(colours.deep, stripTop, stripBottom);
}

/** A level or upright line on whole pixels. */
function rule({ ctx }: Pen, colour: string, width: number, x1: number, y1: number, x2: number, y2: number): void {
  const snap = (v: number): number => Math.round(v) + (width % 2 ? 0.5 : 0);
  ctx.strokeStyle = colour;
  ctx.lineWidth = width;
  ctx.beginPath();
  ctx.moveTo(x1 === x2 ? snap(x1) : x1, y1 === y2 ? snap(y1) : y1);
  ctx.lineTo(x1 === x2 ? snap(x2) : x2, y1 === y2 ? snap(y2) : y2);
  ctx.stroke();
}

function text({ ctx }: Pen, what: string, x: number, y: number, colour: string, align: CanvasTextAlign = "left"): void {
  ctx.fillStyle = colour;
  ctx.textAlign = align;
  ctx.textBaseline = "middle";
  ctx.fillText(what, x, y);
}

function grid(pen: Pen): void {
  const { scene, colours, rem } = pen;
  const { left, right, top, stripTop, stripBottom, bottom } = scene.frame;
  for (const level of [0, 0.25, 0.5, 0.75, 1]) {
    const y = scene.y(level);
    rule(pen, colours.line, 1, left, y, right, y);
    text(pen, level === 1 ? joined(percent(level)) : percent(level).value, left - 0.5 * rem, y, colours.mute, "right");
  }
  for (const midnight of scene.midnights) {
    const x = scene.x(midnight);
    if (x <= left + 1) continue;
    rule(pen, colours.line, 1, x, top, x, bottom);
    rule(pen, colours.line, 1, x, stripTop, x, stripBottom);
  }
}

function shape(ctx: CanvasRenderingContext2D, ribbon: Ribbon): void {
  ctx.beginPath();
  ribbon.upper.forEach((point, i) => (i ? ctx.lineTo(point.x, point.y) : ctx.moveTo(point.x, point.y)));
  for (let i = ribbon.lower.length - 1; i >= 0; i -= 1) ctx.lineTo(ribbon.lower[i]!.x, ribbon.lower[i]!.y);
  ctx.closePath();
}

function clipped({ ctx, scene }: Pen, from: number, to: number, paint: () => void): void {
  ctx.save();
  ctx.beginPath();
  ctx.rect(scene.frame.left, from, scene.frame.right - scene.frame.left, to - from);
  ctx.clip();
  paint();
  ctx.restore();
}

function fan(pen: Pen, ribbon: Ribbon): void {
  const { ctx, scene, colours } = pen;
  const shore = scene.y(scene.reserve);
  const paint = (colour: string) => () => {
    ctx.fillStyle = colour;
    shape(ctx, ribbon);
    ctx.fill();
  };
  clipped(pen, scene.frame.top, shore, paint(colours.fan));
  clipped(pen, shore, scene.frame.bottom, paint(colours["fan-shoal"]));
}

function band(pen: Pen, ribbon: Ribbon): void {
  const { ctx, scene, colours } = pen;
  clipped(pen, scene.frame.top, scene.frame.bottom, () => {
    ctx.fillStyle = colours.band;
    shape(ctx, ribbon);
    ctx.fill();
  });
}

function line(ctx: CanvasRenderingContext2D, points: Point[]): void {
  ctx.beginPath();
  points.forEach((point, i) => (i ? ctx.lineTo(point.x, point.y) : ctx.moveTo(point.x, point.y)));
  ctx.stroke();
}

function trace(pen: Pen, ribbon: Ribbon): void {
  const { ctx, scene, colours, rem } = pen;
  clipped(pen, scene.frame.top - rem, scene.frame.bottom, () => {
    ctx.strokeStyle = colours.trace;
    ctx.lineWidth = 2.25;
    line(ctx, ribbon.centre);
  });
}

function centre(pen: Pen, ribbon: Ribbon): void {
  const { ctx, scene, colours } = pen;
  clipped(pen, scene.frame.top, scene.frame.bottom, () => {
    // What is only supposed is told from where it goes: longer dashes, in the colour of notes.
    ctx.strokeStyle = scene.supposed ? colours.mark : colours.trace;
    ctx.lineWidth = 1.75;
    ctx.lineCap = "round";
    ctx.setLineDash(scene.supposed ? [6, 5] : [0.5, 5.5]);
    line(ctx, ribbon.centre);
  });
}

function reserveLine(pen: Pen): void {
  const { ctx, scene, colours, rem } = pen;
  const y = scene.y(scene.reserve);
  rule(pen, colours.mark, 1, scene.frame.left, y, scene.frame.right, y);
  if (!scene.bracket) return;
  const { a, b, open } = scene.bracket;
  ctx.fillStyle = colours.mark;
  ctx.fillRect(a, Math.round(y) - 1, b - a, 3);
  const end = 0.36 * rem;
  rule(pen, colours.mark, 2, a, y - end, a, y + end);
  if (!open) rule(pen, colours.mark, 2, b, y - end, b, y + end);
}

function strip(pen: Pen): void {
  const { ctx, scene, colours, rem } = pen;
  const { left, right, stripTop, stripBottom } = scene.frame;
  const zero = scene.current(0);
  for (const stretch of scene.strip) {
    const shade = (pick: (at: (typeof stretch)[number]) => number): void => {
      ctx.beginPath();
      ctx.moveTo(stretch[0]!.x, zero);
      for (const at of stretch) ctx.lineTo(at.x, pick(at));
      ctx.lineTo(stretch.at(-1)!.x, zero);
      ctx.closePath();
      ctx.fill();
    };
    const side = (from: number, to: number, soft: string, full: string, far: (at: (typeof stretch)[number]) => number): void =>
      clipped(pen, from, to, () => {
        ctx.fillStyle = soft;
        shade(far);
        ctx.fillStyle = full;
        shade((at) => at.mean);
      });
    side(stripTop, zero, colours["into-soft"], colours.into, (at) => at.top);
    side(zero, stripBottom, colours["out-soft"], colours.out, (at) => at.bottom);
  }
  rule(pen, colours.mute, 1, left, zero, right, zero);
  const edge = left - 0.5 * rem;
  const amps = (a: number): string => (Math.abs(a) < 1 ? a.toFixed(1) : a.toFixed(0)).replace("-", "\u2212");
  text(pen, joined({ value: amps(scene.ends.high), unit: "A" }), edge, stripTop + 0.3 * rem, colours.mute, "right");
  text(pen, amps(scene.ends.low), edge, stripBottom - 0.3 * rem, colours.mute, "right");
  if (scene.meanCurrent === null) return;
  const y = scene.current(scene.meanCurrent);
  ctx.save();
  ctx.strokeStyle = scene.supposed ? colours.mark : scene.meanCurrent < 0 ? colours.out : colours.into;
  ctx.lineWidth = 1.75;
  ctx.lineCap = "round";
  ctx.setLineDash(scene.supposed ? [6, 5] : [0.5, 5.5]);
  line(ctx, [{ x: scene.x(scene.present) + 4, y }, { x: right, y }]);
  ctx.restore();
  const label = (scene.supposed ? words.picture.supposed : words.picture.mean)(joined(current(scene.meanCurrent, scene.supposed)));
  const w = ctx.measureText(label).width;
  const x = scene.x(scene.present) + 0.6 * rem;
  // On the side of its line with more room, never across the zero line.
  const below = y > zero ? stripBottom - y > 1.1 * rem : y - stripTop < 1.1 * rem && stripBottom - zero > 1.1 * rem;
  const at = below ? Math.max(y, zero) + 0.65 * rem : (y > zero ? Math.min(y, zero) : y) - 0.65 * rem;
  if (x + w < right) text(pen, label, x, at, scene.supposed ? colours.mark : colours.mute);
}

function nowLine(pen: Pen): void {
  const { ctx, scene, colours, rem } = pen;
  const { top, bottom, stripTop, stripBottom } = scene.frame;
  if (!scene.here) return;
  const x = scene.x(scene.present);
  rule(pen, colours.ink, 1, x, top - 0.35 * rem, x, bottom);
  rule(pen, colours.ink, 1, x, stripTop, x, stripBottom);
  if (!scene.dot) return;
  ctx.beginPath();
  ctx.arc(scene.dot.x, scene.dot.y, 0.3 * rem, 0, 2 * Math.PI);
  ctx.fillStyle = colours.paper;
  ctx.fill();
  ctx.strokeStyle = colours.trace;
  ctx.lineWidth = 2.25;
  ctx.stroke();
}

/** Labels stand in clear space, near what they name, with a leader where they can't touch it. */
function labels(pen: Pen, now: Now): void {
  const { ctx, scene, colours, rem, zone } = pen;
  const { left, right, top, bottom } = scene.frame;
  const high = rem;
  const gap = 0.35 * rem;
  const bounds: Box = { x: left + 2, y: top + 1, w: right - left - 4, h: bottom - top - 2 };
  const nowX = scene.x(scene.present);
  const taken: Box[] = [
    ...scene.past.flatMap((ribbon) => boxesAlong(ribbon, 6)),
    ...(scene.fan ? boxesAlong(scene.fan, 6) : []),
    { x: nowX - 3, y: top, w: 6, h: bottom - top },
    ...scene.fixes.map(({ at }): Box => ({ x: at.x - gap, y: at.y - gap, w: 2 * gap, h: 2 * gap })),
  ];
  const reserveY = scene.y(scene.reserve);
  if (scene.bracket) {
    const label = bracketLabel(now, scene.present, zone);
    ctx.font = `600 ${0.95 * rem}px ${FONT}`;
    const w = ctx.measureText(label).width;
    const place = clear(besideBracket(scene.bracket.a, scene.bracket.b, reserveY, w, high * 1.1, gap), taken, bounds);
    const spot = place ?? clear(overBracket(right - 2, reserveY, w, high * 1.1, gap), taken, bounds);
    if (spot) {
      if (!place) leader(pen, { x: scene.bracket.b, y: reserveY }, spot, colours.mark);
      text(pen, label, spot.x, spot.y + spot.h / 2, colours.mark);
      taken.push(spot);
    }
    ctx.font = `400 ${0.82 * rem}px ${FONT}`;
    taken.push({ x: scene.bracket.a - gap, y: reserveY - gap, w: scene.bracket.b - scene.bracket.a + 2 * gap, h: 2 * gap });
  }
  const reserve = words.picture.reserve(joined(percent(scene.reserve)));
  const width = ctx.measureText(reserve).width;
  const place = clear(alongLine(reserveY, left + 0.5 * rem, right, width, high, gap * 0.6), taken, bounds);
  if (place) {
    onPaper(pen, reserve, place, colours.mark);
    taken.push(place);
  }
  for (const fix of [...scene.fixes].reverse()) {
    fixMark(pen, fix.at);
    const label = words.picture.fix(said(fix.mark.title), clock(fix.mark.time_ms, zone));
    const w = ctx.measureText(label).width;
    const spots = aroundPoint(fix.at.x, fix.at.y, w, high, 1.1 * rem);
    const spot = clear(spots, [...taken, { x: left, y: reserveY - 2, w: right - left, h: 4 }], bounds);
    if (!spot) continue;
    leader(pen, fix.at, spot);
    onPaper(pen, label, spot, colours.mute);
    taken.push({ x: spot.x - gap, y: spot.y - gap, w: spot.w + 2 * gap, h: spot.h + 2 * gap });
  }
}

function bracketLabel(now: Now, present: number, zone: string): string {
  const [low, high] = [now.reserve_low_s ?? 0, now.reserve_high_s ?? 0];
  if (now.time_trusted) return clockLabel(present, low, high, zone);
  const span = durations(low, high);
  return words.range.within(`${span.value} ${span.unit}`);
}

/** A label with the water's own colour behind it, so that the grid doesn't run through its words. */
function onPaper(pen: Pen, what: string, box: Box, colour: string): void {
  const { ctx, scene, colours } = pen;
  ctx.fillStyle = box.y < scene.y(scene.reserve) ? colours.deep : colours.shoal;
  ctx.fillRect(box.x - 1, box.y, box.w + 2, box.h);
  text(pen, what, box.x, box.y + box.h / 2, colour);
}

/** A fix as on a chart: a circle with a dot on the track. */
function fixMark({ ctx, colours, rem }: Pen, at: Point): void {
  ctx.beginPath();
  ctx.arc(at.x, at.y, 0.32 * rem, 0, 2 * Math.PI);
  ctx.fillStyle = colours.deep;
  ctx.fill();
  ctx.strokeStyle = colours.mark;
  ctx.lineWidth = 1.5;
  ctx.stroke();
  ctx.beginPath();
  ctx.arc(at.x, at.y, 0.1 * rem, 0, 2 * Math.PI);
  ctx.fillStyle = colours.mark;
  ctx.fill();
}

function leader({ ctx, colours, rem }: Pen, from: Point, to: Box, colour = colours.mute): void {
  const x = Math.min(Math.max(from.x, to.x), to.x + to.w);
  const y = to.y > from.y ? to.y + 0.08 * rem : to.y + to.h - 0.08 * rem;
  const far = Math.hypot(x - from.x, y - from.y);
  const start = 0.32 * rem;
  if (far <= start + 2) return;
  ctx.strokeStyle = colour;
  ctx.lineWidth = 1;
  line(ctx, [
    { x: from.x + ((x - from.x) * start) / far, y: from.y + ((y - from.y) * start) / far },
    { x, y },
  ]);
}

function axis(pen: Pen): void {
  const { ctx, scene, colours, rem, zone } = pen;
  const { left, right, stripBottom } = scene.frame;
  const y = stripBottom + 0.95 * rem;
  const placed: Box[] = [];
  const put = (what: string, x: number, colour: string): void => {
    const w = ctx.measureText(what).width;
    const box = { x: x - w / 2, y: y - 1, w, h: 2 };
    if (box.x < left - rem || box.x + w > right + 0.4 * rem) return;
    if (placed.some((other) => box.x < other.x + other.w + 0.4 * rem && other.x < box.x + w + 0.4 * rem)) return;
    placed.push(box);
    text(pen, what, x, y, colour, "center");
  };
  // Days first: they keep their place where room is short.
  for (const tick of [...scene.ticks].sort((a, b) => Number(b.level === "day") - Number(a.level === "day"))) {
    const x = scene.x(tick.ms);
    rule(pen, colours.mute, 1, x, stripBottom, x, stripBottom + 0.28 * rem);
    put(tickLabel(tick, zone, right - left > 36 * rem), x, tick.level === "day" ? colours.ink : colours.mute);
  }
}
