//! Why there is no forecast yet, in words.

/// Why no date is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NotYet {
    /// Too few findings.
    Few {
        /// Findings so far.
        have: usize,
        /// Findings that are needed.
        need: usize,
    },
    /// The findings lie too close together in x.
    Short {
        /// From the first finding to the last.
        have: f64,
        /// What is needed.
        need: f64,
    },
    /// The findings scatter so much that the range says nothing of use.
    Wide {
        /// The 90 % range begins here.
        from: f64,
        /// And ends here.
        to: f64,
    },
    /// All findings at one place, or nothing that fade can look like.
    Unlike,
}

impl NotYet {
    /// The reason as a sentence; `unit` is what x counts: `days`, `cycles`.
    #[must_use]
    pub fn words(&self, unit: &str) -> String {
        match self {
            NotYet::Few { have, need } => format!(
                "Not enough yet: {have} of {need} capacity findings. Each needs a deep discharge between two moments at \
                 which the charge is known, such as full and rest."
            ),
            NotYet::Short { have, need } => format!(
                "Not enough yet: the findings cover {have:.0} {unit}; {need:.0} are needed before fade can be told from scatter."
            ),
            NotYet::Wide { from, to } => format!(
                "Not enough yet: the findings scatter too much. The end of life could lie anywhere from {from:.0} to \
                 {to:.0} {unit}. A capacity test narrows it."
            ),
            NotYet::Unlike => {
                "Not enough yet: the findings lie at one moment, or look like no fade that is known.".to_owned()
            }
        }
    }
}
