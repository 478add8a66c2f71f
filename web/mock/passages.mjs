/** Passages of the invented boat: where the drive bank was drawn on hard, and what a reader does with them. The house bank has none. */
import { banks, PAST_S, sample } from "./boat.mjs";

const HOUR = 3600;
const DAY = 24 * HOUR;
/** Drawn harder than this counts as under way, A; so long without it ends a passage, minutes. */
const DRAWING_A = -7;
const SETTLED_MIN = 300;
const NAMES = { 2: "Round the outer islands", 5: "Night run home" };

const iso = (s) => new Date(Math.round(s * 1000)).toISOString();
const seconds = (text) => Date.parse(text) / 1000;

export class Passages {
  constructor(boat) {
    this.boat = boat;
    this.next = 1;
    this.all = { drive: this.found("drive"), house: [] };
  }

  found(name) {
    const track = this.boat.tracks[name];
    const list = [];
    let begin = null;
    let last = null;
    const until = Math.floor(PAST_S / 60);
    const close = () => list.push(this.made(track.first + begin, track.first + last + 1));
    for (let i = 0; i < until; i += 1) {
      if (track.current[i] < DRAWING_A && !track.gap[i]) {
        begin ??= i;
        last = i;
      } else if (begin !== null && i - last > SETTLED_MIN) {
        close();
        begin = null;
      }
    }
    if (begin !== null) list.push({ ...this.made(track.first + begin, track.first + last + 1), end: null, going_on: true, settled: false });
    list.forEach((passage, i) => Object.assign(passage, { name: NAMES[i] ?? "", ...(i === 5 && { origin: "hand", note: "Wind against us from the point on.", settled: false }) }));
    return list;
  }

  made(from_min, to_min) {
    return this.one(from_min * 60, to_min * 60, "found");
  }

  one(begin_s, end_s, origin, name = "") {
    return { id: this.next++, name, note: "", origin, begin: iso(begin_s), end: iso(end_s), going_on: false, settled: true };
  }

  list(name, query) {
    const [from, to] = ["from", "to"].map((end) => (query.get(end) ? Date.parse(query.get(end)) : null));
    const inside = this.all[name].filter(({ begin, end }) => (to === null || Date.parse(begin) <= to) && (from === null || Date.parse(end ?? begin) >= from));
    const newest = inside.sort((a, b) => b.begin.localeCompare(a.begin)).slice(0, Number(query.get("limit") ?? 50));
    return { passages: newest.map((passage) => this.summed(name, passage)) };
  }

  get(name, id) {
    const passage = this.all[name].find((each) => each.id === id);
    if (!passage) return null;
    const shown = this.summed(name, passage);
    const { summary } = shown;
    const missing = summary ? summary.duration_s - summary.covered_s : 0;
    const open = passage.going_on ? ["It still goes on: the sums are those up to the last look."] : [];
    const notes = missing > 120 ? [`For ${Math.round(missing / 60)} min of ${(summary.duration_s / 3600).toFixed(1)} h there are no samples: what flowed then is not in the sums.`, ...open] : open;
    return { passage: shown, ledger: passage.going_on ? null : this.ledger(name, shown), notes };
  }

  summed(name, passage) {
    return { ...passage, summary: this.summary(name, seconds(passage.begin), passage.end ? seconds(passage.end) : Date.now() / 1000) };
  }

  summary(name, from, to) {
    const bank = banks[name];
    const step = Math.max(20, (to - from) / 1500);
    const rows = [];
    for (let t = from; t < to; t += step) {
      const values = sample(name, this.boat.tracks[name], t);
      if (values) rows.push({ t, ...values });
    }
    if (rows.length === 0) return null;
    const sums = this.boat.sums(name, from * 1000, to * 1000);
    const by = (key, way) => rows.reduce((best, row) => (way * row[key] > way * best[key] ? row : best), rows[0]);
    const at = (key, way) => ({ value: by(key, way)[key], time: iso(by(key, way).t) });
    const soc = (row) => ({ soc: row.soc, low: row.soc_low, high: row.soc_high });
    const above = (hours) => rows.filter((row) => -row.current_a > bank.rated_capacity_ah / hours).length * step;
    const loads = rows.filter((row) => row.current_a < 0).map((row) => -row.current_a).sort((a, b) => a - b);
    const lowest = by("soc", -1);
    const below = rows.filter((row) => row.soc < bank.reserve).length * step;
    return {
      duration_s: to - from,
      covered_s: Math.min(to - from, rows.length * step),
      charge_in_ah: sums.charge_in_ah,
      charge_out_ah: sums.charge_out_ah,
      energy_in_wh: sums.energy_in_wh,
      energy_out_wh: sums.energy_out_wh,
      net_ah: sums.charge_in_ah - sums.charge_out_ah,
      net_wh: sums.energy_in_wh - sums.energy_out_wh,
      soc_begin: soc(rows[0]),
      soc_end: soc(rows.at(-1)),
      soc_lowest: soc(lowest),
      soc_lowest_time: iso(lowest.t),
      reconciled: to < Date.now() / 1000 - DAY,
      voltage_min: at("voltage_v", -1),
      voltage_max: at("voltage_v", 1),
      current_min: at("current_a", -1),
      current_max: at("current_a", 1),
      power_min: at("power_w", -1),
      power_max: at("power_w", 1),
      temperature_min: at("temperature_c", -1),
      temperature_max: at("temperature_c", 1),
      above_c5_s: above(5),
      above_c2_s: above(2),
      above_1c_s: above(1),
      deep_excursions: lowest.soc < 0.5 ? 1 : 0,
      mean_load_a: loads.reduce((a, b) => a + b, 0) / loads.length,
      load_95_a: loads[Math.floor(0.95 * loads.length)],
      below_reserve_s: below,
      reserve_touched: below > 0,
      distance_nm: (to - from) / HOUR / 0.35,
      wh_per_nm: (sums.energy_out_wh * 0.35 * HOUR) / (to - from),
    };
  }

