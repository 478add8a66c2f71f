/** The passages in view, asked for where those at hand do not reach, and again now and then. */
import { record, type Passage } from "../record";
import { Latest } from "./load";
import type { Part } from "./stack";

const MOST = 500;
const PAUSE_MS = 250;
/** A passage that has ended is found within the hour: it need not be looked for at once. */
const EVERY_MS = 10 * 60_000;

export class Passing {
  private readonly answers: Latest<{ passages: Passage[] }>;
  private at = -Infinity;
  private reach: Part = { from: 0, to: 0 };

  constructor(
    private readonly bank: string,
    take: (passages: Passage[]) => void,
  ) {
    // Without them the charts are whole: the next look asks again.
    this.answers = new Latest(({ passages }) => take(passages), () => (this.at = -Infinity), PAUSE_MS);
  }

  show(span: Part, present: number): void {
    const within = span.from >= this.reach.from && span.to <= this.reach.to;
    if (within && present - this.at < EVERY_MS) return;
    const width = span.to - span.from;
    this.reach = { from: span.from - width, to: span.to + width };
    this.at = present;
    const ask = { from: Math.max(0, this.reach.from), to: this.reach.to, limit: MOST };
    this.answers.ask((signal) => record.passages(this.bank, ask, signal));
  }

  end(): void {
    this.answers.end();
  }
}
