//! The saved state of a bank's line: its reckoning, and since when what it learned is known.

use serde::{Deserialize, Serialize};

use crate::battery::Bank;
use crate::reckoning::{Reckoner, ResumeError, Since, TimeOff};

/// Form of the saved state. 1 was the text of the reckoning alone.
pub const STATE_VERSION: i64 = 2;

/// The saved state.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SavedState {
    /// The text of the reckoning.
    reckoner: String,
    /// Since when what it learned is known.
    pub since: Since,
}

impl SavedState {
    /// The text of a state, in the form of [`STATE_VERSION`].
    pub fn text_of(reckoner: &Reckoner, since: Since) -> String {
        let saved = SavedState { reckoner: reckoner.save(), since };
        serde_json::to_string(&saved).expect("texts and plain numbers always become JSON")
    }

    /// A state from a text of any form so far.
    ///
    /// # Errors
    /// [`ResumeError`] if the text is no such state.
    pub fn read(bank: &Bank, version: i64, text: &str) -> Result<SavedState, ResumeError> {
        if version < STATE_VERSION {
            return Ok(SavedState { reckoner: text.to_owned(), since: Since::default() });
        }
        serde_json::from_str(text).map_err(|cause| ResumeError { bank: bank.name.clone(), cause })
    }

    /// The reckoning, after some time off.
    ///
    /// # Errors
    /// [`ResumeError`] if its text is no such state.
    pub fn resume(&self, bank: &Bank, off: TimeOff) -> Result<Reckoner, ResumeError> {
        Reckoner::resume(bank.clone(), &self.reckoner, off)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::Chemistry;
    use crate::reckoning::{Method, Start};

    #[test]
    fn both_forms_are_read_and_garbage_is_refused() {
        let bank = Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
        let reckoner = Reckoner::begin(Method::Counter, bank.clone(), Start::At(0.8));
        let off = TimeOff::Known { seconds: 0.0 };
        for (version, text) in [(1, reckoner.save()), (2, SavedState::text_of(&reckoner, Since::default()))] {
            let again = SavedState::read(&bank, version, &text).and_then(|saved| saved.resume(&bank, off));
            assert!((again.expect("own text").report().soc - 0.8).abs() < 1e-9, "form {version}");
        }
        assert!(SavedState::read(&bank, 2, "{}").is_err());
        assert!(SavedState::read(&bank, 1, "{}").and_then(|saved| saved.resume(&bank, off)).is_err());
    }
}
