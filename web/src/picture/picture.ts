/** The past-now-ahead picture as a part of the page: canvas, cursor and the words for those who don't see it. */
import type { Bank, History, Now, Outlook } from "../api";
import { el, onResize, rem, setAttribute, setText } from "../dom";
import { clock, current, dayAndClock, joined, percent } from "../format";
import { colours, onPalette } from "../palette";
import { clockRange, when } from "../range";
import { words } from "../words";
import { draw } from "./draw";
import { dragged } from "./drag";
import { fanAt, HOUR_MS, linear, nearest, PAST_MS, reach } from "./frame";
import { scene, type Scene } from "./scene";

export class Picture {
  readonly node: HTMLElement;
  private readonly canvas = el("canvas", { role: "img" });
  private readonly hair = el("div", { class: "hair", hidden: true });
  private readonly readout = el("output", { class: "readout", hidden: true });
  private readonly nowWord = el("span", { class: "now-word", "aria-hidden": "true", hidden: true }, words.picture.now);
  private readonly ends: (() => void)[];
  private past: History | null = null;
  /** What lies further back, while the span is moved there. */
  private further: History | null = null;
  private now: Now | null = null;
  private supposed: Outlook | null = null;
  private present = 0;
  private old = false;
  private stands = false;
  private reach: number | null = null;
  private drawn: Scene | null = null;
  /** How far the span is moved into the past, milliseconds. */
  private shift = 0;
  /** Cursor as a share of the plot's width; null when away. */
  private cursor: number | null = null;

