//! How wrong the reckoning is, and whether its band holds: `cargo run --release --example accuracy`.
//!
//! Prints one section after the other, a line for each trace and sign of the sensor's errors (+0.5 % and +50 mA, then
//! both the other way; noise, 10 mA and 10 mV steps; see `tests/support/trial/sensor.rs`). A value that misses the
//! project's goal carries a `*`. `--only physics` prints one section, `--method counter` the yardstick. Most sections
//! need the open data (`skipped: no shared data` where absent).

#[path = "../../support/mod.rs"]
mod support;

mod banks_found;
mod lines;
mod speed;
mod threads;
mod times;

use clap::{Parser, ValueEnum};
use taffrail::reckoning::Method;

use lines::Lines;

/// Prints the accuracy table.
#[derive(Debug, Parser)]
struct Arguments {
    /// Only this section; may be repeated.
    #[arg(long)]
    only: Vec<Section>,
    /// Method to try: filter or counter.
    #[arg(long, default_value = "filter")]
    method: Method,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Section {
    Physics,
    Own,
    LfpCell,
    Vrla,
    Aged,
    Endurance,
    Smoothed,
    Unknown,
    Disturbed,
    Speed,
}

impl Section {
    fn print(self, method: Method) -> Lines {
        match self {
            Section::Physics => lines::physics(method),
            Section::Own => lines::own(method),
            Section::LfpCell => lines::cells(method),
            Section::Vrla => banks_found::vrla(method),
            Section::Aged => banks_found::aged(method),
            Section::Endurance => times::endurance(method),
            Section::Smoothed => times::smoothed(method),
            Section::Unknown => times::unknown(method),
            Section::Disturbed => times::disturbed(method),
            Section::Speed => speed::year(method),
        }
    }
}

#[expect(clippy::print_stdout, reason = "a bench program prints its table")]
fn main() {
    let arguments = Arguments::parse();
    println!("{}, % of state of charge unless said otherwise; * misses the goal", arguments.method);
    let wanted = |section: &&Section| arguments.only.is_empty() || arguments.only.contains(section);
    for section in Section::value_variants().iter().filter(wanted) {
        print!("\n{}", section.print(arguments.method));
    }
}
