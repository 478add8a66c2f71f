//! Minutes of a bank from plain readings, as the survey of a store makes them.

use std::collections::BTreeMap;

use taffrail::quantity::{BootNo, Extreme, MINUTE_MS, Minute, Moment, MonoMs, Reading, Spread};

/// Readings further apart than this leave a gap, s.
const BRIDGED_S: f64 = 900.0;

#[derive(Default)]
struct Sums {
    seconds: f64,
    volt_s: f64,
    amp_s: f64,
    watt_s: f64,
    in_as: f64,
    out_as: f64,
    in_ws: f64,
    out_ws: f64,
    volts: Option<(f64, f64)>,
    amps: Option<(f64, f64)>,
    temperature_c: Option<f64>,
}

fn widened(range: Option<(f64, f64)>, value: f64) -> Option<(f64, f64)> {
    Some(range.map_or((value, value), |(low, high)| (low.min(value), high.max(value))))
}

/// The moment so many seconds after the start of boot 1.
#[expect(clippy::cast_possible_truncation, reason = "years of milliseconds fit")]
pub fn moment(t_s: f64) -> Moment {
    Moment { boot: BootNo(1), mono: MonoMs((t_s * 1000.0).round() as i64) }
}

/// The minutes that readings cover: current and voltage run straight from one to the next, unless they lie far apart.
pub fn minutes(readings: &[Reading]) -> Vec<Minute> {
    let mut by_minute: BTreeMap<i64, Sums> = BTreeMap::new();
    for pair in readings.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let whole = to.t_s - from.t_s;
        if whole > BRIDGED_S || whole <= 0.0 {
            continue;
        }
        let mut begin = from.t_s;
        while begin < to.t_s {
            let minute = moment(begin + 1e-4).mono.0.div_euclid(MINUTE_MS);
            let end = to.t_s.min((minute + 1) as f64 * 60.0);
            let part = (f64::midpoint(begin, end) - from.t_s) / whole;
            let current_a = from.current_a + (to.current_a - from.current_a) * part;
            let voltage_v = from.voltage_v + (to.voltage_v - from.voltage_v) * part;
            let seconds = end - begin;
            let sums = by_minute.entry(minute).or_default();
            sums.seconds += seconds;
            sums.volt_s += voltage_v * seconds;
            sums.amp_s += current_a * seconds;
            sums.watt_s += voltage_v * current_a * seconds;
            let (charge, energy) = (current_a * seconds, voltage_v * current_a * seconds);
            sums.in_as += charge.max(0.0);
            sums.out_as += (-charge).max(0.0);
            sums.in_ws += energy.max(0.0);
            sums.out_ws += (-energy).max(0.0);
            sums.volts = widened(sums.volts, voltage_v);
            sums.amps = widened(sums.amps, current_a);
            sums.temperature_c = to.temperature_c.or(sums.temperature_c);
            begin = end;
        }
    }
    let mut last = None;
    by_minute
        .into_iter()
        .map(|(minute, sums)| {
            let unseen_s = last.replace(minute + 1).map(|end| (minute - end) as f64 * 60.0);
            finished(minute, unseen_s, &sums)
        })
        .collect()
}

fn finished(minute: i64, unseen_s: Option<f64>, sums: &Sums) -> Minute {
    let at = Moment { boot: BootNo(1), mono: MonoMs(minute * MINUTE_MS) };
    let spread = |sum: f64, range: Option<(f64, f64)>| {
        range.map(|(low, high)| Spread {
            mean: sum / sums.seconds,
            min: Extreme { value: low, at: at.mono },
            max: Extreme { value: high, at: at.mono },
        })
    };
    Minute {
        at,
        unseen_s,
        covered_s: sums.seconds.min(60.0),
        voltage_v: spread(sums.volt_s, sums.volts),
        current_a: spread(sums.amp_s, sums.amps),
        power_w: spread(sums.watt_s, sums.amps.map(|_| (sums.watt_s / sums.seconds, sums.watt_s / sums.seconds))),
        temperature_c: sums.temperature_c,
        charge_in_ah: sums.in_as / 3600.0,
        charge_out_ah: sums.out_as / 3600.0,
        energy_in_wh: sums.in_ws / 3600.0,
        energy_out_wh: sums.out_ws / 3600.0,
        monobloc_v: Vec::new(),
        branch_a: Vec::new(),
        speed_kn: None,
        balancing: None,
        soc: None,
    }
}
