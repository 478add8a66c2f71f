//! Ten years aboard, second by second: `cargo run --release --example decade`.
//!
//! Lives the simulated decade on one thread, reckons it on a second, stores it on a third, looks at what is stored, and prints what was found beside what is true and
//! what must be met. The branches report every ten seconds. `--step 10` has the main device do so too; `--directory` keeps the store, and a store that is
//! there is looked at again without being made anew. `--check` fails where a figure is missed.

#[path = "../../scenario/decade/mod.rs"]
mod decade;
#[path = "../table.rs"]
mod table;

use std::path::{Path, PathBuf};

use clap::Parser;
use sim::life::{Life, Rhythm};
use taffrail::clock::{Clock, SystemClock};
use taffrail::config::Config;
use taffrail::quantity::Estimate;
use taffrail::store::{Options, Writer, bytes_with_log};

use decade::found::{One, read, survey};
use decade::lines::{Line, judge};
use decade::produce::{ALL_DAYS, Produced, Result, configuration, produce};
use decade::truth::Truth;
use table::Goal;

/// Prints what was found in ten years beside what is true.
#[derive(Debug, Parser)]
struct Arguments {
    /// Everything follows from this number.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Seconds between two samples of the main device.
    #[arg(long, default_value_t = 1, value_parser = divides_an_hour)]
    step: i64,
    /// Folder in which the store is kept.
    #[arg(long)]
    directory: Option<PathBuf>,
    /// Print each finding of capacity beside the truth.
    #[arg(long)]
    findings: bool,
    /// Fail if something that must be met is missed.
    #[arg(long)]
    check: bool,
}

/// Producing ten years may take so long, min.
const PRODUCED_WITHIN: Goal = Goal::new(10.0, 5.0);

fn divides_an_hour(text: &str) -> std::result::Result<i64, String> {
    let step = text.parse().ok().filter(|step: &i64| (1..=10).contains(step) && 3600 % step == 0);
    step.ok_or_else(|| "expected whole seconds up to 10 that divide an hour".to_owned())
}

fn main() -> Result<()> {
    let arguments = Arguments::parse();
    let aside = tempfile::tempdir()?;
    let folder = arguments.directory.as_deref().unwrap_or(aside.path());
    std::fs::create_dir_all(folder)?;
    let store = folder.join("decade.sqlite");
    let config = configuration()?;
    let rhythm = Rhythm { main_s: arguments.step, branches_s: 10 };
    if !store.exists() {
        make(&store, &config, arguments.seed, rhythm)?;
    }
    let clock = Clock::new(SystemClock);
    let begun = clock.mono();
    let mut writer = Writer::open(&store, Options::default())?;
    let surveyed = survey(&store, &config, &mut writer)?;
    writer.close()?;
    let minutes = (clock.mono() - begun) as f64 / 60_000.0;
    table::head("what is stored, looked at");
    table::told("looked at", surveyed.looked_ms as f64 / 86_400_000.0, "days");
    table::told("time of it", minutes, "min");
    surveyed.notes.iter().for_each(table::say);
    let truth = Truth::of(&Life::new(arguments.seed, rhythm));
    let found = read(&store)?;
    if arguments.findings {
        list(&truth, &found.findings);
    }
    table::head("what was found, beside what must be met");
    let lines = judge(&truth, &found);
    for Line { what, measured, unit, goal } in &lines {
        match goal {
            Some((must, aim)) => table::row(what, *measured, unit, Goal::new(*must, *aim)),
            None => table::told(what, *measured, unit),
        }
    }
    let missed = lines.iter().filter(|line| !line.is_met()).count();
    if arguments.check && missed > 0 {
        Err(format!("{missed} of {} figures missed", lines.len()).into())
    } else {
        Ok(())
    }
}

/// Each finding of capacity, with its distance from the truth and that of all up to it.
fn list(truth: &Truth, findings: &[One]) {
    table::say(
        "\n    day  finding               Ah    ± 1 σ    off by    in σ  corrected  off by    in σ   together    off by    in σ",
    );
    for One { t_s, watched, rated_ah, for_trend_ah, believed, combined_ah } in findings {
        let true_ah = truth.capacity_at(*t_s);
        let beside = |known: &Estimate| {
            let off_ah = known.value - true_ah;
            (known.value, known.std_dev, 100.0 * off_ah / true_ah, off_ah / known.std_dev)
        };
        let (ah, std_dev, off, sigma) = beside(rated_ah);
        let told = |known: &Estimate| {
            let (ah, _, off, sigma) = beside(known);
            format!("{ah:10.2} {off:8.2} % {sigma:7.2}")
        };
        let (corrected, together) = (told(for_trend_ah), combined_ah.as_ref().map_or_else(String::new, told));
        let (day, word) = (t_s / 86_400, watched.word());
        let doubted = if *believed { "" } else { "  not believed" };
        table::say(format!(
            "{day:7}  {word:14} {ah:10.2} {std_dev:8.2} {off:8.2} % {sigma:7.2} {corrected} {together}{doubted}"
        ));
    }
}

/// Makes the store, under another name until it is whole.
fn make(store: &Path, config: &Config, seed: u64, rhythm: Rhythm) -> Result<()> {
    let clock = Clock::new(SystemClock);
    let begun = clock.mono();
    let unfinished = store.with_extension("unfinished");
    let Produced { spent, refused } = produce(&unfinished, config, seed, rhythm, ALL_DAYS)?;
    let minutes = (clock.mono() - begun) as f64 / 60_000.0;
    std::fs::rename(&unfinished, store)?;
    table::head(format!("ten years in samples of {} s, branches each {} s", rhythm.main_s, rhythm.branches_s));
    table::row("lived, reckoned and stored", minutes, "min", PRODUCED_WITHIN);
    for (part, s) in [
        ("living", spent.living_s),
        ("reckoning", spent.reckoning_s),
        ("storing", spent.storing_s),
        ("looking at it before each capacity test", spent.looking_s),
    ] {
        table::told(&format!("  processor time of {part}"), s / 60.0, "min");
    }
    table::told("capacity tests refused", refused.len() as f64, "");
    refused.iter().for_each(table::say);
    table::told("size of the store", bytes_with_log(store) as f64 / 1e6, "MB");
    Ok(())
}
