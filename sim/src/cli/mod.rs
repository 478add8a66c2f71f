//! Commands and their options.

mod life;
mod pace;
mod port;
mod trace;

use clap::{Args, Parser, Subcommand, ValueEnum};
use sim::boat::Boat;
use sim::fault::{Fault, Schedule};

/// A simulated motor-sailer with a 48 V lead-carbon drive bank and a 25.6 V lithium house bank.
#[derive(Debug, Parser)]
#[command(name = "sim", version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Play a shunt on a pseudo-terminal that another program opens like a serial port.
    Pty(port::Options),
    /// Write a trace as CSV: what the shunt reported, then the truth.
    Trace(trace::Options),
    /// Write ten years with one drive bank as CSV: what its shunt reported, then the truth.
    Life(life::Options),
}

/// What both commands share.
#[derive(Debug, Args)]
struct Source {
    /// Which bank's shunt.
    #[arg(long, value_enum, default_value_t = BankName::Drive)]
    bank: BankName,
    /// Everything follows from this number.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Beginning, in seconds since 1970-01-01T00:00:00Z; the sun depends on it. The default is 2026-06-01.
    #[arg(long, value_name = "UTC_S", default_value_t = 1_780_272_000)]
    start: i64,
    /// Days of the voyage that have passed before the first sample.
    #[arg(long, value_name = "DAYS", default_value_t = 0.0, value_parser = not_negative)]
    skip_days: f64,
    /// A fault, repeatable. Forms: drop-out=CHANCE, spike=CHANCE, garbage=CHANCE, stuck=CHANNEL@BEGIN+SECONDS, unplug=BEGIN+SECONDS,
    /// clock-step=AT:SECONDS. Times in simulated seconds since the first sample; garbage shows only on a pseudo-terminal, clock-step only in a trace.
    #[arg(long = "fault", value_name = "NAME=VALUE")]
    faults: Vec<Fault>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum BankName {
    Drive,
    House,
}

impl Source {
    fn boat(&self) -> Boat {
        let mut boat = Boat::new(self.seed, self.start);
        boat.advance(self.skip_days * 86_400.0);
        boat
    }

    fn schedule(&self) -> Schedule {
        Schedule::new(self.faults.clone(), self.seed)
    }
}

impl BankName {
    /// Index of the bank and of its device; both come in the same order.
    fn index(self) -> usize {
        match self {
            Self::Drive => 0,
            Self::House => 1,
        }
    }
}

/// Reads the command line and does what it says.
pub fn run() -> anyhow::Result<()> {
    match Cli::parse().command {
        Command::Pty(options) => port::run(&options),
        Command::Trace(options) => trace::run(&options),
        Command::Life(options) => life::run(&options),
    }
}

fn positive(text: &str) -> Result<f64, String> {
    text.parse()
        .ok()
        .filter(|number: &f64| number.is_finite() && *number > 0.0)
        .ok_or_else(|| "expected a number above 0".to_owned())
}

fn not_negative(text: &str) -> Result<f64, String> {
    text.parse()
        .ok()
        .filter(|number: &f64| number.is_finite() && *number >= 0.0)
        .ok_or_else(|| "expected a number, 0 or above".to_owned())
}
