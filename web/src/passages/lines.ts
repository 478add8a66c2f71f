/** Charge lines of many passages: asked for a few at a time, and kept for the next look. */
import { api } from "../api";
import type { Passage } from "../record";
import { spanOf, type Reader } from "./said";
import { lineIn, type Line } from "./trace";

/** Asked for at the same time: the boat's computer is small. */
const AT_ONCE = 3;
/** Lines kept; the oldest go first. */
const KEPT = 400;
const POINTS = 60;
/** A passage that goes on has a new line so often, ms. */
const FRESH_MS = 600_000;

/** A line and how long it is, ms. */
export interface Drawn {
  line: Line;
  length: number;
}

const kept = new Map<string, Drawn>();

export class Lines {
  private readonly waiting: (() => Promise<void>)[] = [];
  private readonly takers = new Map<string, ((drawn: Drawn) => void)[]>();
  private readonly stop = new AbortController();
  private running = 0;

  constructor(private readonly bank: string) {}

  end(): void {
    this.waiting.length = 0;
    this.stop.abort();
  }

  /** Hands over the line: at once where it is known, else when it comes. After a failure nothing comes; the next call asks anew. */
  ask(passage: Passage, reader: Reader, take: (drawn: Drawn) => void): void {
    const span = spanOf(passage, reader);
    if (!span) return;
    const { from } = span;
    const to = Math.max(from + 60_000, passage.going_on ? Math.floor(span.to / FRESH_MS) * FRESH_MS : span.to);
    // Reconciling changes a line whose ends stay.
    const key = [this.bank, from, to, passage.settled].join(" ");
    const known = kept.get(key);
    if (known) return take(known);
    const takers = this.takers.get(key);
    if (takers) return void takers.push(take);
    this.takers.set(key, [take]);
    this.waiting.push(async () => {
      try {
        const history = await api.history(this.bank, { from_ms: from, to_ms: to, points: POINTS, channels: ["soc"] }, this.stop.signal);
        const drawn = { line: lineIn(history, { from, to }), length: to - from };
        kept.set(key, drawn);
        if (kept.size > KEPT) kept.delete(kept.keys().next().value!);
        this.takers.get(key)?.forEach((each) => each(drawn));
      } finally {
        this.takers.delete(key);
      }
    });
    this.next();
  }

  private next(): void {
    const ask = this.running < AT_ONCE && this.waiting.shift();
    if (!ask) return;
    this.running += 1;
    const done = (): void => {
      this.running -= 1;
      this.next();
    };
    ask().then(done, done);
  }
}
