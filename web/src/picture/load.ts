/** Keeps the picture's past day fresh. */
import { api, type History } from "../api";
import type { Kept } from "../every";
import { PAST_MS } from "./frame";

const EVERY_MS = 60_000;
const RETRY_MS = 5_000;

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
          { from_ms: to_ms - PAST_MS, to_ms, points: 720, channels: ["current_a", "temperature_c", "soc"] },
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
