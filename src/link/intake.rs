//! From bytes to checked values: splitter, decoder and limits, with everything counted. Sans I/O.
//!
//! The live port, the probe and the replay all go through here.

use crate::quantity::Channel;

use super::device::{DeviceSpec, Limit, SpecError};
use super::frame::{BadLine, Decoder, Field};
use super::line::{LineSplitter, Piece};
use super::tally::{Tally, add};

/// Longest excerpt of a bad line that is kept for people, in bytes of the line.
const EXCERPT: usize = 80;

/// Takes the bytes of one device.
#[derive(Debug)]
pub struct Intake {
    splitter: LineSplitter,
    checks: Checks,
}

/// What happens to a line; apart from the splitter, whose buffer may be lent out meanwhile.
#[derive(Debug)]
struct Checks {
    decoder: Decoder,
    channels: Vec<Channel>,
    limits: Vec<Option<Limit>>,
    values: Vec<Option<f64>>,
    tally: Tally,
    last_bad: Option<String>,
    last_refused: Option<String>,
}

impl Intake {
    /// An intake for a device.
    ///
    /// # Errors
    /// [`SpecError`] if the description contradicts itself.
    pub fn new(spec: &DeviceSpec) -> Result<Intake, SpecError> {
        spec.check_parts()?;
        Ok(Intake {
            splitter: LineSplitter::new(),
            checks: Checks {
                decoder: Decoder::new(&spec.frame, &spec.channels)?,
                channels: spec.channels.clone(),
                limits: spec.limits.clone(),
                values: vec![None; spec.channels.len()],
                tally: Tally::new(spec.channels.len()),
                last_bad: None,
                last_refused: None,
            },
        })
    }

    /// Drops what was begun, as after a closing: the next line is joined anew.
    pub fn restart(&mut self) {
        if self.splitter.restart() {
            add(&mut self.checks.tally.partial, 1);
        }
    }

    /// Takes bytes off the front of `input` up to and including the next good line, and gives the values of its
    /// channels, at least one of them present. `None` once `input` is used up.
    pub fn next_values(&mut self, input: &mut &[u8]) -> Option<&[Option<f64>]> {
        let before = input.len();
        let mut found = false;
        while !found && let Some(piece) = self.splitter.next(input) {
            match piece {
                Piece::Line(line) => found = self.checks.take(line),
                Piece::Overlong => add(&mut self.checks.tally.overlong, 1),
                Piece::Partial => add(&mut self.checks.tally.partial, 1),
            }
        }
        add(&mut self.checks.tally.bytes, before - input.len());
        found.then_some(&self.checks.values[..])
    }

    /// What was counted so far.
    #[must_use]
    pub fn tally(&self) -> &Tally {
        &self.checks.tally
    }

    pub(super) fn tally_mut(&mut self) -> &mut Tally {
        &mut self.checks.tally
    }

    /// The last line that was refused, printable, with the reason.
    #[must_use]
    pub fn last_bad(&self) -> Option<&str> {
        self.checks.last_bad.as_deref()
    }

    /// The last value that was refused, printable, with its channel and the reason.
    #[must_use]
    pub fn last_refused(&self) -> Option<&str> {
        self.checks.last_refused.as_deref()
    }
}

impl Checks {
    /// Takes a line; says whether `values` now hold a sample.
    fn take(&mut self, line: &[u8]) -> bool {
        add(&mut self.tally.lines, 1);
        if line.trim_ascii().is_empty() {
            add(&mut self.tally.blank, 1);
            return false;
        }
        match self.read(line) {
            Ok(()) => {
                add(&mut self.tally.samples, 1);
                true
            }
            Err(reason) => {
                self.tally.bad.count(reason);
                self.last_bad = Some(format!("{reason}: {}", excerpt(line)));
                false
            }
        }
    }

    fn read(&mut self, line: &[u8]) -> Result<(), BadLine> {
        let fields = self.decoder.decode(line)?;
        for (index, field) in fields.iter().enumerate() {
            let channel = &self.channels[index];
            let refused = &mut self.tally.refused[index];
            self.values[index] = match (*field, self.limits[index]) {
                (Field::Missing, _) => None,
                (Field::Unreadable, _) => {
                    add(&mut refused.unreadable, 1);
                    self.last_refused = Some(format!("{channel}: no number in {}", excerpt(line)));
                    None
                }
                (Field::Value(value), Some(limit)) if !limit.allows(value) => {
                    add(&mut refused.out_of_range, 1);
                    let Limit { low, high } = limit;
                    self.last_refused = Some(format!("{channel}: {value} is not within {low} to {high}"));
                    None
                }
                (Field::Value(value), _) => Some(value),
            };
        }
        if self.values.iter().any(Option::is_some) { Ok(()) } else { Err(BadLine::NoValue) }
    }
}

/// The front of a line, fit for a log or a page: what is not printable ASCII is shown as its code.
fn excerpt(line: &[u8]) -> String {
    let mut text = String::with_capacity(EXCERPT);
    for &byte in line.iter().take(EXCERPT) {
        if byte == b' ' || byte.is_ascii_graphic() {
            text.push(char::from(byte));
        } else {
            text.extend(byte.escape_ascii().map(char::from));
        }
    }
    if line.len() > EXCERPT {
        text.push('…');
    }
    text
}

#[cfg(test)]
mod tests;
