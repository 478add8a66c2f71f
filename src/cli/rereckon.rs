//! `taffrail rereckon`: the stored samples of a bank through its method again, and new results in the place of the old.

use std::fmt::Write as _;
use std::io::{IsTerminal, Write};
use std::ops::ControlFlow;
use std::path::PathBuf;

use super::Failure;
use super::import::main_series;
use super::reckon::load_bank;
use super::survey::look_at;
use crate::battery::Bank;
use crate::clock::Clock;
use crate::config::Config;
use crate::daemon::{
    DataDir, Ended, Progress, Report, Rereckoning, SAMPLES_PER_COMMIT, Standing, Wish, rereckon as reckon_again,
    store_path,
};
use crate::quantity::{BandedSoc, MonoMs, UtcMs};
use crate::reckoning::Start;
use crate::store::{Options, Writer};

/// Arguments of `rereckon`.
#[derive(Debug, clap::Args)]
pub struct RereckonArguments {
    /// Configuration file with the banks' descriptions and the data folder
    #[arg(long, value_name = "FILE")]
    config: PathBuf,
    /// Name of the bank in the configuration; all banks if not given
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
    /// Keep the results before this time, such as 2026-05-01T00:00:00Z; everything is reckoned again if not given.
    /// Reckoning begins at the last full fix up to then, or with an unknown charge if there is none
    #[arg(long, value_name = "TIME")]
    from: Option<jiff::Timestamp>,
    /// What is known of the charge where reckoning begins (at the first sample, or at --from): full, unknown, or a ratio
    /// such as 0.80
    #[arg(long)]
    start: Option<Start>,
}

/// Runs the command.
pub fn rereckon(arguments: &RereckonArguments) -> Result<(), Failure> {
    let (config, banks) = match &arguments.bank {
        Some(name) => load_bank(&arguments.config, name).map(|(config, bank)| (config, vec![bank]))?,
        None => {
            let config = Config::load(&arguments.config).map_err(Failure::input)?;
            let banks = config.banks.clone();
            (config, banks)
        }
    };
    let path = store_path(&config.data_dir);
    if !path.exists() {
        return Err(Failure::input(format!(
            "{}: there is no store to reckon again, expected one in data-dir",
            path.display()
        )));
    }
    let data_dir = DataDir::claim(&config.data_dir).map_err(|error| Failure::daemon(&error))?;
    let mut writer =
        Writer::open(&data_dir.store_path(), Options::default()).map_err(|error| Failure::daemon(&error))?;
    let mut found = false;
    for bank in &banks {
        found |= one_bank(arguments, &config, bank, &data_dir, &mut writer)?;
    }
    writer.close().map_err(|error| Failure::daemon(&error))?;
    if found {
        return Ok(());
    }
    let since = arguments.from.map_or_else(String::new, |from| format!(" from {from} on"));
    Err(Failure::input(format!("{}: no samples are stored to reckon again{since}", path.display())))
}

/// Reckons one bank again and says what changed; false if it has no samples.
fn one_bank(
    arguments: &RereckonArguments,
    config: &Config,
    bank: &Bank,
    data_dir: &DataDir,
    writer: &mut Writer,
) -> Result<bool, Failure> {
    let main = main_series(config, &bank.name).name;
    let from = arguments.from.map(|from| UtcMs(from.as_millisecond()));
    let wish = Wish { from, start: arguments.start };
    let job = Rereckoning {
        bank,
        method: config.method(&bank.name),
        main: &main,
        wish,
        samples_per_commit: SAMPLES_PER_COMMIT,
    };
    let mut meter = Meter::new(&bank.name);
    let ended = reckon_again(&job, writer, &data_dir.store_path(), &mut |progress| {
        meter.show(progress);
        ControlFlow::Continue(())
    });
    meter.end();
    match ended.map_err(|error| Failure::daemon(&error))? {
        Ended::Done(report) => {
            look_at(config, bank, &data_dir.store_path(), writer)?;
            writeln!(std::io::stdout(), "{}", words(&bank.name, &report))
                .map_err(|error| Failure::machine("cannot write to standard output", &error))?;
            Ok(true)
        }
        Ended::Nothing | Ended::Stopped => Ok(false),
    }
}

