/** Lines of charge as small drawings of the page itself: their colours are the palette's, so that a change of light needs no new drawing. */
import type { Drawn, Lines } from "./lines";
import type { Passage } from "../record";
import type { Reader } from "./said";
import { paths } from "./trace";

/** A shape in a drawing. */
export function shape(tag: string, attributes: Record<string, string>): SVGElement {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  return node;
}

/** Empty water from full down to empty, with its shoal below the reserve; 100 wide and high, and stretched to its place. */
export function water(kind: string, reserve: number): SVGElement {
  const node = shape("svg", { class: kind, viewBox: "0 0 100 100", preserveAspectRatio: "none", "aria-hidden": "true" });
  const shore = String(100 - 100 * reserve);
  node.append(
    shape("rect", { class: "deep", x: "0", y: "0", width: "100", height: "100" }),
    shape("rect", { class: "shoal", x: "0", y: shore, width: "100", height: String(100 * reserve) }),
    shape("path", { class: "shore", d: `M0 ${shore}H100` }),
  );
  return node;
}

/** A line over its own length. */
function fill(node: SVGElement, { line, length }: Drawn): void {
  const { trace, band } = paths(line, length);
  node.append(shape("path", { class: "band", d: band }), shape("path", { class: "line", d: trace }));
}

/** Small traces for a list, each asked for when it comes near the window. */
export class Traces {
  private readonly awaited = new Map<Element, () => void>();
  private readonly watch = new IntersectionObserver(
    (entries) => {
      for (const { isIntersecting, target } of entries) {
        if (!isIntersecting) continue;
        this.watch.unobserve(target);
        this.awaited.get(target)?.();
        this.awaited.delete(target);
      }
    },
    { rootMargin: "300px" },
  );

  constructor(
    private readonly lines: Lines,
    private readonly reserve: number,
  ) {}

  /** A trace that draws itself. */
  trace(passage: Passage, reader: Reader): SVGElement {
    const node = water("trace", this.reserve);
    this.awaited.set(node, () => this.lines.ask(passage, reader, (drawn) => fill(node, drawn)));
    this.watch.observe(node);
    return node;
  }

  /** Forgets the traces of a list that is drawn anew. */
  clear(): void {
    this.watch.disconnect();
    this.awaited.clear();
  }
}
