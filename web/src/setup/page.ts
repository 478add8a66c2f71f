/** The Set-up page: what the bank is said to be and what it turned out to be, devices, hand orders, files, choices, care. */
import { api } from "../api";
import { el, setText } from "../dom";
import { every, type Kept } from "../every";
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

const DEVICES_EVERY_MS = 2000;
const DAEMON_EVERY_MS = 10_000;

export function mountSetup(main: HTMLElement, { boat, bank, live }: Context): () => void {
  const at = (): number => present(live.heard.get(bank.name));
  const described = new BankSection(boat.zone);
  const devices = new DevicesSection(boat.banks);
  const orders = new Orders(bank);
  const files = new FilesSection();
  const daemon = new DaemonSection(boat.zone);
  const trouble = el("p", { class: "trouble", role: "status" });
  main.append(
    trouble,
    el(
      "div",
      { class: "set-up" },
      careSection(),
      described.node,
      orders.node,
      files.node,
      choicesSection(),
      daemon.node,
      devices.node,
    ),
  );

  const show = (): void => {
    const now = live.heard.get(bank.name)?.now;
    if (!now) return;
    described.showNow(now, at());
    orders.show(now);
  };
  const fail = (why: unknown): void => setText(trouble, words.setup.failed(reason(why)));
  const heard = (): void => setText(trouble, "");
  const kept: Kept[] = [
    every(DAEMON_EVERY_MS, async (signal) => described.show(await api.description(bank.name, signal)), fail),
    every(
      DEVICES_EVERY_MS,
      async (signal) => {
        devices.show((await api.devices(signal)).devices);
        heard();
      },
      fail,
    ),
    every(DAEMON_EVERY_MS, async (signal) => {
      const told = await api.daemon(signal);
      daemon.show(told, at());
      files.show(told);
    }),
  ];
  const ends = [live.onChange((changed) => (changed === null || changed === bank.name) && show()), ...kept.map((each) => each.end)];
  show();
  return () => ends.forEach((end) => end());
}

/** What to mind, open and first: whoever sets up works on the bank. */
function careSection(): HTMLElement {
  return el("section", { class: "minding" }, el("h2", {}, words.care.name), el("p", {}, el("b", {}, words.care.only)), ...words.care.text.map((text) => el("p", {}, text)));
}
