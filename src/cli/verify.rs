//! `taffrail verify`: is everything in the store as it must be?

use std::io::{IsTerminal, Write};
use std::path::Path;

use super::Failure;
use super::which::WhichStore;
use crate::clock::Clock;
use crate::quantity::MonoMs;
use crate::store::{self, Error, Progress, Verified, span_words};

/// Arguments of `verify`.
#[derive(Debug, clap::Args)]
pub struct VerifyArguments {
    #[command(flatten)]
    which: WhichStore,
}

/// Least time between two lines about progress, ms; on a terminal they replace each other.
const TELL_EVERY_MS: i64 = 1000;
const LOG_EVERY_MS: i64 = 30_000;

/// Runs the command.
pub fn verify(arguments: &VerifyArguments) -> Result<(), Failure> {
    let path = arguments.which.named()?.store;
    if !path.is_file() {
        return Err(Failure::input(format!("{}: there is no such file, expected a store", path.display())));
    }
    let mut teller = Teller::new();
    let verified = store::verify(&path, &mut |progress| teller.tell(progress)).map_err(|error| match error {
        Error::NotOurs { .. } | Error::TooNew { .. } => Failure::input(error),
        other => Failure::daemon(&other),
    })?;
    teller.end();
    report(&path, &verified)
}

fn report(path: &Path, verified: &Verified) -> Result<(), Failure> {
    for finding in &verified.findings {
        say(&finding.to_string())?;
    }
    if verified.further > 0 {
        say(&format!("and {} more", verified.further))?;
    }
    for line in &verified.set_aside {
        say(&format!("set aside earlier: {line}"))?;
    }
    let span = match verified.span {
        Some((from, to)) => format!(" {}", span_words(Some((from, to)), crate::quantity::BootNo(0), 0, 0)),
        None => String::new(),
    };
    let proved = format!("{} samples proved{span}", verified.samples);
    if verified.not_provable > 0 {
        say(&format!(
            "{} sums of hours and days reach into what cannot be read, or was thinned, and are not proved",
            verified.not_provable
        ))?;
    }
    if verified.is_sound() {
        return say(&format!("{}: sound; {proved}", path.display()));
    }
    let number = verified.findings.len() as u64 + verified.further;
    let things = if number == 1 { "1 thing is" } else { &format!("{number} things are") };
    say(&format!("{}: not sound; {proved}", path.display()))?;
    Err(Failure::found(format!("{}: {things} not as it must be, listed above; nothing was changed", path.display())))
}

fn say(text: &str) -> Result<(), Failure> {
    writeln!(std::io::stdout(), "{text}").map_err(|error| Failure::machine("cannot write to standard output", &error))
}

/// Tells on standard error how far it is, and how long it will take.
struct Teller {
    clock: Clock,
    on_terminal: bool,
    /// When the first sample was done.
    began: Option<MonoMs>,
    told: MonoMs,
}

impl Teller {
    fn new() -> Teller {
        let clock = Clock::system();
        Teller { told: clock.mono(), clock, on_terminal: std::io::stderr().is_terminal(), began: None }
    }

    fn tell(&mut self, progress: Progress) {
        let now = self.clock.mono();
        let text = match progress {
            Progress::Pages => "looking at the pages of the file".to_owned(),
            Progress::Samples { done, of } => {
                let began = *self.began.get_or_insert(now);
                let every_ms = if self.on_terminal { TELL_EVERY_MS } else { LOG_EVERY_MS };
                if now - self.told < every_ms {
                    return;
                }
                format!(
                    "{} % of {of} samples{}",
                    done * 100 / of.max(1),
                    left_words(now.seconds_since(began), done, of)
                )
            }
        };
        self.told = now;
        let (before, after) = if self.on_terminal { ("\r", "   ") } else { ("", "\n") };
        // Nobody needs to see it.
        let _ = write!(std::io::stderr(), "{before}{text}{after}");
    }

    fn end(&self) {
        if self.on_terminal {
            let _ = writeln!(std::io::stderr());
        }
    }
}

/// How long is left, if so many of so many took so many seconds.
#[expect(clippy::cast_precision_loss, reason = "counts of samples, far below 2^53")]
fn left_words(seconds: f64, done: u64, of: u64) -> String {
    let left_s = seconds * of.saturating_sub(done) as f64 / (done.max(1)) as f64;
    match left_s {
        s if s < 90.0 => format!(", about {s:.0} s left"),
        s => format!(", about {:.0} min left", s / 60.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_takes_as_long_a_sample_as_what_is_done() {
        assert_eq!(left_words(10.0, 100, 400), ", about 30 s left");
        assert_eq!(left_words(60.0, 100, 1100), ", about 10 min left");
        assert_eq!(left_words(60.0, 500, 400), ", about 0 s left");
    }
}
