/** The time, stated by the reader where the daemon's computer cannot know it. Asked back before it is done. */
import { api, type Now } from "../api";
import { el, setText } from "../dom";
import { dayAndClock } from "../format";
import { words } from "../words";
import { civil, moment } from "../zone";
import { Asking, type Order } from "./asking";

/** What a field for date and time shows at a moment: "2026-11-25T10:00". */
export function fieldText(ms: number, zone: string): string {
  const { year, month, day, hour, minute } = civil(ms, zone);
  const two = (value: number): string => String(value).padStart(2, "0");
  return `${String(year).padStart(4, "0")}-${two(month)}-${two(day)}T${two(hour)}:${two(minute)}`;
}

/** The moment that such a field names; null if it names none. */
export function fieldMoment(text: string, zone: string): number | null {
  const parts = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2})/.exec(text);
  if (!parts) return null;
  const [year, month, day, hour, minute] = parts.slice(1).map(Number) as [number, number, number, number, number];
  return moment(Date.UTC(year, month - 1, day, hour, minute), zone);
}

export class ClockSection {
  readonly node = el("section", { class: "set-clock", hidden: true });
  private readonly asking = new Asking();
  private readonly device = el("span", { class: "sub" });
  private readonly field: HTMLInputElement;
  private readonly form: HTMLElement;
  private readonly parts: readonly HTMLElement[];

  constructor(private readonly zone: string) {
    const { clock } = words;
    this.field = el("input", { type: "datetime-local", class: "amount", "aria-label": clock.field(zone) });
    const here = el("button", { type: "button", class: "order" }, clock.here);
    here.addEventListener("click", () => this.asking.ask(this.order(Date.now(), () => Date.now()), here));
    this.form = el(
      "form",
      {
        novalidate: true,
        onsubmit: (event) => {
          event.preventDefault();
          this.stated((event as SubmitEvent).submitter);
        },
      },
      el("p", {}, here, " ", this.device),
      el("p", {}, `${clock.other} ${zone}: `, this.field, " ", el("button", { type: "submit", class: "order" }, clock.say)),
    );
    this.parts = [el("h2", {}, clock.name), this.form, ...this.asking.nodes];
  }

  /** Shown while the clock cannot be believed, and until what came of setting it has been read. */
  show(now: Now): void {
    const here = Date.now();
    setText(this.device, words.clock.hereIs(dayAndClock(here, this.zone, here)));
    if (this.field.value === "") this.field.value = fieldText(here, this.zone);
    this.form.hidden = now.time_trusted;
    const shown = !now.time_trusted || this.asking.open;
    if (shown && this.node.hidden) this.node.append(...this.parts);
    if (!shown) this.node.replaceChildren();
    this.node.hidden = !shown;
  }

  private stated(from: HTMLElement | null): void {
    const at = fieldMoment(this.field.value, this.zone);
    if (at === null) return this.asking.refuse(words.clock.bad);
    this.asking.ask(this.order(at, () => at), from);
  }

  /** `at` is what is asked back, `then` the time when it is sent: this device's clock runs on meanwhile. */
  private order(at: number, then: () => number): Order {
    return {
      ask: words.clock.ask(dayAndClock(at, this.zone, Date.now()), this.zone),
      act: words.clock.act,
      send: () => api.clock(then(), false),
      insist: () => api.clock(then(), true),
    };
  }
}
