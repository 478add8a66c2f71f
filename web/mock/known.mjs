/** What the invented boat's banks deliver, how long they last, and what was learned of them. */

const iso = (s) => new Date(Math.round(s * 1000)).toISOString();

/** Capacity that stays out of reach at a load, Ah: a plain exponent over the rated hours. */
function behind(bank, load_a) {
  const given = bank.capacity * (bank.capacity / bank.rated_hours / load_a) ** 0.12;
  return Math.max(0, bank.capacity - given);
}

const round = (ah) => ah.toFixed(Math.abs(ah) < 9.95 ? 1 : 0);

export function deliverable(bank, { soc, mean, spent }) {
  const held_ah = soc * bank.capacity;
  const nothing = { load_a: null, charge_ah: null, low_ah: null, high_ah: null, held_ah, bound_ah: 0 };
  if (mean > 0.05) return { ...nothing, text: `The bank is charging and holds ${round(held_ah)} Ah; what comes out depends on the load that follows.` };
  if (mean > -0.05) return { ...nothing, text: `The bank rests and holds ${round(held_ah)} Ah; how much of it comes out depends on the load.` };
  const load_a = -mean;
  const charge_ah = spent ? 0 : Math.max(0, held_ah - behind(bank, load_a));
  const [low_ah, high_ah] = spent ? [0, 0] : [charge_ah * 0.93, charge_ah * 1.06];
  const text = spent
    ? `At ${load_a.toFixed(1)} A nothing comes out now, although ${round(held_ah)} Ah (${(100 * soc).toFixed(0)} % of its capacity) is still held: a rest or a gentler load gives it back.`
    : `${round(low_ah)} to ${round(high_ah)} Ah comes out at ${load_a.toFixed(1)} A; the other ${round(held_ah - charge_ah)} Ah held stays behind until a rest or a gentler load frees it.`;
  return { load_a, charge_ah, low_ah, high_ah, held_ah, bound_ah: spent ? held_ah : 0, text };
}

export function endurance(bank, now, load_a) {
  const out = (soc, factor) => Math.max(0, soc * bank.capacity - behind(bank, load_a) * factor);
  const hold = (soc) => Math.max(0, (soc - now.reserve) * bank.capacity);
  const [low, likely, high] = [out(now.soc_low, 1.15), out(now.soc, 1), out(now.soc_high, 0.85)];
  const s = (ah, factor = 1) => (ah / load_a / factor) * 3600;
  return {
    load_a,
    temperature_c: now.temperature_c,
    empty_s: s(likely),
    empty_low_s: s(low, 1.05),
    empty_high_s: s(high, 0.95),
    reserve_s: Math.min(s(likely), s(hold(now.soc))),
    reserve_low_s: Math.min(s(low, 1.05), s(hold(now.soc_low), 1.05)),
    reserve_high_s: Math.min(s(high, 0.95), s(hold(now.soc_high), 0.95)),
    deliverable_ah: likely,
    deliverable_low_ah: low / 1.05,
    deliverable_high_ah: high / 0.95,
    text: `At ${load_a} A ${round(low)} to ${round(high)} Ah comes out.`,
  };
}

const DAY = 86_400;

export function learned(bank, start_s) {
  const lead = bank.chemistry === "lead-carbon";
  const one = (quantity, unit, value, half, days) => ({ quantity, unit, value, low: value - half, high: value + half, since: days === null ? null : iso(start_s - days * DAY) });
  return [
    one("capacity_ah", "Ah", bank.capacity, 0.024 * bank.capacity, 6.2),
    one("charge_efficiency", "1", lead ? 0.934 : 0.996, lead ? 0.011 : 0.003, 6.2),
    one("sensor_offset_a", "A", lead ? -0.037 : 0.012, 0.014, 1.4),
    one("resistance_25_ohm", "\u03a9", bank.ohm, 0.12 * bank.ohm, 0.1),
    one("ocv_shift_v", "V", 0.11, 0.09, null),
  ];
}
