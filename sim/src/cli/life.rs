//! `sim life`: ten years aboard with the truth beside what the devices reported.

use super::positive;
use anyhow::Context;
use clap::Args;
use sim::life::{BRANCHES, Hour, Life, MAIN, Now, Rhythm};
use std::fs::File;
use std::io::{BufWriter, Write, stdout};
use std::path::PathBuf;

#[derive(Debug, Args)]
pub struct Options {
    /// Everything follows from this number.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Length in days from 1 April; ten years at the most.
    #[arg(long, default_value_t = 365.0, value_parser = positive)]
    days: f64,
    /// Seconds between rows; divides an hour.
    #[arg(long, value_name = "S", default_value_t = 10, value_parser = divides_an_hour)]
    step: i64,
    /// File to write instead of standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Columns after those of the devices. They are true at the end of each hour, and empty in other rows.
const TRUTH: [&str; 7] = [
    "under_way",
    "true_soc",
    "true_capacity_ah",
    "true_ohmic_factor",
    "true_weak_behind",
    "true_current_a",
    "true_voltage_v",
];

fn divides_an_hour(text: &str) -> Result<i64, String> {
    text.parse()
        .ok()
        .filter(|step: &i64| *step > 0 && 3600 % step == 0)
        .ok_or_else(|| "expected whole seconds that divide an hour".to_owned())
}

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
    let mut life = Life::new(options.seed, Rhythm { main_s: options.step, branches_s: options.step });
    let mut csv = csv::Writer::from_writer(sink);
    csv.write_record(["t_s"].iter().chain(&MAIN).chain(&BRANCHES).chain(&TRUTH))?;
    let mut hour = Hour::default();
    while (life.now().t_s as f64) < options.days * 86_400.0 && life.live_hour(&mut hour) {
        let now = life.now();
        for ((t_s, main), branches) in hour.main_s.iter().zip(&hour.main).zip(&hour.branches) {
            let passages = &life.plan().passages;
            let place = passages.partition_point(|passage| passage.end_s <= *t_s);
            let passage = passages.get(place).is_some_and(|passage| passage.holds(*t_s));
            let reported = main.iter().chain(branches).map(|value| value.to_string());
            let truth = truth(passage, (now.t_s == *t_s).then_some(now));
            csv.write_record(std::iter::once(t_s.to_string()).chain(reported).chain(truth))?;
        }
    }
    csv.flush()?;
    Ok(())
}

fn truth(passage: bool, now: Option<Now>) -> [String; 7] {
    let column = |places: usize, value: fn(&Now) -> f64| {
        now.as_ref().map_or_else(String::new, |now| format!("{:.places$}", value(now)))
    };
    [
        u8::from(passage).to_string(),
        column(6, |now| now.soc),
        column(4, |now| now.capacity_ah),
        column(5, |now| now.resistance_factor),
        column(5, |now| now.behind),
        column(4, |now| now.current_a),
        column(4, |now| now.voltage_v),
    ]
}
