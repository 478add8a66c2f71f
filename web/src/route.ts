/** Addresses: `/` and one path for each further page; the bank, History's span and the passage in the query. */

export const PAGES = ["now", "history", "passages", "health", "setup"] as const;
export type Page = (typeof PAGES)[number];

export interface Route {
  page: Page;
  query: URLSearchParams;
}

export const path = (page: Page): string => (page === "now" ? "/" : `/${page}`);

export function read(url: URL): Route {
  return { page: PAGES.find((page) => path(page) === url.pathname) ?? "now", query: url.searchParams };
}

export function address(page: Page, query: Record<string, string | null>): string {
  const kept = new URLSearchParams();
  for (const [key, value] of Object.entries(query)) if (value !== null) kept.set(key, value);
  const text = kept.toString().replaceAll("%3A", ":");
  return `${path(page)}${text && `?${text}`}`;
}