/// What changed, for people.
fn words(bank: &str, report: &Report) -> String {
    let Report { samples, unread, before, after } = report;
    let mut text = format!(
        "{bank}: {samples} samples reckoned again; fixes {} before, {} now; charge {} before, {} now; capacity {} before, {} now",
        before.fixes,
        after.fixes,
        charge(before),
        charge(after),
        capacity(before),
        capacity(after),
    );
    if unread.stretches > 0 {
        // Writing into a text cannot fail.
        let _ = write!(
            text,
            "\n{bank}: {} stored stretches with {} samples cannot be read; they are reckoned as time when nobody was watching",
            unread.stretches, unread.samples
        );
    }
    if unread.acts > 0 {
        let _ = write!(text, "\n{bank}: {} hand settings could not be repeated by this method", unread.acts);
    }
    text
}

fn charge(standing: &Standing) -> String {
    standing.latest.map_or_else(
        || "not known".to_owned(),
        |(BandedSoc { soc, band }, _)| {
            format!("{:.1} % ({:.1} to {:.1})", 100.0 * soc, 100.0 * band.low, 100.0 * band.high)
        },
    )
}

fn capacity(standing: &Standing) -> String {
    standing.latest.map_or_else(|| "not known".to_owned(), |(_, capacity_ah)| format!("{capacity_ah:.1} Ah"))
}

/// Shows the progress on standard error: in place on a terminal, otherwise a line each tenth.
struct Meter {
    bank: String,
    clock: Clock,
    begun: MonoMs,
    in_place: bool,
    shown: Option<u64>,
}

impl Meter {
    fn new(bank: &str) -> Meter {
        let clock = Clock::system();
        let in_place = std::io::stderr().is_terminal();
        Meter { bank: bank.to_owned(), begun: clock.mono(), clock, in_place, shown: None }
    }

    fn show(&mut self, progress: &Progress) {
        let Some(percent) = (100 * progress.done).checked_div(progress.total) else { return };
        let step = if self.in_place { percent } else { percent / 10 };
        // Once all is reckoned, what was replaced is removed: that is the last hundredth.
        if self.shown == Some(step) || (!self.in_place && step == 0) {
            return;
        }
        self.shown = Some(step);
        let took_s = self.clock.mono().seconds_since(self.begun);
        let left = left(took_s, progress);
        let text = format!("{}: {percent} %, {left} left", self.bank);
        let _ = if self.in_place {
            write!(std::io::stderr(), "\r{text:<50}")
        } else {
            writeln!(std::io::stderr(), "{text}")
        };
    }

    fn end(&self) {
        if self.in_place && self.shown.is_some() {
            let _ = write!(std::io::stderr(), "\r{:<50}\r", "");
        }
    }
}

/// Time left in words, if it goes on as so far.
#[expect(clippy::cast_precision_loss, reason = "counts far below 2^53")]
fn left(took_s: f64, progress: &Progress) -> String {
    let to_go = progress.total.saturating_sub(progress.done) as f64 / progress.done.max(1) as f64;
    match took_s * to_go {
        s if s < 90.0 => format!("{s:.0} s"),
        s if s < 5400.0 => format!("{:.0} min", s / 60.0),
        s => format!("{:.1} h", s / 3600.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_left_follows_from_what_is_done() {
        let progress = |done| Progress { done, total: 1000 };
        assert_eq!(left(10.0, &progress(500)), "10 s");
        assert_eq!(left(60.0, &progress(100)), "9 min");
        assert_eq!(left(3600.0, &progress(250)), "3.0 h");
        assert_eq!(left(5.0, &progress(1000)), "0 s");
    }
}
