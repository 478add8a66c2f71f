//! The skipper's rules for the generator and for the converter between the banks.

use super::plan::{Agenda, Place};
use serde::{Deserialize, Serialize};

/// The generator starts by itself below this state of charge of the drive bank and then runs to the second.
const GENERATOR_STARTS: f64 = 0.36;
const GENERATOR_STOPS: f64 = 0.75;

/// What the skipper has switched on.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Skipper {
    /// Level that the running generator is to bring the drive bank to.
    until_soc: Option<f64>,
    /// Beginning of the last planned generator run that was begun, s.
    served_s: Option<f64>,
    converter_on: bool,
}

impl Skipper {
    /// Whether the generator runs.
    pub fn runs_generator(&self) -> bool {
        self.until_soc.is_some()
    }

    /// Whether the converter from drive to house bank is on.
    pub fn runs_converter(&self) -> bool {
        self.converter_on
    }

    /// Generator: on as planned, or when the drive bank is low; off when the level is reached or shore power is there. True when it has just started.
    pub fn mind_generator(&mut self, agenda: &Agenda, drive_soc: f64) -> bool {
        let in_marina = agenda.place == Place::Marina;
        if let Some(level) = self.until_soc {
            if drive_soc >= level || in_marina {
                self.until_soc = None;
            }
            return false;
        }
        if in_marina {
            return false;
        }
        match agenda.generate {
            Some((begin_s, level)) if self.served_s.is_none_or(|served_s| served_s < begin_s) && drive_soc < level => {
                self.until_soc = Some(level);
                self.served_s = Some(begin_s);
            }
            _ if drive_soc < GENERATOR_STARTS => self.until_soc = Some(GENERATOR_STOPS),
            _ => (),
        }
        self.runs_generator()
    }

    /// Converter: helps the house bank when that is low and the drive bank is not.
    pub fn mind_converter(&mut self, place: Place, drive_soc: f64, house_soc: f64) {
        let charging = place == Place::Marina || self.runs_generator();
        if charging || house_soc > 0.40 || drive_soc < 0.5 {
            self.converter_on = false;
        } else if house_soc < 0.30 && drive_soc > 0.6 {
            self.converter_on = true;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn agenda(place: Place, generate: Option<(f64, f64)>) -> Agenda {
        Agenda { place, drive: None, generate, valid_until_s: f64::MAX }
    }

    #[test]
    fn a_planned_run_is_begun_once_and_ends_at_its_level() {
        let mut skipper = Skipper::default();
        let planned = agenda(Place::Anchor, Some((100.0, 0.8)));
        assert!(skipper.mind_generator(&planned, 0.6));
        assert!(!skipper.mind_generator(&planned, 0.7) && skipper.runs_generator());
        assert!(!skipper.mind_generator(&planned, 0.8) && !skipper.runs_generator());
        assert!(!skipper.mind_generator(&planned, 0.7), "the same run is not begun twice");
        assert!(skipper.mind_generator(&planned, 0.35), "a low bank always starts it");
        let marina = agenda(Place::Marina, None);
        assert!(!skipper.mind_generator(&marina, 0.3) && !skipper.runs_generator());
    }

    #[test]
    fn the_converter_helps_only_a_low_house_bank_from_a_well_filled_drive_bank() {
        let mut skipper = Skipper::default();
        let mut on = |place, drive, house| {
            skipper.mind_converter(place, drive, house);
            skipper.runs_converter()
        };
        assert!(!on(Place::Anchor, 0.55, 0.2));
        assert!(on(Place::Anchor, 0.7, 0.2));
        assert!(on(Place::Anchor, 0.55, 0.35), "it stays on in between");
        assert!(!on(Place::Anchor, 0.45, 0.35));
        assert!(on(Place::Anchor, 0.7, 0.2) && !on(Place::Marina, 0.7, 0.2));
    }
}
