/** Capacity: its picture over the years, what follows from it, and each finding. */
import type uPlot from "uplot";
import { el, onResize, rem, setText } from "../dom";
import { charge, current, dayOfMonth, joined, month, NONE, percent, percents, temperature } from "../format";
import { footHeight } from "../history/chart";
import { colours } from "../palette";
import type { CapacityFinding, HealthRecord } from "../record";
import { spoken } from "../spoken";
import { factList, table, value, type Row } from "../tables";
import { words } from "../words";
import { said } from "../words/said";
import { fadeChart } from "./chart";
import { columns, picture, type Picture } from "./fade";
import { banded, capacityFacts, type Reader } from "./said";

/** Findings shown at once; the others open. */
const NEWEST = 6;

export class CapacitySection {
  readonly node = el("section", { class: "capacity" });
  private readonly plot = el("div", { class: "fade-plot", role: "img" });
  private readonly reading = el("output", { class: "reading" });
  private readonly chartBox: HTMLElement;
  private readonly below = el("div");
  private chart: uPlot | null = null;
  private shown: Picture | null = null;
  private record: HealthRecord | null = null;
  private readonly unwatch: () => void;

  constructor(private readonly reader: () => Reader) {
    const w = words.health.capacity;
    this.chartBox = el("div", { class: "fade", hidden: true }, this.key(), this.reading, this.plot);
    this.node.append(el("h2", {}, w.name), this.chartBox, this.below);
    this.unwatch = onResize(this.plot, () => this.build());
  }

  end(): void {
    this.unwatch();
    this.chart?.destroy();
  }

  show(record: HealthRecord): void {
    const w = words.health.capacity;
    const reader = this.reader();
    this.record = record;
    this.shown = picture(record, reader.present);
    this.chartBox.hidden = this.shown === null;
    const facts = capacityFacts(record, reader);
    const { findings } = record.capacity;
    this.below.replaceChildren(
      ...(findings.length === 1 ? [el("p", { class: "sub" }, words.evidence.firstOnly)] : []),
      ...(facts.length ? [factList(facts)] : []),
      ...(findings.length ? findingTables(findings, reader) : [el("p", { class: "sub" }, w.none)]),
    );
    this.plot.setAttribute("aria-label", w.chart(said(record.fade.text)));
    this.build();
  }

  /** Draws the chart anew: at first, when the size or the light changes. */
  build(): void {
    this.chart?.destroy();
    this.chart = null;
    const { shown, record } = this;
    if (!shown || !record || this.chartBox.hidden) return;
    const unit = rem();
    const { width, height } = this.plot.getBoundingClientRect();
    if (width === 0) return;
    const w = words.health.capacity;
    this.chart = fadeChart(
      shown,
      {
        colours: colours(),
        rem: unit,
        zone: this.reader().zone,
        width,
        height: Math.max(height, footHeight(unit) + 2 * unit),
        words: { now: w.now, end: w.ended(joined(percent(shown.endOfLife))) },
        onCursor: (index) => this.read(index),
      },
      this.plot,
    );
  }

  /** What the line or the forecast says under the cursor. */
  private read(index: number | null): void {
    const { shown } = this;
    if (!shown || index === null) return setText(this.reading, "");
    const [times, ...rest] = columns(shown);
    const ms = times![index];
    const [high, low, ratio, ahead_high, ahead_low, ahead] = rest.map((column) => column[index] ?? null);
    const [a, b, middle] = ratio === null ? [ahead_low, ahead_high, ahead] : [low, high, ratio];
    if (ms == null || a == null || b == null || middle == null) return setText(this.reading, "");
    const when = month(ms, this.reader().zone);
    setText(this.reading, `${when}: ${words.health.capacity.at(joined(percent(middle)), percents(a, b))}`);
  }

  private key(): HTMLElement {
    const { key } = words.health.capacity;
    const names = Object.entries(key).map(([kind, text]) => el("span", {}, el("i", { class: kind, "aria-hidden": "true" }), text));
    return el("p", { class: "key" }, ...names);
  }
}

function findingTables(findings: CapacityFinding[], reader: Reader): HTMLElement[] {
  const w = words.health.capacity;
  const newest = [...findings].reverse();
  const { column } = w;
  const names = [column.when, column.rated, column.combined, column.raw, column.taken];
  const rows = newest.map((finding) => row(finding, reader));
  // The list of all has every column in any room.
  const more = rows.length > NEWEST;
  const laws = [...new Set(newest.map(({ law }) => law))].filter(Boolean);
  return [
    el("h3", {}, w.findings, " ", el("span", { class: "sub" }, more ? w.newest(String(NEWEST)) : "")),
    table(names, rows.slice(0, NEWEST), more ? "wide one-by-one brief" : "wide one-by-one"),
    ...(more
      ? [el("details", { class: "more" }, el("summary", {}, w.all(String(rows.length))), table(names, newest.map((finding) => row(finding, reader)), "wide one-by-one"))]
      : []),
    ...laws.map((law) => el("p", { class: "sub" }, `${w.law}: `, ...spoken(law))),
  ];
}

function row(finding: CapacityFinding, { zone, present }: Reader): Row {
  const w = words.health.capacity;
  const watched = w.watched[finding.watched] ?? finding.watched;
  const when = finding.time === null ? words.passages.undated : dayOfMonth(Date.parse(finding.time), zone, present);
  const [rated, raw, all] = [finding.rated_ah, finding.raw_ah, finding.combined_ah].map((band) => band && banded(band, "Ah", 1, false, 1));
  const warmth = finding.temperature_c === null ? "" : `, ${joined(temperature(finding.temperature_c))}`;
  return {
    class: finding.believed ? "" : "unbelieved",
    cells: [
      [when, " ", el("span", { class: "sub" }, finding.believed ? watched : `${watched}, ${w.unbelieved}`)],
      value(rated!.text, rated!.more),
      all ? value(all.text, all.more) : [NONE],
      value(raw!.text, raw!.more),
      value(joined(charge(finding.charge_ah)), `${joined(current(finding.load_a))}${warmth}`),
    ],
  };
}
