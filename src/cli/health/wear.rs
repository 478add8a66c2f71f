//! How the bank was used, and what that wears.

use std::fmt::Write as _;

use super::text::{banded, banded_percent, row};
use crate::cli::paper::wrapped;
use crate::cli::when::LocalTimes;
use crate::review::record::{RecordView, YearsView};

/// Throughput, full charges, loads, states of charge and temperatures.
pub fn usage(view: &RecordView, times: &LocalTimes) -> String {
    let usage = &view.usage;
    let mut out = String::new();
    if usage.days <= 0.0 {
        return "  Nothing looked at yet.\n".to_owned();
    }
    row(&mut out, "days", &format!("{:.1} covered by samples", usage.days));
    let kwh = [usage.energy_out_wh, usage.energy_in_wh].map(|wh| wh / 1000.0);
    let moved = format!(
        "{:.0} Ah and {:.1} kWh out, {:.0} Ah and {:.1} kWh in",
        usage.charge_out_ah, kwh[0], usage.charge_in_ah, kwh[1]
    );
    row(&mut out, "moved", &moved);
    let full = match usage.days_since_full {
        Some(days) => format!("{}, {days:.1} days before the last look", times.minute(usage.last_full.as_deref())),
        None => "not seen".to_owned(),
    };
    row(&mut out, "last full", &full);
    if let Some(hours) = usage.charging_h {
        row(&mut out, "time to full", &format!("usually {hours:.1} h"));
    }
    for (label, ratio) in [("efficiency", &usage.efficiency)] {
        if let Some(band) = ratio {
            row(&mut out, label, &format!("{} of the charge comes out again", banded_percent(band)));
        }
    }
    for (label, band) in [("standing load", &usage.standing_a), ("unaccounted", &usage.unaccounted_a)] {
        if let Some(band) = band {
            row(&mut out, label, &banded(band, "A", 2));
        }
    }
    if usage.soc_tenths.iter().sum::<f64>() > 0.0 {
        let tenths = usage.soc_tenths.iter().map(|part| format!("{:.0}", 100.0 * part)).collect::<Vec<_>>().join(" ");
        row(&mut out, "tenths of charge", &format!("{tenths} % of the time, the lowest tenth first"));
    }
    let hours: f64 = usage.temperature_h.iter().map(|range| range.hours).sum();
    if hours > 0.0 {
        let ranges = usage.temperature_h.iter().filter(|range| range.hours > 0.0).map(|range| {
            let part = 100.0 * range.hours / hours;
            match (range.from_c, range.to_c) {
                (None, Some(to)) => format!("below {to:.0} °C {part:.0} %"),
                (Some(from), None) => format!("from {from:.0} °C {part:.0} %"),
                (from, to) => format!("{:.0} to {:.0} °C {part:.0} %", from.unwrap_or(0.0), to.unwrap_or(0.0)),
            }
        });
        row(&mut out, "temperature", &ranges.collect::<Vec<_>>().join(", "));
    }
    out
}

/// Cycles, and the life that is left by rule and by measurement.
pub fn cycles(view: &RecordView) -> String {
    let cycles = &view.cycles;
    let mut out = String::new();
    if cycles.counted > 0.0 || cycles.equivalent_full > 0.0 {
        let counted = format!("{:.1} equivalent full cycles, {:.1} counted", cycles.equivalent_full, cycles.counted);
        row(&mut out, "cycles", &counted);
        let depths = cycles.by_depth.iter().map(|count| format!("{count:.1}")).collect::<Vec<_>>().join(" ");
        row(&mut out, "by depth", &format!("{depths}, the shallowest tenth first"));
    }
    let stress = &view.stress;
    if let Some(used) = stress.used {
        row(&mut out, "used up", &format!("{:.0} % of its life by rules of thumb", 100.0 * used));
    }
    let years = |years: &YearsView| format!("{:.1} to {:.1} years", years.low, years.high);
    let both = [("left by the rules", &stress.remaining_years), ("left by the fade", &stress.measured_remaining_years)];
    for (label, left) in both {
        if let Some(left) = left {
            row(&mut out, label, &years(left));
        }
    }
    out.push_str(&wrapped(&stress.text, 2));
    stress.rules.iter().for_each(|rule| out.push_str(&wrapped(rule, 4)));
    out
}

/// Energy against speed, and the miles that are left.
pub fn reach(view: &RecordView) -> String {
    let Some(reach) = &view.reach else { return String::new() };
    let mut out = String::new();
    for bin in &reach.bins {
        let label = format!("{:.1} to {:.1} kn", bin.from_kn, bin.to_kn);
        row(&mut out, &label, &format!("{} over {:.0} min", banded(&bin.wh_per_nm, "Wh a mile", 0), bin.minutes));
    }
    for left in &reach.left_nm {
        let _ = writeln!(out, "  at {:.1} kn {:.0} to {:.0} miles to the reserve", left.speed_kn, left.low, left.high);
    }
    out
}
