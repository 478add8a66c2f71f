/** One pointer over a picture: pointing puts the cursor, dragging sideways moves what is shown. */

export interface Hand {
  /** Points at a client pixel. */
  hover: (clientX: number) => void;
  /** Has moved by so many pixels since the last word of it. */
  drag: (pixels: number) => void;
}

/** Fewer pixels than this are a tap of an unsteady hand. */
const STEADY_PX = 6;

/** Listens on a node whose style lets sideways movement through (`touch-action: pan-y`). Returns the function that ends it. */
export function dragged(node: HTMLElement, hand: Hand): () => void {
  let held: { id: number; start: number; last: number; dragging: boolean } | null = null;
  const down = (event: PointerEvent): void => {
    if (!event.isPrimary || event.button !== 0) return;
    held = { id: event.pointerId, start: event.clientX, last: event.clientX, dragging: false };
    hand.hover(event.clientX);
  };
  const move = (event: PointerEvent): void => {
    if (held?.id !== event.pointerId) {
      if (event.pointerType === "mouse") hand.hover(event.clientX);
      return;
    }
    if (!held.dragging && Math.abs(event.clientX - held.start) < STEADY_PX) return;
    if (!held.dragging) {
      held.dragging = true;
      node.setPointerCapture(event.pointerId);
      node.classList.add("dragging");
    }
    hand.drag(event.clientX - held.last);
    held.last = event.clientX;
  };
  const up = (): void => {
    held = null;
    node.classList.remove("dragging");
  };
  const all: [string, (event: PointerEvent) => void][] = [
    ["pointerdown", down],
    ["pointermove", move],
    ["pointerup", up],
    ["pointercancel", up],
  ];
  for (const [name, listener] of all) node.addEventListener(name, listener as EventListener);
  return () => {
    for (const [name, listener] of all) node.removeEventListener(name, listener as EventListener);
  };
}
