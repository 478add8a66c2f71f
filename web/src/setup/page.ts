/** The Set-up page: what the bank is said to be and what it turned out to be, devices, hand orders, files, choices, care. */
import { api, type Daemon, type Description, type Device } from "../api";
import { el, setText } from "../dom";
import { every } from "../every";
import { present } from "../live";
import type { Context } from "../main";
import { Orders } from "../now/orders";
import { reason } from "../now/terms";
import { words } from "../words";
import { BankSection } from "./bank";
import { choicesSection } from "./choices";
import { DaemonSection } from "./daemon";
import { DevicesSection } from "./devices";
import { FilesSection } from "./files";

/** Devices are shown live. */
const EVERY_MS = 2000;

export function mountSetup(main: HTMLElement, { boat, bank, live }: Context): () => void {
  const at = (): number => present(live.heard.get(bank.name));
  const described = new BankSection(boat.zone);
  const devices = new DevicesSection(boat.banks);
  const orders = new Orders(bank);
  const files = new FilesSection();
  const daemon = new DaemonSection(boat.zone);
  const trouble = el("p", { class: "trouble", role: "status" });
  const left = el("div", {}, careSection());
  const changes = el("p", { class: "sub" });
  orders.node.querySelector("h2")!.after(changes);
  const right = el("div", {}, orders.node, files.node, choicesSection(), daemon.node);
  const page = el("div", { class: "set-up" }, left, right, devices.node);
  main.append(trouble);

  const showNow = (): void => {
    const now = live.heard.get(bank.name)?.now;
    if (!now) return;
    described.showNow(now, at());
    orders.show(now);
  };
  const show = (all: [Description, { devices: Device[] }, Daemon]): void => {
    described.show(all[0]);
    devices.show(all[1].devices);
    daemon.show(all[2], at());
    files.show(all[2]);
    setText(trouble, "");
    if (!described.node.isConnected) left.append(described.node);
    showNow();
  };
  /** What the configuration says stays as it is while the daemon runs. */
  let description: Description | null = null;
  // The sections come all at once, with what they hold, so that none moves another.
  const arrive = (): void => void (page.isConnected || main.append(page));
  const kept = every(
    EVERY_MS,
    async (signal) => {
      const all = await Promise.all([description ?? api.description(bank.name, signal), api.devices(signal), api.daemon(signal)]);
      description = all[0];
      show(all);
      arrive();
    },
    (why) => {
      setText(trouble, words.setup.failed(reason(why)));
      arrive();
    },
  );
  // Asked once: a kept PIN that has become wrong would count as a wrong try each time.
  void api
    .permit()
    .then(({ needs }) => setText(changes, words.setup.changes[needs ?? "may"]))
    .catch((why: unknown) => setText(changes, reason(why)));
  const unheard = live.onChange((changed) => (changed === null || changed === bank.name) && showNow());
  return () => {
    kept.end();
    unheard();
  };
}

/** What to mind, open and first: whoever sets up works on the bank. */
function careSection(): HTMLElement {
  return el("section", { class: "minding" }, el("h2", {}, words.care.name), el("p", {}, el("b", {}, words.care.only)), ...words.care.text.map((text) => el("p", {}, text)));
}
