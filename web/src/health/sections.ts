/** The sections of the health record below its capacity. Each is drawn anew from the record. */
import { el } from "../dom";
import { charge, dayOfMonth, joined, month, NONE, number, percent } from "../format";
import { duration } from "../range";
import type { HealthRecord } from "../record";
import { spoken } from "../spoken";
import { bars, factList, table, value } from "../tables";
import { words } from "../words";
import {
  balanceRows,
  banded,
  depthBars,
  resisting,
  spreads,
  STATES,
  stressFacts,
  temperatureBars,
  tenthBars,
  useFacts,
  type Reader,
} from "./said";
import { hot, partlyCharged } from "./sure";

/** Months shown at once. */
const MONTHS = 12;

const quiet = (...text: (Node | string)[]): HTMLElement => el("p", { class: "sub" }, ...text);
const told = (texts: string[]): HTMLElement[] => [...new Set(texts)].filter((text) => text).map((text) => el("p", { class: "text" }, ...spoken(text)));
const section = (kind: string, name: string, ...content: (Node | string)[]): HTMLElement => el("section", { class: kind }, el("h2", {}, name), ...content);

export function sections(record: HealthRecord, reader: Reader): HTMLElement[] {
  return [
    use(record, reader),
    ...warmth(record),
    resistance(record),
    balance(record, reader),
    tests(record, reader),
    cycles(record),
    stress(record),
    ...months(record, reader),
    ...reach(record),
    ...ventilation(record),
  ];
}

function tests({ tests: all, test_due: due }: HealthRecord, { zone, present }: Reader): HTMLElement {
  const w = words.health.tests;
  const rows = [...all].sort((a, b) => (b.start ?? "").localeCompare(a.start ?? "")).map((test) => {
    const results = [
      test.time_adjusted === null ? "" : `${joined(percent(test.time_adjusted))} ${w.time}`,
      test.rate_adjusted === null ? "" : `${joined(percent(test.rate_adjusted))} ${w.rate}`,
    ].filter(Boolean);
    const taken = test.charge_ah === null ? NONE : joined(charge(test.charge_ah));
    const hours = test.hours === null ? "" : joined({ value: number(test.hours, 1), unit: words.unit.hours });
    return {
      cells: [
        [test.start === null ? words.passages.undated : dayOfMonth(Date.parse(test.start), zone, present)],
        results.length ? value(results[0]!, results[1]) : [w.state[test.state] ?? test.state],
        value(taken, hours),
        test.verdict === null && results.length ? [NONE] : spoken(test.verdict ?? test.text),
      ],
    };
  });
  return section(
    "tests",
    w.name,
    all.length ? table([w.column.when, w.column.result, w.column.taken, w.column.verdict], rows) : quiet(w.none),
    ...(due.text ? [el("p", { class: "text" }, `${w.due}: `, ...spoken(due.text))] : []),
    quiet(w.how),
  );
}

function resistance({ resistance: all }: HealthRecord): HTMLElement {
  const w = words.health.resistance;
  const rows = resisting(all);
  if (rows.length === 0) return section("resistance", w.name, quiet(w.none));
  const cell = (found: { text: string; more: string } | null) => (found ? value(found.text, found.more) : [NONE]);
  return section(
    "resistance",
    w.name,
    table([w.of, w.second, w.minute], rows.map((row) => ({ cells: [[row.name], cell(row.second), cell(row.minute)] }))),
    quiet(w.at),
    ...told(all.filter(({ monobloc }) => monobloc === null).map(({ text }) => text)),
  );
}

function balance({ balance: all }: HealthRecord, { zone }: Reader): HTMLElement {
  const w = words.health.balance;
  if (all.monoblocs === 0) return section("balance", w.name, quiet(...(all.text ? spoken(all.text) : [w.none])));
  const rows = balanceRows(all);
  if (rows.length === 0) return section("balance", w.name, ...(all.text ? told([all.text]) : [el("p", { class: "text" }, w.notYet)]));
  const weak = all.weak;
  const spread = spreads(all, zone);
  return section(
    "balance",
    w.name,
    ...(weak ? [el("p", { class: "text minded" }, ...spoken(weak.text))] : []),
    ...told(all.text === weak?.text ? [] : [all.text]),
    table(
      [w.monobloc, ...STATES.map((state) => w.state[state])],
      [
        ...rows.map(({ monobloc, cells }) => ({
          class: weak?.monobloc === monobloc ? "minded" : "",
          cells: [[number(monobloc, 0)], ...cells.map((cell) => value(...cell))],
        })),
        { class: "total", cells: [[w.spread], ...spread.map(({ text, more }) => value(text, more))] },
      ],
    ),
  );
}

