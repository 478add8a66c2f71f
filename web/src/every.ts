/** A question that is asked now and again while a page is shown. */

export interface Kept {
  /** Asks at once, as after the clock was set. */
  again: () => void;
  end: () => void;
}

/** Asks now and every `ms`. One that fails is told to `fail`, and asked again at the next turn. */
export function every(ms: number, ask: (signal: AbortSignal) => Promise<void>, fail: (why: unknown) => void = () => undefined): Kept {
  const stop = new AbortController();
  const again = (): void => void ask(stop.signal).catch((why: unknown) => stop.signal.aborted || fail(why));
  const timer = setInterval(again, ms);
  again();
  return {
    again,
    end: () => {
      clearInterval(timer);
      stop.abort();
    },
  };
}
