/** What the page Set-up says of a bank: as described, and what was learned against it. Pure. */
import type { Description, Learned, LearnedName, Now } from "../api";
import { charge, current, joined, NONE, number, percent, voltage } from "../format";
import { learnedFact } from "../now/terms";
import { duration } from "../range";
import type { Fact } from "../tables";
import { words } from "../words";
import { said } from "../words/said";

/** 95 % of what is stated as 1 σ. */
const SIGMAS = 1.96;

/** What the configuration says, value by value, with what was left to the chemistry's preset. */
export function describedFacts(bank: Description): Fact[] {
  const w = words.setup.bank;
  const rates = bank.rates.map(({ hours, capacity_ah }) => `${joined(charge(capacity_ah))} ${w.in(joined({ value: number(hours, hours % 1 ? 1 : 0), unit: words.unit.hours }))}`);
  return [
    { name: w.chemistry, text: w.chemistries[bank.chemistry] ?? bank.chemistry, more: w.cells(number(bank.cells_in_series, 0)) },
    { name: w.rated, text: joined(charge(bank.rated_capacity_ah)), more: words.health.capacity.rated(number(bank.rated_hours, 0)) },
    bank.peukert_exponent === null
      ? { name: w.rates, text: rates.join(", ") }
      : { name: w.peukert, text: number(bank.peukert_exponent, 2), more: bank.rates_assumed ? w.assumed : "" },
    { name: w.reserve, text: joined(percent(bank.reserve)) },
    {
      name: w.full,
      text: w.fullAt(joined(voltage(bank.full.voltage_v)), joined(current(bank.full.tail_current_a))),
      more: `${w.fullFor(duration(bank.full.hold_s))}, ${w.perKelvin(joined({ value: number(1000 * bank.full.compensation_v_per_k, 0), unit: "mV/K" }))}`,
    },
    { name: w.standing, text: joined(current(bank.standing_load_a)), more: w.standingMore },
    { name: w.law, text: said(bank.temperature_law) },
    { name: w.method, text: w.methods[bank.method] ?? bank.method },
  ];
}

export interface Comparison {
  name: string;
  described: string;
  learned: string;
  more: string;
}

/** Each learned quantity beside what was said of it before. */
export function comparisons(bank: Description, now: Now, present: number, zone: string): Comparison[] {
  const w = words.setup.bank;
  const stated: Record<LearnedName, string> = {
    capacity_ah: joined(charge(bank.rated_capacity_ah)),
    charge_efficiency: w.byPreset,
    sensor_offset_a: w.within(joined({ value: number(1000 * SIGMAS * bank.sensor_offset_a, 0), unit: "mA" })),
    resistance_25_ohm: w.byPreset,
    ocv_shift_v: w.byPreset,
  };
  const row = (learned: Learned): Comparison => {
    const fact = learnedFact(learned, now, present, zone);
    return { name: fact.name, described: stated[learned.quantity], learned: fact.text, more: fact.more };
  };
  const gain = { name: w.gain, described: w.within(joined({ value: number(100 * SIGMAS * bank.sensor_gain_error, 1), unit: "%" })), learned: NONE, more: w.gainMore };
  return [...(now.learned ?? []).map(row), gain];
}