function use({ use: all }: HealthRecord, reader: Reader): HTMLElement {
  const w = words.health.use;
  if (all.days === 0) return section("use", w.name, quiet(w.none));
  const [since, ...facts] = useFacts(all, reader);
  return section(
    "use",
    w.name,
    factList([since!, ...partlyCharged(all), ...facts]),
    ...(all.soc_tenths.some((share) => share > 0) ? [bars(w.tenths, tenthBars(all.soc_tenths))] : []),
  );
}

function warmth({ use: all }: HealthRecord): HTMLElement[] {
  if (!all.temperature_h.some(({ hours }) => hours > 0)) return [];
  return [section("warmth", words.evidence.warmth, factList(hot(all)), bars(words.health.use.temperature, temperatureBars(all.temperature_h)))];
}

function months({ use: { by_month: all } }: HealthRecord, { zone }: Reader): HTMLElement[] {
  const w = words.health.use;
  if (all.length === 0) return [];
  const rows = [...all].reverse().map((each) => ({
    // The middle of the month lies in it in every zone.
    cells: [[month(Date.parse(`${each.month}-15T12:00:00Z`), zone)], value(joined(charge(each.charge_out_ah))), each.lowest_soc === null ? [NONE] : value(joined(percent(each.lowest_soc))), value(number(each.full_days, 0))],
  }));
  const { column } = w;
  const names = [column.month, column.out, column.lowest, column.full];
  const more = rows.length > MONTHS;
  return [
    section(
      "months",
      w.months,
      table(names, rows.slice(0, MONTHS)),
      ...(more ? [el("details", { class: "more" }, el("summary", {}, w.monthsBefore(number(rows.length - MONTHS, 0))), table(names, rows.slice(MONTHS)))] : []),
    ),
  ];
}

function cycles({ cycles: all }: HealthRecord): HTMLElement {
  const w = words.health.cycles;
  if (all.counted === 0) return section("cycles", w.name, quiet(w.none));
  return section(
    "cycles",
    w.name,
    factList([
      { name: w.equivalent, text: number(all.equivalent_full, all.equivalent_full < 10 ? 1 : 0) },
      { name: w.counted, text: number(all.counted, all.counted % 1 === 0 ? 0 : 1), more: w.countedMore },
    ]),
    bars(w.depth, depthBars(all.by_depth)),
  );
}

function stress({ stress: all }: HealthRecord): HTMLElement {
  const w = words.health.stress;
  return section(
    "stress",
    w.name,
    factList(stressFacts(all)),
    el("p", { class: "text" }, ...spoken(all.text)),
    ...(all.rules.length ? [el("details", { class: "more" }, el("summary", {}, w.rules), ...all.rules.map((rule) => quiet(...spoken(rule))))] : []),
  );
}

function reach({ reach: all }: HealthRecord): HTMLElement[] {
  if (!all || all.bins.length === 0) return [];
  const w = words.health.reach;
  const kn = (speed: number): string => number(speed, 1);
  const left = new Map(all.left_nm.map((each) => [kn(each.speed_kn), each]));
  const rows = all.bins.map((bin) => {
    const { text, more } = banded(bin.wh_per_nm, "Wh", 1, false, 0);
    const reached = left.get(kn((bin.from_kn + bin.to_kn) / 2));
    return {
      cells: [
        [`${kn(bin.from_kn)}\u2013${joined({ value: kn(bin.to_kn), unit: w.kn })}`, " ", el("span", { class: "sub" }, w.minutes(duration(bin.minutes * 60)))],
        value(text, more),
        reached ? value(joined({ value: `${number(Math.floor(reached.low), 0)}\u2013${number(Math.ceil(reached.high), 0)}`, unit: w.nm })) : [NONE],
      ],
    };
  });
  return [section("reach", w.name, table([w.speed, w.per, w.left], rows))];
}

function ventilation({ ventilation: all }: HealthRecord): HTMLElement[] {
  if (!all) return [];
  const w = words.health.ventilation;
  return [
    section(
      "ventilation",
      w.name,
      factList([
        { name: w.air, text: joined({ value: number(all.air_m3_h, all.air_m3_h < 10 ? 1 : 0), unit: w.perHour }) },
        { name: w.opening, text: joined({ value: number(all.area_cm2, 0), unit: w.area }) },
      ]),
      el("p", { class: "text" }, ...spoken(all.text)),
    ),
  ];
}
