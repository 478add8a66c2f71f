/** Requests that come faster than they are answered. */

const PAUSE_MS = 120;

/** The last one counts, those before it are dropped: for what is shown once the reader comes to rest. */
export class Latest<T> {
  private timer: ReturnType<typeof setTimeout> | undefined;
  private stop: AbortController | null = null;

  constructor(
    private readonly take: (result: T) => void,
    private readonly fail: (why: unknown) => void,
    private readonly pause_ms = PAUSE_MS,
  ) {}

  /** Asks after a pause without further calls. */
  ask(question: (signal: AbortSignal) => Promise<T>): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.run(question), this.pause_ms);
  }

  end(): void {
    clearTimeout(this.timer);
    this.stop?.abort();
  }

  private async run(question: (signal: AbortSignal) => Promise<T>): Promise<void> {
    this.stop?.abort();
    const stop = new AbortController();
    this.stop = stop;
    try {
      const result = await question(stop.signal);
      if (!stop.signal.aborted) this.take(result);
    } catch (why) {
      if (!stop.signal.aborted) this.fail(why);
    }
  }
}

/** Between the starts of two questions, at least. */
const GAP_MS = 120;
/** An answer that takes longer is told to be under way. */
const SLOW_MS = 300;

/** One is under way at a time and its answer counts, then the newest is asked: for what is shown while the reader moves. */
export class Steady<T> {
  private readonly stop = new AbortController();
  private next: ((signal: AbortSignal) => Promise<T>) | null = null;
  private busy = false;
  private started = -Infinity;
  private timers: ReturnType<typeof setTimeout>[] = [];

  constructor(
    private readonly take: (result: T) => void,
    private readonly fail: (why: unknown) => void,
    /** Told when an answer is slow, and when it has come. */
    private readonly slow: (is: boolean) => void,
  ) {}

  ask(question: (signal: AbortSignal) => Promise<T>): void {
    const waits = this.next !== null;
    this.next = question;
    if (!this.busy && !waits) this.soon();
  }

  end(): void {
    this.timers.forEach((timer) => clearTimeout(timer));
    this.stop.abort();
  }

  private soon(): void {
    this.timers = [setTimeout(() => void this.run(), Math.max(0, this.started + GAP_MS - performance.now()))];
  }

  private async run(): Promise<void> {
    const question = this.next!;
    this.next = null;
    this.busy = true;
    this.started = performance.now();
    const slow = setTimeout(() => this.slow(true), SLOW_MS);
    this.timers.push(slow);
    try {
      const result = await question(this.stop.signal);
      if (!this.stop.signal.aborted) this.take(result);
    } catch (why) {
      if (!this.stop.signal.aborted) this.fail(why);
    }
    clearTimeout(slow);
    this.busy = false;
    if (this.stop.signal.aborted) return;
    this.slow(false);
    if (this.next) this.soon();
  }
}
