/** The few lines of DOM building that this page needs. */

type Child = Node | string | null | undefined | false;
type Props = Record<string, string | boolean | EventListener | undefined>;

/** An element with attributes (`class`, `href`, `aria-label`), listeners (`onclick`) and children. */
export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  props: Props = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const node = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (typeof value === "function") node.addEventListener(key.slice(2), value);
    else if (value === true) node.setAttribute(key, "");
    else if (typeof value === "string") node.setAttribute(key, value);
  }
  node.append(...children.filter((child): child is Node | string => Boolean(child)));
  return node;
}

/** A link within the page; with a modifier key held it is the browser's. */
export function inner(props: Props & { href: string }, go: () => void, ...children: Child[]): HTMLAnchorElement {
  const onclick = (event: Event): void => {
    const mouse = event as MouseEvent;
    if (mouse.ctrlKey || mouse.metaKey || mouse.shiftKey) return;
    event.preventDefault();
    go();
  };
  return el("a", { ...props, onclick }, ...children);
}

/** Sets text only where it differs, so that nothing is announced or laid out in vain. */
export function setText(node: Node, text: string): void {
  if (node.textContent !== text) node.textContent = text;
}

export function setAttribute(node: Element, name: string, value: string): void {
  if (node.getAttribute(name) !== value) node.setAttribute(name, value);
}

/** Runs `draw` when the element's size changes. Returns the function that ends it. */
export function onResize(node: Element, draw: () => void): () => void {
  const observer = new ResizeObserver(() => draw());
  observer.observe(node);
  return () => observer.disconnect();
}

/** The root font size in pixels: what the reader's text zoom makes of a rem. */
export const rem = (): number => Number.parseFloat(getComputedStyle(document.documentElement).fontSize) || 16;
