//! `sim trace`: a record of a voyage with the truth beside what the shunt reported.

use super::{Source, positive};
use anyhow::Context;
use clap::Args;
use sim::boat::{BankTruth, Boat};
use std::fs::File;
use std::io::{BufWriter, Write, stdout};
use std::path::PathBuf;

#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    source: Source,
    /// Length in days.
    #[arg(long, default_value_t = 21.0, value_parser = positive)]
    days: f64,
    /// Seconds between rows.
    #[arg(long, value_name = "S", default_value_t = 1.0, value_parser = positive)]
    step: f64,
    /// File to write instead of standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Columns after the shunt's.
const TRUTH: [&str; 6] =
    ["true_soc", "true_capacity_ah", "true_current_a", "true_voltage_v", "true_temperature_c", "utc_s"];

pub fn run(options: &Options) -> anyhow::Result<()> {
    match &options.out {
        Some(path) => {
            let file = File::create(path).with_context(|| format!("creating {}", path.display()))?;
            write(options, BufWriter::new(file)).with_context(|| format!("writing {}", path.display()))
        }
        None => write(options, stdout().lock()).context("writing to standard output"),
    }
}

fn write(options: &Options, sink: impl Write) -> anyhow::Result<()> {
    let mut boat = options.source.boat();
    let mut schedule = options.source.schedule();
    let index = options.source.bank.index();
    let channels = boat.devices()[index].channels;
    let mut csv = csv::Writer::from_writer(sink);
    csv.write_record(["t_s"].iter().chain(channels).chain(&TRUTH))?;
    let begin_s = boat.elapsed_s();
    let mut values = Vec::new();
    while boat.elapsed_s() - begin_s < options.days * 86_400.0 {
        boat.advance(options.step);
        let t_s = boat.elapsed_s() - begin_s;
        boat.read(index, &mut values);
        if schedule.spoil_values(t_s, channels, &mut values) {
            let label = text(schedule.label_s(t_s));
            let reported = values.iter().map(|value| value.to_string());
            csv.write_record(std::iter::once(label).chain(reported).chain(truth(&boat, index)))?;
        }
    }
    csv.flush()?;
    Ok(())
}

fn truth(boat: &Boat, index: usize) -> [String; 6] {
    let BankTruth { soc, capacity_ah, current_a, voltage_v, temperature_c, .. } = boat.banks()[index];
    [
        format!("{soc:.6}"),
        format!("{capacity_ah:.4}"),
        format!("{current_a:.4}"),
        format!("{voltage_v:.4}"),
        format!("{temperature_c:.3}"),
        text(boat.utc_s()),
    ]
}

/// Seconds to the millisecond, without the dust of binary fractions.
fn text(seconds: f64) -> String {
    ((seconds * 1000.0).round() / 1000.0).to_string()
}
