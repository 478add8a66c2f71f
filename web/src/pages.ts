/** What fills each page. Now comes with the first program, so that its picture is soon there; the pages with charts are fetched after it. */
import type { Context } from "./main";
import { mountNow } from "./now/page";
import type { Page } from "./route";

/** Fills the main element, and hands back what ends it. */
export type Mount = (main: HTMLElement, context: Context) => () => void;

let charted: Record<Exclude<Page, "now">, Mount> | null = null;

/** The page, where its program is here already. */
export const mountOf = (page: Page): Mount | undefined => (page === "now" ? mountNow : charted?.[page]);

export async function fetchPage(page: Page): Promise<Mount> {
  if (page === "now") return mountNow;
  charted ??= await import("./charted");
  return charted[page];
}

/** Fetches the rest once the first page has nothing else to do: then no page waits, nor is lacking where the daemon has gone. */
export function fetchAhead(): void {
  const fetchRest = (): void => void fetchPage("history").catch(() => undefined);
  // Not every browser tells when it is idle.
  if ("requestIdleCallback" in window) requestIdleCallback(fetchRest, { timeout: 10_000 });
  else setTimeout(fetchRest, 3000);
}
