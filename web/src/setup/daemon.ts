/** The daemon itself: clock, store, version and licence. */
import type { Daemon } from "../api";
import { el } from "../dom";
import { bytes, dayAndClock, number } from "../format";
import { duration } from "../range";
import { factList, type Fact } from "../tables";
import { words } from "../words";

/** What is to be known of it. Pure. */
export function daemonFacts(daemon: Daemon, present: number, zone: string): Fact[] {
  const w = words.setup.daemon;
  const { clock, store } = daemon;
  const minded = (fact: Fact, mind: boolean): Fact => (mind ? { ...fact, class: "minded" } : fact);
  return [
    minded({ name: w.clock, text: w.trust[clock.trust], more: dayAndClock(present, zone, present) }, !clock.trusted),
    minded({ name: w.store, text: bytes(store.bytes), more: store.trouble ?? w.storeWell }, store.trouble !== null),
    { name: w.waiting, text: number(store.waiting, 0), more: w.waitingMore(duration(store.longest_wait_s)) },
    ...(store.thinned + store.lost > 0
      ? [minded({ name: w.lost, text: number(store.lost, 0), more: store.thinned > 0 ? w.thinned(number(store.thinned, 0)) : "" }, true)]
      : []),
    { name: w.up, text: duration(daemon.uptime_s) },
    { name: w.version, text: `${words.app} ${daemon.version}` },
    { name: w.licence, text: daemon.licence, more: w.licenceMore },
  ];
}

export class DaemonSection {
  readonly node = el("section", { class: "daemon" });
  private readonly facts = el("div");

  constructor(private readonly zone: string) {
    this.node.append(el("h2", {}, words.setup.daemon.name), this.facts);
  }

  show(daemon: Daemon, present: number): void {
    this.facts.replaceChildren(factList(daemonFacts(daemon, present, this.zone)));
  }
}
