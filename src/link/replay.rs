//! A recorded log of bytes through the code that live bytes go through.

use crate::quantity::{Moment, Sample};

use super::device::{DeviceSpec, SpecError};
use super::intake::Intake;
use super::tally::Tally;

/// What a replay found besides its samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Replayed {
    /// What was counted.
    pub tally: Tally,
    /// The last line that was refused, with the reason.
    pub last_bad: Option<String>,
    /// The last value that was refused, with its channel and the reason.
    pub last_refused: Option<String>,
}

/// Reads `bytes` as if they came from the port of `spec`, from an opening to a closing: the line in which the log
/// begins is dropped, and so is one in which it ends. `stamp` is asked once per sample.
///
/// # Errors
/// [`SpecError`] if the description contradicts itself.
pub fn replay(
    spec: &DeviceSpec,
    bytes: &[u8],
    mut stamp: impl FnMut() -> Moment,
    mut sink: impl FnMut(Sample),
) -> Result<Replayed, SpecError> {
    let mut intake = Intake::new(spec)?;
    let mut rest = bytes;
    while let Some(values) = intake.next_values(&mut rest) {
        sink(Sample { at: stamp(), values: values.to_vec() });
    }
    intake.restart();
    Ok(Replayed {
        tally: intake.tally().clone(),
        last_bad: intake.last_bad().map(str::to_owned),
        last_refused: intake.last_refused().map(str::to_owned),
    })
}
