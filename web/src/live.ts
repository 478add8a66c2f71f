/** What the daemon says now, as it says it: one stream for all banks, and a question of our own where the stream is quiet. */
import { api, type Now, type Notice } from "./api";

export type Link = "joining" | "up" | "away";

export interface Heard {
  now: Now;
  /** performance.now() when it came. */
  at: number;
}

/** Nothing for this long: ask each bank directly, which also tells whether the daemon is there at all. */
const QUIET_MS = 5000;
/** A computer that was switched off answers nothing at all, not even a refusal. */
const PATIENCE_MS = 4000;

export class Live {
  readonly heard: Map<string, Heard>;
  link: Link = "joining";
  private source: EventSource | null = null;
  private lastAt = performance.now();
  private readonly listeners = new Set<(bank: string | null) => void>();
  private readonly noticed = new Set<(notice: Notice) => void>();

  /** `last`: what was heard on an earlier visit. */
  constructor(
    private readonly banks: string[],
    last = new Map<string, Heard>(),
  ) {
    this.heard = last;
  }

  start(): void {
    this.open();
    for (const bank of this.banks) void this.ask(bank);
    setInterval(() => this.watch(), 1000);
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") for (const bank of this.banks) void this.ask(bank);
    });
  }

  /** Called with the bank that has news, or null where only time has passed or the link has changed. */
  onChange(listener: (bank: string | null) => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  onNotice(listener: (notice: Notice) => void): () => void {
    this.noticed.add(listener);
    return () => this.noticed.delete(listener);
  }

  private open(): void {
    this.source?.close();
    const source = new EventSource("/api/v1/live");
    source.addEventListener("now", (event) => this.take(JSON.parse(event.data as string) as Now));
    source.addEventListener("notice", (event) => {
      const notice = JSON.parse(event.data as string) as Notice;
      for (const listener of this.noticed) listener(notice);
    });
    this.source = source;
  }

  private take(now: Now): void {
    this.lastAt = performance.now();
    this.link = "up";
    this.heard.set(now.bank, { now, at: this.lastAt });
    this.tell(now.bank);
  }

  private async ask(bank: string): Promise<void> {
    try {
      const now = await api.now(bank, AbortSignal.timeout(PATIENCE_MS));
      // The stream may hang on a connection that died with the daemon.
      if (this.link === "away") this.open();
      this.take(now);
    } catch {
      if (this.link !== "away") {
        this.link = "away";
        this.tell(null);
      }
    }
  }

  private watch(): void {
    // A stream that was refused (not merely cut) isn't reopened by the browser.
    if (this.source?.readyState === EventSource.CLOSED) this.open();
    if (performance.now() - this.lastAt > QUIET_MS) {
      this.lastAt = performance.now();
      for (const bank of this.banks) void this.ask(bank);
    }
    this.tell(null);
  }

  private tell(bank: string | null): void {
    for (const listener of this.listeners) listener(bank);
  }
}

/** Whether times that are shown already may have moved with what a notice tells. */
export const setsClock = (notice: Notice): boolean => notice.kind.startsWith("clock-set");

/** Seconds since the sample was taken; null before the first. */
export function age(heard: Heard): number | null {
  return heard.now.age_s === null ? null : heard.now.age_s + (performance.now() - heard.at) / 1000;
}

/** The daemon's present when it last spoke, UTC milliseconds; null before the first sample. */
export const spoken = ({ now }: Heard): number | null => (now.time === null ? null : Date.parse(now.time) + 1000 * (now.age_s ?? 0));

/** The daemon's present in UTC milliseconds, reckoned on from its last word; this device's own clock only before the first sample. */
export function present(heard: Heard | undefined): number {
  const old = heard && age(heard);
  return heard?.now.time && old !== null && old !== undefined ? Date.parse(heard.now.time) + old * 1000 : Date.now();
}
