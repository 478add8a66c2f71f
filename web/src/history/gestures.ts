/** Pointer, wheel and keys over the charts, as moves of a span. Shares are of the plot's width, 0 left and 1 right. */

export interface Moves {
  /** Where the plots lie, in client pixels. */
  plot: () => { left: number; width: number };
  pan: (share: number) => void;
  zoom: (factor: number, about: number) => void;
  select: (a: number, b: number) => void;
  /** A tap or click without a drag. True if it was of use: two of no use, one soon after the other, zoom in. */
  tap: (at: number) => boolean;
  clear: () => void;
  /** To the first record or to the present. */
  edge: (which: "first" | "present") => void;
  /** Moves the cursor by a share of the width. */
  cursor: (share: number) => void;
  /** A span begins or ends at the cursor. */
  mark: () => void;
  /** Whether a span is being drawn out: plain arrows then move its end. */
  marking: () => boolean;
}

const TAP_PX = 6;
/** Zoom for a key press; the arrows move by a tenth. */
const KEY_ZOOM = 1.5;
const KEY_PAN = 0.1;
const KEY_CURSOR = 0.01;
/** Two taps so close in time and place are one double tap. */
const DOUBLE_MS = 350;
const DOUBLE_PX = 30;
const DOUBLE_ZOOM = 0.4;

/** Listens on `node`. Returns the function that ends it. */
export function listen(node: HTMLElement, moves: Moves): () => void {
  const stop = new AbortController();
  const on = { signal: stop.signal };
  const pointers = new Map<number, number>();
  let start = 0;
  let dragged = false;
  let selecting = false;
  let lastTap = { time: -Infinity, x: 0 };
  const share = (x: number): number => {
    const { left, width } = moves.plot();
    return (x - left) / width;
  };

  node.addEventListener(
    "wheel",
    (event) => {
      // Beside the plots the wheel scrolls the page, and a note scrolls itself.
      if ((event.target as Element).closest(".head, .mark-note")) return;
      event.preventDefault();
      const scale = event.deltaMode === 1 ? 24 : 1;
      if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) moves.pan((event.deltaX * scale) / moves.plot().width);
      else moves.zoom(Math.exp(event.deltaY * scale * 0.0016), share(event.clientX));
    },
    { ...on, passive: false },
  );
  node.addEventListener(
    "pointerdown",
    (event) => {
      if (event.button !== 0 || (event.target as Element).closest("button, a, .mark-note")) return;
      pointers.set(event.pointerId, event.clientX);
      if (pointers.size > 1) return;
      start = event.clientX;
      dragged = false;
      selecting = event.shiftKey;
    },
    on,
  );
  node.addEventListener(
    "pointermove",
    (event) => {
      const before = pointers.get(event.pointerId);
      if (before === undefined) return;
      if (!dragged && pointers.size === 1 && Math.abs(event.clientX - start) < TAP_PX) return;
      if (!dragged) node.setPointerCapture(event.pointerId);
      dragged = true;
      if (pointers.size === 1 && selecting) moves.select(share(start), share(event.clientX));
      else if (pointers.size === 1) moves.pan((before - event.clientX) / moves.plot().width);
      else pinch(event.pointerId, before, event.clientX);
      pointers.set(event.pointerId, event.clientX);
    },
    on,
  );
  const lift = (event: PointerEvent): void => {
    if (!pointers.delete(event.pointerId)) return;
    if (event.type === "pointerup" && !dragged && pointers.size === 0) tapped(event);
  };
  function tapped({ clientX: x, timeStamp: time }: PointerEvent): void {
    if (moves.tap(share(x))) return;
    const twice = time - lastTap.time < DOUBLE_MS && Math.abs(x - lastTap.x) < DOUBLE_PX;
    lastTap = twice ? { time: -Infinity, x } : { time, x };
    if (twice) moves.zoom(DOUBLE_ZOOM, share(x));
  }
  node.addEventListener("pointerup", lift, on);
  node.addEventListener("pointercancel", lift, on);

  function pinch(id: number, before: number, after: number): void {
    const other = [...pointers].find(([key]) => key !== id)?.[1];
    if (other === undefined) return;
    const [was, is] = [Math.abs(before - other), Math.abs(after - other)];
    if (was > 10 && is > 10) moves.zoom(was / is, share(other));
  }

  node.addEventListener(
    "keydown",
    (event) => {
      const arrow = (way: number): void => (event.shiftKey || moves.marking() ? moves.cursor(way * KEY_CURSOR) : moves.pan(way * KEY_PAN));
      const act: Record<string, () => void> = {
        ArrowLeft: () => arrow(-1),
        ArrowRight: () => arrow(1),
        PageUp: () => moves.pan(-1),
        PageDown: () => moves.pan(1),
        Home: () => moves.edge("first"),
        End: () => moves.edge("present"),
        "+": () => moves.zoom(1 / KEY_ZOOM, 0.5),
        "=": () => moves.zoom(1 / KEY_ZOOM, 0.5),
        "-": () => moves.zoom(KEY_ZOOM, 0.5),
        m: () => moves.mark(),
        Escape: () => moves.clear(),
      };
      const move = act[event.key];
      if (!move || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      move();
    },
    on,
  );
  return () => stop.abort();
}
