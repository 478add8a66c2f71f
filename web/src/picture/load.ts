/** Keeps the picture's past day fresh. */
import { api, type History } from "../api";
import type { Kept } from "../every";
import { Latest } from "../history/load";
import { PAST_MS } from "./frame";

const EVERY_MS = 60_000;
const RETRY_MS = 5_000;
const POINTS = 720;
const CHANNELS = ["current_a", "temperature_c", "soc"];

/** Asks for the past day now and every minute; hands over what comes. */
export function keepPast(bank: string, present: () => number, take: (past: History) => void): Kept {
  const stop = new AbortController();
  let timer: ReturnType<typeof setTimeout> | undefined;
  const ask = async (): Promise<void> => {
    let next = EVERY_MS;
    try {
      const to_ms = present();
      take(
        await api.history(
          bank,
          { from_ms: to_ms - PAST_MS, to_ms, points: POINTS, channels: CHANNELS },
          stop.signal,
        ),
      );
    } catch {
      next = RETRY_MS;
    }
    if (!stop.signal.aborted) timer = setTimeout(() => void ask(), next);
  };
  const again = (): void => {
    clearTimeout(timer);
    void ask();
  };
  again();
  return {
    again,
    end: () => {
      stop.abort();
      clearTimeout(timer);
    },
  };
}

/** The past beyond the last day, asked for as the span is moved there. */
export class FurtherPast {
  private readonly answers: Latest<History>;

  constructor(
    private readonly bank: string,
    take: (past: History) => void,
  ) {
    // What could not be read is asked for again with the next move.
    this.answers = new Latest(take, () => undefined, 40);
  }

  ask(from: number, to: number): void {
    // Half a span more on either side, so that the hand does not run into white.
    const margin = (to - from) / 2;
    this.answers.ask((signal) => api.history(this.bank, { from_ms: from - margin, to_ms: to + margin, points: 2 * POINTS, channels: CHANNELS }, signal));
  }

  end(): void {
    this.answers.end();
  }
}
