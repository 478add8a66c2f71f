//! Passages as tables of eighty columns.

use std::fmt::Write as _;

use crate::cli::paper::{cut, number, percent, wrapped};
use crate::cli::when::LocalTimes;
use crate::review::{AtView, LedgerView, OnePassageView, PassageView, SocView, SummaryView, duration};

/// The passages of a bank, the latest first.
pub fn of_bank(bank: &str, passages: &[PassageView], notes: &[String], times: &LocalTimes) -> String {
    let mut out = format!("{bank}: passages, times of {}\n", times.zone_name());
    if passages.is_empty() {
        out.push_str("  none\n");
    } else {
        out.push_str("   no.  begin             lasted   out Ah   in Ah  lowest  mean A  name\n");
    }
    for passage in passages {
        let summary = passage.summary.as_ref();
        let figure = |of: fn(&SummaryView) -> Option<f64>, decimals| number(summary.and_then(of), decimals);
        let lowest = percent(summary.and_then(|s| s.soc_lowest).map(|soc| soc.soc));
        let lasted = match (passage.going_on, summary.and_then(|s| s.duration_s)) {
            (true, _) => "goes on".to_owned(),
            (false, lasted) => lasted.map_or_else(|| "-".to_owned(), duration),
        };
        let hand = if passage.origin == "hand" { '*' } else { ' ' };
        // Writing into a text cannot fail.
        let _ = writeln!(
            out,
            "{:>6}{hand} {:<16} {lasted:>8} {:>8} {:>7} {lowest:>7} {:>7}  {}",
            passage.id,
            times.minute(passage.begin.as_deref()),
            figure(|s| Some(s.charge_out_ah), 1),
            figure(|s| Some(s.charge_in_ah), 1),
            figure(|s| s.mean_load_a, 1),
            cut(&passage.name, 12),
        );
    }
    if passages.iter().any(|passage| passage.origin == "hand") {
        out.push_str("  * marked or changed by hand\n");
    }
    notes.iter().for_each(|note| out.push_str(&wrapped(note, 2)));
    out
}

/// One passage with all that is known of it.
pub fn of_one(bank: &str, one: &OnePassageView, times: &LocalTimes) -> String {
    let passage = &one.passage;
    let name = if passage.name.is_empty() { String::new() } else { format!(" {}", passage.name) };
    let mut out = wrapped(&format!("{bank}: passage {}{name}", passage.id), 0);
    let mut row = |label: &str, words: &str| {
        let _ = writeln!(out, "{label:<14} {words}");
    };
    row("begin", &times.minute(passage.begin.as_deref()));
    let end = if passage.going_on { "goes on".to_owned() } else { times.minute(passage.end.as_deref()) };
    row("end", &format!("{end}  (times of {})", times.zone_name()));
    if let Some(summary) = &passage.summary {
        summary_rows(summary, times, &mut row);
    }
    if let Some(ledger) = &one.ledger {
        out.push_str(&ledger_table(ledger));
    }
    if !passage.note.is_empty() {
        out.push('\n');
        out.push_str(&wrapped(&passage.note, 0));
    }
    let ledger_notes = one.ledger.iter().flat_map(|ledger| &ledger.notes).filter(|note| !one.notes.contains(note));
    for note in one.notes.iter().chain(ledger_notes) {
        out.push('\n');
        out.push_str(&wrapped(note, 0));
    }
    out
}

