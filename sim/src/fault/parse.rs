//! Faults written as text, for the command line.

use super::{Fault, Span};
use std::str::FromStr;

/// Why a fault could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ParseError {
    text: String,
    expected: &'static str,
}

impl std::fmt::Display for ParseError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "fault `{}`: expected {}", self.text, self.expected)
    }
}

impl std::error::Error for ParseError {}

const FORMS: &str = "drop-out=CHANCE, spike=CHANCE, garbage=CHANCE, stuck=CHANNEL@BEGIN+SECONDS, unplug=BEGIN+SECONDS or clock-step=AT:SECONDS";

impl FromStr for Fault {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        let wrong = |expected| ParseError { text: text.to_owned(), expected };
        let (name, value) = text.split_once('=').ok_or_else(|| wrong(FORMS))?;
        let chance = || {
            number(value)
                .filter(|chance| (0.0..=1.0).contains(chance))
                .ok_or_else(|| wrong("a chance between 0 and 1 after `=`"))
        };
        match name {
            "drop-out" => Ok(Self::DropOut(chance()?)),
            "spike" => Ok(Self::Spike(chance()?)),
            "garbage" => Ok(Self::Garbage(chance()?)),
            "stuck" => {
                let (channel, span) = value.split_once('@').ok_or_else(|| wrong("stuck=CHANNEL@BEGIN+SECONDS"))?;
                let span = parse_span(span).ok_or_else(|| wrong("stuck=CHANNEL@BEGIN+SECONDS"))?;
                Ok(Self::Stuck { channel: channel.to_owned(), span })
            }
            "unplug" => Ok(Self::Unplug(parse_span(value).ok_or_else(|| wrong("unplug=BEGIN+SECONDS"))?)),
            "clock-step" => {
                let parts = value.split_once(':').and_then(|(at, by)| Some((number(at)?, number(by)?)));
                let (at_s, by_s) = parts.ok_or_else(|| wrong("clock-step=AT:SECONDS"))?;
                Ok(Self::ClockStep { at_s, by_s })
            }
            _ => Err(wrong(FORMS)),
        }
    }
}

fn number(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

fn parse_span(text: &str) -> Option<Span> {
    let (begin, length) = text.split_once('+')?;
    Some(Span { begin_s: number(begin)?, length_s: number(length)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_is_read() {
        let span = Span { begin_s: 60.0, length_s: 10.5 };
        let forms = [
            ("drop-out=0.01", Fault::DropOut(0.01)),
            ("spike=0", Fault::Spike(0.0)),
            ("garbage=1", Fault::Garbage(1.0)),
            ("stuck=current_a@60+10.5", Fault::Stuck { channel: "current_a".into(), span }),
            ("unplug=60+10.5", Fault::Unplug(span)),
            ("clock-step=100:-3600", Fault::ClockStep { at_s: 100.0, by_s: -3600.0 }),
        ];
        for (text, fault) in forms {
            assert_eq!(text.parse(), Ok(fault));
        }
    }

    #[test]
    fn what_makes_no_sense_is_refused_with_what_was_expected() {
        for text in ["spike", "spike=2", "spike=NaN", "unplug=5", "stuck=5+5", "clock-step=1", "fire=1"] {
            let error = text.parse::<Fault>().unwrap_err().to_string();
            assert!(error.contains(text) && error.contains("expected"), "{error}");
        }
    }
}
