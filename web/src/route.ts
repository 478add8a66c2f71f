/** Addresses: `/` and `/history`, the bank and History's span in the query. */

export type Page = "now" | "history";

export interface Route {
  page: Page;
  query: URLSearchParams;
}

export function read(url: URL): Route {
  return { page: url.pathname === "/history" ? "history" : "now", query: url.searchParams };
}

export function address(page: Page, query: Record<string, string | null>): string {
  const kept = new URLSearchParams();
  for (const [key, value] of Object.entries(query)) if (value !== null) kept.set(key, value);
  const text = kept.toString().replaceAll("%3A", ":");
  return `${page === "history" ? "/history" : "/"}${text && `?${text}`}`;
}