  constructor(
    private readonly bank: Bank,
    private readonly zone: string,
    /** Told of each move of the span into the past, milliseconds, with the span's ends. */
    private readonly moved: (shift: number, from: number, to: number) => void,
  ) {
    this.node = el(
      "div",
      { class: "picture", tabindex: "0", role: "group", "aria-label": `${words.picture.section}. ${words.picture.hint}` },
      this.canvas,
      this.nowWord,
      this.hair,
      this.readout,
    );
    this.node.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && this.move(null));
    this.node.addEventListener("blur", () => this.move(null));
    this.node.addEventListener("keydown", (event) => this.key(event));
    this.ends = [
      dragged(this.node, {
        hover: (x) => this.point(x),
        drag: (by) => this.pan(by),
      }),
      onResize(this.node, () => this.draw()),
      onPalette(() => this.draw()),
    ];
    void document.fonts.ready.then(() => this.draw());
  }

  setPast(past: History): void {
    this.past = past;
    this.draw();
  }

  setFurther(past: History): void {
    this.further = past;
    this.draw();
  }

  /** `stands`: the present is that of the daemon's last word, and not now. */
  setNow(now: Now, present: number, old: boolean, stands: boolean): void {
    this.now = now;
    this.old = old;
    this.stands = stands;
    this.present = present;
    this.reach = reach(this.shown()!, this.reach);
    this.draw();
  }

  /** Draws where it would go in place of where it goes; null goes back. */
  setSupposed(outlook: Outlook | null): void {
    this.supposed = outlook;
    if (this.now) this.setNow(this.now, this.present, this.old, this.stands);
  }

  /** Moves the span into the past by milliseconds, as far as anything is recorded; negative towards the present. */
  shiftBy(ms: number): void {
    const first = this.bank.first_time ? Date.parse(this.bank.first_time) : this.present - PAST_MS;
    const most = Math.max(0, this.present - PAST_MS - first + HOUR_MS);
    const shift = Math.min(Math.max(this.shift + ms, 0), most);
    if (shift === this.shift) return;
    this.shift = shift;
    if (shift === 0) this.further = null;
    this.draw();
    if (this.drawn) this.moved(shift, this.drawn.from, Math.min(this.drawn.to, this.present));
  }

  end(): void {
    for (const end of this.ends) end();
  }

  /** The present with the outlook that is drawn. */
  private shown(): Now | null {
    return this.now && this.supposed ? { ...this.now, ...this.supposed, mean_current_a: this.supposed.current_a } : this.now;
  }

  private draw(): void {
    const { width, height } = this.node.getBoundingClientRect();
    const now = this.shown();
    if (!now || this.reach === null || width < 40 || height < 40) return;
    const ratio = devicePixelRatio;
    const [w, h] = [Math.round(width * ratio), Math.round(height * ratio)];
    if (this.canvas.width !== w || this.canvas.height !== h) {
      this.canvas.width = w;
      this.canvas.height = h;
    }
    const ctx = this.canvas.getContext("2d")!;
    ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
    const { past, further, present, old, shift, zone } = this;
    const subject = { now, past: further ?? past, present, reach: this.reach, zone, old, shift, supposed: this.supposed !== null };
    this.drawn = scene(subject, width, height, rem());
    draw(ctx, this.drawn, now, colours(), rem(), this.zone);
    this.nowWord.hidden = !this.drawn.here;
    setText(this.nowWord, this.stands ? clock(this.present, this.zone) : words.picture.now);
    this.nowWord.style.left = `${this.drawn.x(this.present)}px`;
    setAttribute(this.canvas, "aria-label", this.says(now));
    this.showCursor();
  }

  /** What the picture shows, in words and numbers. */
  private says(now: Now): string {
    const mean = (this.past?.channels["soc"]?.mean ?? []).filter((v): v is number => v !== null);
    if (now.soc === null || mean.length === 0) return words.picture.saysNothing;
    const band = words.picture.band(joined(percent(now.soc_low ?? now.soc)), joined(percent(now.soc_high ?? now.soc)));
    const [low, high] = [joined(percent(Math.min(...mean))), joined(percent(Math.max(...mean)))];
    const soc = joined(percent(now.soc));
    if (this.old) {
      const last = now.time === null ? "" : when(Date.parse(now.time), this.stands ? Date.now() : this.present, this.zone);
      return words.picture.saysOld(this.bank.title, low, high, soc, band, last);
    }
    const said = [words.picture.says(this.bank.title, low, high, soc, band)];
    const range = (low: number, high: number): string => clockRange(this.present, low, high, this.zone);
    if (this.supposed) said.push(words.picture.saysSupposed(joined(current(this.supposed.current_a, true))));
    if (now.full_low_s !== null && now.full_high_s !== null) {
      said.push(words.picture.saysFull(range(now.full_low_s, now.full_high_s)));
    } else if (now.reserve_low_s && now.reserve_high_s) {
      said.push(words.picture.saysReserve(range(now.reserve_low_s, now.reserve_high_s)));
    }
    return said.join(" ");
  }

  /** Puts the cursor at a client pixel. */
  private point(clientX: number): void {
    if (!this.drawn) return;
    const { left, right } = this.drawn.frame;
    const x = clientX - this.node.getBoundingClientRect().left;
    this.move(Math.min(Math.max((x - left) / (right - left), 0), 1));
  }

  /** Moves the span with the hand, by pixels. */
  private pan(pixels: number): void {
    if (!this.drawn) return;
    const { frame, from, to } = this.drawn;
    this.cursor = null;
    this.shiftBy((pixels / (frame.right - frame.left)) * (to - from));
  }

  private key(event: KeyboardEvent): void {
    const leap = { PageUp: PAST_MS / 2, PageDown: -PAST_MS / 2, End: -Infinity }[event.key];
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (event.key === "Escape") this.move(null);
    if ((!step && !leap) || !this.drawn) return;
    event.preventDefault();
    if (leap) return this.shiftBy(leap);
    const { from, to, present } = this.drawn;
    const start = this.cursor ?? Math.min((present - from) / (to - from), 1);
    this.move(Math.min(Math.max(start + step! * (event.shiftKey ? 0.05 : 0.01), 0), 1));
  }

  private move(cursor: number | null): void {
    this.cursor = cursor;
    this.showCursor();
  }

  private showCursor(): void {
    const away = this.cursor === null || !this.drawn;
    this.hair.hidden = away;
    this.readout.hidden = away;
    this.nowWord.style.visibility = "visible";
    if (this.cursor === null || !this.drawn) return;
    const { frame, from, to, present } = this.drawn;
    const x = linear(0, 1, frame.left, frame.right)(this.cursor);
    const at = from + this.cursor * (to - from);
    this.hair.style.left = `${x}px`;
    this.hair.style.top = `${frame.top}px`;
    this.hair.style.height = `${frame.stripBottom - frame.top}px`;
    setText(this.readout, `${dayAndClock(at, this.zone, present)}   ${at <= present ? this.pastAt(at) : this.aheadAt(at)}`);
    const w = this.readout.offsetWidth;
    const left = Math.min(Math.max(x - w / 2, 0), frame.width - w);
    this.readout.style.left = `${left}px`;
    const word = this.drawn.x(present);
    const half = this.nowWord.offsetWidth / 2 + 6;
    if (word + half > left && word - half < left + w) this.nowWord.style.visibility = "hidden";
  }

  private pastAt(at: number): string {
    const past = this.further ?? this.past;
    const i = past ? nearest(past.time_ms, at) : -1;
    const soc = past?.channels["soc"];
    const mean = soc?.mean[i];
    if (!past || i < 0 || mean === null || mean === undefined || Math.abs(past.time_ms[i]! - at) > 2 * past.step_ms + 60_000) {
      return words.picture.gap;
    }
    const flow = past.channels["current_a"]?.mean[i];
    return [
      charge(mean, soc?.low?.[i] ?? mean, soc?.high?.[i] ?? mean),
      ...(flow === null || flow === undefined ? [] : [joined(current(flow, true))]),
    ].join("   ");
  }

  private aheadAt(at: number): string {
    const point = this.old ? null : fanAt(this.shown()!.ahead, (at - this.present) / 1000);
    return point ? `${words.picture.ahead} ${charge(point.soc, point.soc_low, point.soc_high)}` : words.picture.ahead;
  }
}

function charge(soc: number, low: number, high: number): string {
  return `${joined(percent(soc))} (${percent(low).value}\u2013${percent(high).value})`;
}