  /** The ledger of any span. */
  span(name, begin, end) {
    const none = { from: begin, to: end, covered_s: 0, unseen_s: seconds(end) - seconds(begin), branches: [], own_loss_ah: null, unaccounted_ah: null, notes: [] };
    return this.ledger(name, { begin, end, summary: this.summary(name, seconds(begin), seconds(end)) }) ?? none;
  }

  ledger(name, { begin, end, summary }) {
    if (!summary) return null;
    const { charge_in_ah: into, charge_out_ah: out, energy_in_wh, energy_out_wh } = summary;
    const branch = (branch_name, title, role, share, computed = false) => ({
      name: branch_name,
      title,
      role,
      computed,
      charge_in_ah: role === "source" ? share * into : 0,
      charge_out_ah: role === "load" ? share * out : 0,
      energy_in_wh: role === "source" ? share * energy_in_wh : 0,
      energy_out_wh: role === "load" ? share * energy_out_wh : 0,
      error_ah: computed ? null : 0.1 + 0.006 * share * (role === "source" ? into : out),
    });
    return {
      from: begin,
      to: end ?? iso(Date.now() / 1000),
      covered_s: summary.covered_s,
      unseen_s: summary.duration_s - summary.covered_s,
      charge_in_ah: into,
      charge_out_ah: out,
      energy_in_wh,
      energy_out_wh,
      branches: [
        branch("generator", "Generator", "source", 0.83),
        branch("regeneration", "Regeneration", "source", 0.17),
        branch("drive", "Drive motor", "load", 0.81),
        branch("converter", "House converter", "load", 0.17),
      ],
      own_loss_ah: { value: 0.03 * into + 0.4, low: 0.2, high: 0.06 * into + 0.9 },
      unaccounted_ah: { value: 0.02 * out, low: -0.3, high: 0.04 * out + 0.3 },
      notes: [],
    };
  }

  /** What a reader asked for, or the reason why not: `{ id, text }` or `{ refused }`. */
  change(name, method, id, what, body) {
    const list = this.all[name];
    const passage = list.find((each) => each.id === id);
    if (what === "merge") return this.merge(name, body.ids);
    if (id === undefined) {
      const made = this.one(seconds(body.begin), seconds(body.end), "hand", body.name ?? "");
      list.push(made);
      return { id: made.id, text: `Passage ${made.id} is marked.` };
    }
    if (!passage) return null;
    if (method === "DELETE") {
      this.all[name] = list.filter((each) => each !== passage);
      return { id, text: `Passage ${id} is removed and will not be found again.` };
    }
    if (what === "split") {
      if (!(body.at > passage.begin && body.at < (passage.end ?? iso(Date.now() / 1000)))) return { refused: `passage ${id} can be cut only at a time between its beginning and its end` };
      const rest = { ...this.one(seconds(body.at), 0, "hand"), end: passage.end, going_on: passage.going_on };
      Object.assign(passage, { end: body.at, origin: "hand", going_on: false });
      list.push(rest);
      return { id, text: `Passage ${id} is cut in two; the later part is passage ${rest.id}.` };
    }
    for (const key of ["name", "note", "begin", "end"]) if (key in body) passage[key] = body[key];
    passage.origin = "hand";
    return { id, text: `Passage ${id} is changed; what is found later leaves it as it is.` };
  }

  merge(name, ids) {
    const chosen = this.all[name].filter((each) => ids.includes(each.id)).sort((a, b) => a.begin.localeCompare(b.begin));
    if (chosen.length < 2) return { refused: "a merge needs two passages" };
    const [first, ...others] = chosen;
    const last = chosen.at(-1);
    const joined = (key) => chosen.map((each) => each[key]).filter(Boolean).join("; ");
    Object.assign(first, { name: joined("name"), note: joined("note"), end: last.end, going_on: last.going_on, origin: "hand" });
    this.all[name] = this.all[name].filter((each) => !others.includes(each));
    return { id: first.id, text: `${ids.length} passages are one now: passage ${first.id}.` };
  }
}
