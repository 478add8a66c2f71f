//! Prints what the store costs: `cargo run --release --example store_bench -- --directory DIR`.
//!
//! Bytes a sample come from a year of a bank's three channels at 1 Hz with noise of one and of two steps; the other
//! figures from fifteen years of it in boots of ten days, with the reckoned track, corrections and events beside. Making
//! those takes minutes and 800 MB: the directory keeps them for the next time. Without one, all goes when it ends.
//! Times are processor time of this one thread, means of many runs.

#[path = "../table.rs"]
mod table;

mod make;
mod size;
mod source;
mod speed;

use std::path::PathBuf;

use clap::{Parser, ValueEnum};
use taffrail::clock::Clock;

/// Prints size and speed of the store beside their goals.
#[derive(Debug, Parser)]
struct Arguments {
    /// Folder that keeps the stores that are made, and where they are looked for; a passing one if not given.
    #[arg(long)]
    directory: Option<PathBuf>,
    /// Length of the long store, in years of 365 days.
    #[arg(long, default_value_t = 15)]
    years: i64,
    /// Only this part; may be repeated.
    #[arg(long)]
    only: Vec<Part>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Part {
    /// Bytes a sample.
    Size,
    /// Charts at every step.
    Charts,
    /// Samples of a day, and of all years.
    Samples,
    /// Opening, and what a start looks up.
    Opening,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments = Arguments::parse();
    let scratch = tempfile::tempdir()?;
    let directory = arguments.directory.clone().unwrap_or_else(|| scratch.path().to_owned());
    std::fs::create_dir_all(&directory)?;
    let clock = Clock::system();
    let long = directory.join("taffrail.sqlite");
    let wanted = |part| arguments.only.is_empty() || arguments.only.contains(&part);
    if wanted(Part::Size) {
        size::sizes(&directory, &clock)?;
    }
    if arguments.only == [Part::Size] {
        return Ok(());
    }
    if !long.exists() {
        table::say(format_args!("making {} years in {}", arguments.years, long.display()));
        let begun = clock.mono();
        let unfinished = directory.join("unfinished.sqlite");
        make::years(&unfinished, arguments.years)?;
        std::fs::rename(&unfinished, &long)?;
        let samples = arguments.years * 365 * 86_400;
        table::told("import", samples as f64 / clock.mono().seconds_since(begun) / 1e6, "M samples/s");
    }
    if wanted(Part::Samples) {
        speed::samples(&long, arguments.years, &clock)?;
    }
    if wanted(Part::Charts) {
        speed::charts(&long, arguments.years, &clock)?;
    }
    if wanted(Part::Opening) {
        speed::opening(&long, &clock)?;
    }
    Ok(())
}
