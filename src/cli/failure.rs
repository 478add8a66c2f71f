//! A command that could not do its work: what to print, and the exit code.

use std::fmt::Display;
use std::io::Write;

use crate::config;
use crate::store;

/// What was looked for was found: the store is not sound.
const FOUND: u8 = 1;
/// Bad input or usage.
const USAGE: u8 = 2;
/// A device is not to be had (sysexits EX_UNAVAILABLE).
const UNAVAILABLE: u8 = 69;
/// A fault of the program or of the machine (sysexits EX_SOFTWARE).
const SOFTWARE: u8 = 70;
/// A permission is missing (sysexits EX_NOPERM).
const PERMISSION: u8 = 77;
/// A configuration with mistakes (sysexits EX_CONFIG).
const CONFIG: u8 = 78;

/// Why a command ended without its result.
#[derive(Debug)]
pub struct Failure {
    code: u8,
    text: String,
}

impl Failure {
    /// Wrong arguments, as the argument parser tells it.
    pub(super) fn usage(error: &clap::Error) -> Failure {
        Failure { code: USAGE, text: error.render().to_string().trim_end().to_owned() }
    }

    /// Wrong input: what, where, and what was expected.
    pub(super) fn input(text: impl Display) -> Failure {
        Failure { code: USAGE, text: text.to_string() }
    }

    /// What was looked at is not as it must be; what was found is told already.
    pub(super) fn found(text: String) -> Failure {
        Failure { code: FOUND, text }
    }

    /// A configuration that the daemon cannot start with.
    pub(super) fn config(error: &config::Error) -> Failure {
        Failure { code: CONFIG, text: error.to_string() }
    }

    /// The machine did not let us.
    pub(super) fn machine(what: impl Display, cause: &std::io::Error) -> Failure {
        let code = if cause.kind() == std::io::ErrorKind::PermissionDenied { PERMISSION } else { SOFTWARE };
        Failure { code, text: format!("{what}: {cause}") }
    }

    /// Whoever asked may not.
    pub(super) fn permission(text: String) -> Failure {
        Failure { code: PERMISSION, text }
    }

    /// Something that should be there is not.
    pub(super) fn unavailable(text: String) -> Failure {
        Failure { code: UNAVAILABLE, text }
    }

    /// The daemon could not start or go on.
    pub(super) fn daemon(error: &impl Display) -> Failure {
        Failure { code: SOFTWARE, text: error.to_string() }
    }

    /// What was asked of passages cannot be done, or could not be written.
    pub(super) fn passage(error: &store::Error) -> Failure {
        if matches!(error, store::Error::Passage(_)) { Failure::input(error) } else { Failure::daemon(error) }
    }

    /// The exit code.
    #[must_use]
    pub const fn code(&self) -> u8 {
        self.code
    }

    /// Prints the text to standard error.
    pub fn tell(&self) {
        // Nothing is left to do if even standard error is closed.
        let _ = writeln!(std::io::stderr(), "taffrail: {}", self.text);
    }
}
