//! What `backup` and `restore` say alike.

use std::io::Write;

use super::Failure;
use crate::store::{Copied, CopyError, CopyStep};

/// Pieces named one by one; the rest are only counted.
const NAMED: usize = 5;

pub fn words_for(step: CopyStep) -> &'static str {
    match step {
        CopyStep::Copying => "copying",
        CopyStep::Checking => "reading back",
    }
}

pub fn failure(error: &CopyError) -> Failure {
    match error {
        CopyError::Exists(_)
        | CopyError::IsTheStore(_)
        | CopyError::IsFolder(_)
        | CopyError::Beside(_)
        | CopyError::Broken { .. } => Failure::input(error),
        CopyError::File { path, what, cause } => Failure::machine(format!("cannot {what} {}", path.display()), cause),
        CopyError::Store(_) | CopyError::NoRoom { .. } | CopyError::ReadsBackWrong(_) => Failure::daemon(error),
    }
}

/// How a copy was found, in words that fit what [`tell_broken`] adds.
pub fn verdict(copied: &Copied) -> &'static str {
    if copied.soundness.broken.is_empty() { "sound" } else { "sound but for what is named below" }
}

/// Names the pieces of `whose` that cannot be read.
pub fn tell_broken(copied: &Copied, whose: &str) {
    let broken = &copied.soundness.broken;
    let say = |text: String| {
        // Nobody may be listening.
        let _ = writeln!(std::io::stderr(), "{text}");
    };
    match broken.len() {
        0 => {}
        1 => say(format!("one piece of {whose} cannot be read and was copied as it is:")),
        many => say(format!("{many} pieces of {whose} cannot be read and were copied as they are:")),
    }
    broken.iter().take(NAMED).for_each(|piece| say(format!("  {piece}")));
    if broken.len() > NAMED {
        say(format!("  and {} more", broken.len() - NAMED));
    }
}