fn summary_rows(summary: &SummaryView, times: &LocalTimes, row: &mut impl FnMut(&str, &str)) {
    let lasted = summary.duration_s.map_or_else(|| "not known".to_owned(), duration);
    row("lasted", &format!("{lasted}, of which {} are covered by samples", duration(summary.covered_s)));
    let moved = |out: f64, into: f64, net: f64, unit: &str| {
        format!("{out:.1} {unit} out, {into:.1} {unit} in, net {net:+.1} {unit}")
    };
    row("charge", &moved(summary.charge_out_ah, summary.charge_in_ah, summary.net_ah, "Ah"));
    let energy = [summary.energy_out_wh, summary.energy_in_wh, summary.net_wh].map(|wh| wh / 1000.0);
    row("energy", &format!("{:.2} kWh out, {:.2} kWh in, net {:+.2} kWh", energy[0], energy[1], energy[2]));
    row("at begin", &soc(summary.soc_begin));
    row("at end", &soc(summary.soc_end));
    let when = times.minute(summary.soc_lowest_time.as_deref());
    row("lowest", &format!("{} at {when}", soc(summary.soc_lowest)));
    let touched = if summary.reserve_touched {
        format!("touched: {} below it", duration(summary.below_reserve_s))
    } else {
        "not touched".to_owned()
    };
    row("reserve", &touched);
    let range = |low: &Option<AtView>, high: &Option<AtView>, unit: &str, decimals: usize| match (low, high) {
        (Some(low), Some(high)) => format!(
            "{:.decimals$} {unit} at {}, {:.decimals$} {unit} at {}",
            low.value,
            times.minute(low.time.as_deref()),
            high.value,
            times.minute(high.time.as_deref())
        ),
        _ => "not known".to_owned(),
    };
    row("voltage", &range(&summary.voltage_min, &summary.voltage_max, "V", 2));
    row("current", &range(&summary.current_min, &summary.current_max, "A", 1));
    row("power", &range(&summary.power_min, &summary.power_max, "W", 0));
    row("temperature", &range(&summary.temperature_min, &summary.temperature_max, "°C", 1));
    let (mean, most) = (number(summary.mean_load_a, 1), number(summary.load_95_a, 1));
    row("load", &format!("mean {mean} A, above {most} A for a twentieth of the time"));
    let above = [summary.above_c5_s, summary.above_c2_s, summary.above_1c_s].map(duration);
    row("high rates", &format!("above C/5 for {}, C/2 for {}, 1C for {}", above[0], above[1], above[2]));
    row("below half", &format!("{} times, and up again", summary.deep_excursions));
    if let Some(distance) = summary.distance_nm {
        let each = summary.wh_per_nm.map_or_else(String::new, |wh| format!(", {wh:.0} Wh for each"));
        row("distance", &format!("{distance:.1} nautical miles{each}"));
    }
}

/// What went through each branch.
pub fn ledger_table(ledger: &LedgerView) -> String {
    let mut out = String::from("\nbranch                     out Ah     in Ah   out kWh    in kWh   ± Ah (95 %)\n");
    let kilo = |wh: Option<f64>| number(wh.map(|wh| wh / 1000.0), 2);
    let mut row = |title: &str, [charge_out, charge_in, energy_out, energy_in, error]: [String; 5]| {
        let title = cut(title, 22);
        let _ = writeln!(out, "{title:<22} {charge_out:>10}{charge_in:>10}{energy_out:>10}{energy_in:>10}{error:>13}");
    };
    for branch in &ledger.branches {
        let title = if branch.computed { format!("{} (computed)", branch.title) } else { branch.title.clone() };
        let charge = [branch.charge_out_ah, branch.charge_in_ah].map(|ah| number(ah, 1));
        let [charge_out, charge_in] = charge;
        let error = number(branch.error_ah, 1);
        row(&title, [charge_out, charge_in, kilo(branch.energy_out_wh), kilo(branch.energy_in_wh), error]);
    }
    let [charge_out, charge_in] = [ledger.charge_out_ah, ledger.charge_in_ah].map(|ah| number(ah, 1));
    let energy = (kilo(ledger.energy_out_wh), kilo(ledger.energy_in_wh));
    row("the whole bank", [charge_out, charge_in, energy.0, energy.1, String::new()]);
    for (label, band) in [("lost in the bank", ledger.own_loss_ah), ("unaccounted for", ledger.unaccounted_ah)] {
        if let Some(band) = band {
            let _ = writeln!(out, "{label:<22} {:.1} Ah ({:.1} to {:.1})", band.value, band.low, band.high);
        }
    }
    out
}

fn soc(soc: Option<SocView>) -> String {
    soc.map_or_else(
        || "not known".to_owned(),
        |soc| format!("{:.0} % ({:.0} to {:.0})", 100.0 * soc.soc, 100.0 * soc.low, 100.0 * soc.high),
    )
}
