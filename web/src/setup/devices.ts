/** The devices: how each fares, what it says now, and what was wrong with its lines. */
import type { Bank, Device } from "../api";
import { el, setText } from "../dom";
import { joined, NONE, number, reading } from "../format";
import { channelTitle } from "../history/panels";
import { duration } from "../range";
import { factList, type Fact } from "../tables";
import { words } from "../words";
import { said } from "../words/said";

/** What was counted of a device since the daemon started, faults first to be seen. Pure. */
export function faults(device: Device): Fact[] {
  const w = words.setup.devices;
  const count = (name: string, n: number, more = ""): Fact[] => (n > 0 ? [{ name, text: number(n, 0), more, class: "minded" }] : []);
  const refused = device.channels.reduce((sum, each) => sum + each.unreadable + each.out_of_range, 0);
  const bad = device.bad_lines.reduce((sum, each) => sum + each.count, 0);
  const all = [
    ...count(w.bad, bad, device.bad_lines.map(({ reason, count: n }) => `${number(n, 0)} ${said(reason)}`).join(", ")),
    ...count(w.overlong, device.overlong),
    ...count(w.refused, refused, device.last_refused ?? ""),
    ...count(w.lost, device.lost),
    ...count(w.reopened, device.reopened),
  ];
  return [{ name: w.samples, text: number(device.samples, 0), more: w.ofLines(number(device.lines, 0)) }, ...(all.length ? all : [{ name: w.faults, text: w.none }])];
}

/** How it stands, in a few words. Pure. */
export function standing(device: Device): string {
  const w = words.setup.devices;
  const quiet = device.quiet_s === null ? "" : w.ago(duration(device.quiet_s));
  return [w.state[device.state], device.state === "live" ? "" : quiet, said(device.reason ?? "")].filter(Boolean).join(", ");
}

export class DevicesSection {
  readonly node = el("section", { class: "devices" });
  private readonly list = el("div", { class: "device-list" });
  private readonly shown = new Map<string, OneDevice>();

  constructor(private readonly banks: Bank[]) {
    this.node.append(el("h2", {}, words.setup.devices.name), this.list);
  }

  show(devices: Device[]): void {
    for (const device of devices) {
      const place = this.shown.get(device.name) ?? this.add(device);
      place.show(device);
    }
  }

  private add(device: Device): OneDevice {
    const title = this.banks.find(({ name }) => name === device.bank)?.title ?? device.bank;
    const place = new OneDevice(device, title);
    this.shown.set(device.name, place);
    this.list.append(place.node);
    return place;
  }
}

/** One device; its values change in their places. */
class OneDevice {
  readonly node: HTMLElement;
  private readonly state = el("span", { class: "state" });
  private readonly values: HTMLElement[];
  private readonly refused: HTMLElement[];
  private readonly counts = el("div");
  private readonly last = el("p", { class: "sub last-bad" });
  private told = "";

  constructor(device: Device, bank: string) {
    const w = words.setup.devices;
    this.values = device.channels.map(() => el("td", { class: "value" }));
    this.refused = device.channels.map(() => el("td", { class: "refused" }));
    const rows = device.channels.map((each, i) => el("tr", {}, el("th", { scope: "row" }, channelTitle(each.name), " ", el("code", { class: "sub" }, each.name)), this.values[i]!, this.refused[i]!));
    const heads = [w.channel, w.value, w.refusedValues].map((name) => el("th", { scope: "col" }, name));
    this.node = el(
      "article",
      { class: "device" },
      el("h3", {}, device.name, " ", this.state),
      el("p", { class: "sub" }, [bank, device.main ? w.main : w.beside].join(", ")),
      el("p", { class: "sub port" }, w.port(device.port, number(device.baud, 0), device.frame)),
      el("div", { class: "plain" }, el("table", {}, el("thead", {}, el("tr", {}, ...heads)), el("tbody", {}, ...rows))),
      this.counts,
      this.last,
    );
  }

  show(device: Device): void {
    setText(this.state, standing(device));
    this.node.classList.toggle("silent", device.state !== "live");
    device.channels.forEach((each, i) => {
      // A silent device has no values of now.
      const fresh = device.state === "live" && each.value !== null;
      setText(this.values[i]!, fresh ? joined(reading(each.value!, each.unit)) : NONE);
      const count = each.unreadable + each.out_of_range;
      setText(this.refused[i]!, count > 0 ? number(count, 0) : "");
    });
    setText(this.last, device.last_bad ? words.setup.devices.last(device.last_bad) : "");
    const facts = faults(device);
    const text = JSON.stringify(facts);
    if (text === this.told) return;
    this.told = text;
    this.counts.replaceChildren(factList(facts));
  }
}
