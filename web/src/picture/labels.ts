/** Text in clear space: of the places a label could stand, the first that covers nothing. Pure. */

export interface Box {
  x: number;
  y: number;
  w: number;
  h: number;
}

export function overlap(a: Box, b: Box): number {
  const w = Math.min(a.x + a.w, b.x + b.w) - Math.max(a.x, b.x);
  const h = Math.min(a.y + a.h, b.y + b.h) - Math.max(a.y, b.y);
  return w > 0 && h > 0 ? w * h : 0;
}

export function within(inner: Box, outer: Box): boolean {
  return (
    inner.x >= outer.x && inner.y >= outer.y && inner.x + inner.w <= outer.x + outer.w && inner.y + inner.h <= outer.y + outer.h
  );
}

/** The first candidate inside the bounds that touches no obstacle; null where there is none. */
export function clear(candidates: Box[], obstacles: Box[], bounds: Box): Box | null {
  return (
    candidates.find((box) => within(box, bounds) && obstacles.every((obstacle) => overlap(box, obstacle) === 0)) ?? null
  );
}

/** A label on a level line: along it from the left, above before below. */
export function alongLine(y: number, from: number, to: number, w: number, h: number, gap: number): Box[] {
  const found: Box[] = [];
  for (let x = from; x + w <= to; x += Math.max(w / 3, 12)) {
    found.push({ x, y: y - gap - h, w, h }, { x, y: y + gap, w, h });
  }
  return found;
}

/** A label near a point, to be joined to it by a leader: below before above, near before far, right before left. */
export function aroundPoint(x: number, y: number, w: number, h: number, near: number): Box[] {
  const found: Box[] = [];
  for (const far of [1, 1.7, 2.6, 3.8, 5.2]) {
    for (const side of [1, -1]) {
      for (const shift of [0.35, -w - near * 0.35, -w / 2]) {
        const px = shift === -w / 2 ? x + shift : shift > 0 ? x + near * shift : x + shift;
        found.push({ x: px, y: side > 0 ? y + near * far : y - near * far - h, w, h });
      }
    }
  }
  return found;
}

/** A label for a bracket on a falling fan: right of it above the line, left of it below, right of it below, left above. */
export function besideBracket(a: number, b: number, y: number, w: number, h: number, gap: number): Box[] {
  const right = b + gap * 1.5;
  const left = a - gap * 1.5 - w;
  return [
    { x: right, y: y - gap - h, w, h },
    { x: left, y: y + gap, w, h },
    { x: right, y: y + gap, w, h },
    { x: left, y: y - gap - h, w, h },
  ];
}

/** Where no room is beside the bracket: at the right end of the plot, as low over the fan as is clear. */
export function overBracket(right: number, y: number, w: number, h: number, gap: number): Box[] {
  return Array.from({ length: 12 }, (_, i): Box => ({ x: right - w, y: y - gap - h * (1.5 + 0.5 * i), w, h }));
}
