/** Requests that come faster than they are answered: the last one counts, the ones before are dropped. */

const PAUSE_MS = 120;

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
