/** Fixes and events as small marks above the charts; pointing at one says what it is. */
import type { Mark } from "../api";
import { el, setText } from "../dom";
import { dayAndClock } from "../format";
import { words } from "../words";
import { said } from "../words/said";

const NEAR_PX = 13;
const TOLD = 3;

export interface Cluster {
  x: number;
  marks: Mark[];
}

/** Marks that would cover each other become one; a fix gives the cluster its look. */
export function clusters(marks: Mark[], x: (ms: number) => number, width: number): Cluster[] {
  const found: Cluster[] = [];
  for (const mark of [...marks].sort((a, b) => a.time_ms - b.time_ms)) {
    const at = x(mark.time_ms);
    if (at < 0 || at > width) continue;
    const last = found.at(-1);
    if (last && at - last.x < NEAR_PX) last.marks.push(mark);
    else found.push({ x: at, marks: [mark] });
  }
  return found;
}

export class MarkRow {
  readonly node = el("div", { class: "marks", role: "group", "aria-label": words.history.marks });
  private readonly note = el("output", { class: "mark-note", hidden: true });

  constructor(private readonly zone: string) {}

  show(marks: Mark[], x: (ms: number) => number, left: number, width: number, near: number): void {
    const buttons = clusters(marks, x, width).map((cluster) => {
      const text = this.text(cluster, near);
      const kind = cluster.marks.some((mark) => mark.kind === "fix") ? "fix" : "event";
      const button = el("button", { type: "button", class: `mark ${kind}`, "aria-label": text });
      button.style.left = `${left + cluster.x}px`;
      const say = (): void => {
        this.note.hidden = false;
        setText(this.note, text);
        const room = this.node.clientWidth;
        const w = this.note.offsetWidth;
        this.note.style.left = `${Math.min(Math.max(left + cluster.x - w / 2, 0), room - w)}px`;
      };
      const hush = (): void => void (this.note.hidden = true);
      for (const name of ["pointerenter", "focus", "click"]) button.addEventListener(name, say);
      for (const name of ["pointerleave", "blur"]) button.addEventListener(name, hush);
      return button;
    });
    this.note.hidden = true;
    this.node.replaceChildren(...buttons, this.note);
  }

  private text({ marks }: Cluster, near: number): string {
    const told = marks.slice(0, TOLD).map((mark) => {
      const text = mark.text && mark.text !== mark.title ? `: ${said(mark.text)}` : "";
      return `${dayAndClock(mark.time_ms, this.zone, near)} ${said(mark.title)}${text}`;
    });
    const more = marks.length - told.length;
    return told.join("\n") + (more > 0 ? `\n${words.history.more(String(more))}` : "");
  }
}
