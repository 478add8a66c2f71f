/** Answers of an invented store in place of the daemon's, for tests that need to know what is there. */

const HOUR = 3_600_000;

/** What an invented store knows of a few passages, and of some `earlier` ones; `sent` gathers what the page asks to be changed. */
export async function invented(page, { answer = { id: 7, text: "done as asked" }, status = 200, earlier = 0 } = {}) {
  const now = Date.now();
  const iso = (hours) => new Date(now - hours * HOUR).toISOString();
  const at = (value, hours) => ({ value, time: iso(hours) });
  const soc = (value) => ({ soc: value, low: value - 0.02, high: value + 0.02 });
  const summary = {
    duration_s: 4 * 3600, covered_s: 3.5 * 3600, charge_in_ah: 2.2, charge_out_ah: 41.4, energy_in_wh: 120, energy_out_wh: 2050, net_ah: -39.2, net_wh: -1930,
    soc_begin: soc(0.94), soc_end: soc(0.62), soc_lowest: soc(0.6), soc_lowest_time: iso(7), reconciled: true,
    voltage_min: at(48.2, 7), voltage_max: at(52.9, 9), current_min: at(-47, 7.5), current_max: at(12, 8), power_min: at(-2300, 7.5), power_max: at(600, 8), temperature_min: at(17.2, 9), temperature_max: at(21.8, 6),
    above_c5_s: 1800, above_c2_s: 0, above_1c_s: 0, deep_excursions: 0, mean_load_a: 10.4, load_95_a: 38, below_reserve_s: 0, reserve_touched: false, distance_nm: null, wh_per_nm: null,
  };
  const passage = (id, from, to, name = "") => ({ id, name, note: "", origin: "found", begin: iso(from), end: iso(to), going_on: false, settled: true, summary });
  const old = Array.from({ length: earlier }, (_, i) => {
    const drawn = 20 + 4 * i;
    const change = { charge_out_ah: drawn, energy_out_wh: 50 * drawn, duration_s: (3 + i) * 3600, soc_lowest: soc(0.8 - 0.02 * i), mean_load_a: 6 + i, wh_per_nm: 80 + 10 * i };
    return { ...passage(100 + i, 48 + 24 * i, 45 + 23 * i), summary: { ...summary, ...change } };
  });
  const list = [passage(8, 4, 3), passage(7, 10, 6, "Round the point"), passage(6, 16, 14), ...old];
  const ledger = {
    from: iso(10), to: iso(6), covered_s: 12_600, unseen_s: 1800, charge_in_ah: 2.2, charge_out_ah: 41.4, energy_in_wh: 120, energy_out_wh: 2050,
    branches: [{ name: "drive", title: "Drive motor", role: "load", computed: false, charge_in_ah: 0, charge_out_ah: 33.3, energy_in_wh: 0, energy_out_wh: 1640, error_ah: 0.4 }],
    own_loss_ah: null, unaccounted_ah: { value: 3.4, low: 2.1, high: 4.7 }, notes: ["30 min were not recorded."],
  };
  const sent = [];
  await page.route(/\/api\/v1\/banks\/[^/]+\/passages/, (route) => {
    const request = route.request();
    const path = new URL(request.url()).pathname.split("/passages")[1];
    const json = (body) => route.fulfill({ status: 200, contentType: "application/json", body: JSON.stringify(body) });
    if (request.method() === "GET" && path === "") return json({ passages: list });
    if (request.method() === "GET") {
      const found = list.find((each) => `/${each.id}` === path);
      return json({ passage: found, ledger, notes: ["30 min of this passage were not recorded."] });
    }
    sent.push({ method: request.method(), path, body: request.postDataJSON() });
    return route.fulfill({ status, contentType: status === 200 ? "application/json" : "application/problem+json", body: JSON.stringify(answer) });
  });
  return { sent, list };
}
