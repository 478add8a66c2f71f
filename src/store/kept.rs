//! What the health record keeps: passages, findings, capacity tests, and how far samples have been looked at.

use crate::health::Finding;
use crate::passage::{Found, Summary};
use crate::quantity::{Moment, UtcMs};
use crate::store::record::EventRecord;

/// Up to where a bank's samples have been looked at, and what is to be known to go on from there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SurveyState {
    /// The last moment that was looked at.
    pub at: Moment,
    /// Version of the state's form.
    pub version: i64,
    /// The state as JSON.
    pub state: String,
}

/// What came of looking at a stretch of samples: kept together, or not at all.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyBatch {
    /// The bank.
    pub bank: String,
    /// Where the next look begins.
    pub state: SurveyState,
    /// What was found.
    pub findings: Vec<Finding>,
    /// Passages that were found or have ended; one that is known by its beginning is brought up to date.
    pub passages: Vec<Found>,
    /// What people are to be told.
    pub events: Vec<EventRecord>,
    /// Capacity tests that have moved on: number, state, body.
    pub tests: Vec<(i64, TestState, String)>,
}

/// A finding as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredFinding {
    /// Number in the store.
    pub id: i64,
    /// The finding.
    pub finding: Finding,
    /// UTC of its first moment, if the boot can be placed.
    pub from_utc: Option<UtcMs>,
    /// UTC of its last moment, if the boot can be placed.
    pub to_utc: Option<UtcMs>,
}

/// Who marked a passage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// It was found in the data, and nobody has touched it.
    Found,
    /// Somebody marked or changed it: what is found later leaves it as it is.
    Hand,
}

impl Origin {
    /// As the store writes it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Origin::Found => "found",
            Origin::Hand => "hand",
        }
    }
}

/// A passage as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredPassage {
    /// Number in the store.
    pub id: i64,
    /// The bank.
    pub bank: String,
    /// Its first moment.
    pub begin: Moment,
    /// Its last moment; `None` while it goes on.
    pub end: Option<Moment>,
    /// UTC of its first moment, if the boot can be placed.
    pub begin_utc: Option<UtcMs>,
    /// UTC of its last moment.
    pub end_utc: Option<UtcMs>,
    /// Who marked it.
    pub origin: Origin,
    /// Name by hand; empty where there is none.
    pub name: String,
    /// Note by hand; empty where there is none.
    pub note: String,
    /// What it comes to; `None` until worked out.
    pub summary: Option<Summary>,
    /// True once its summary rests on the reconciled history of all of it.
    pub settled: bool,
}

/// What somebody does to passages. What is said of one by hand is kept whatever is found later.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PassageEdit {
    /// Marks a passage.
    Mark {
        /// The bank.
        bank: String,
        /// First moment.
        begin: Moment,
        /// Last moment.
        end: Moment,
        /// Name; may be empty.
        name: String,
    },
    /// Changes what is not `None`.
    Change {
        /// Number of the passage.
        id: i64,
        /// New name.
        name: Option<String>,
        /// New note.
        note: Option<String>,
        /// New first moment.
        begin: Option<Moment>,
        /// New last moment.
        end: Option<Moment>,
    },
    /// Makes one of several: the first keeps its number, and the names and notes of all are kept.
    Merge {
        /// Numbers of the passages, of the same bank.
        ids: Vec<i64>,
    },
    /// Cuts one in two; the later part is new.
    Split {
        /// Number of the passage.
        id: i64,
        /// Where; within the passage.
        at: Moment,
    },
    /// Says that it is no passage; it is not found again.
    Remove {
        /// Number of the passage.
        id: i64,
    },
}

impl PassageEdit {
    /// What was done, for people; `id` is the number of the passage that was made or changed.
    #[must_use]
    pub fn done(&self, id: i64) -> String {
        match self {
            PassageEdit::Mark { .. } => format!("Passage {id} is marked."),
            PassageEdit::Change { .. } => format!("Passage {id} is changed; what is found later leaves it as it is."),
            PassageEdit::Merge { ids } => format!("{} passages are one now: passage {id}.", ids.len()),
            PassageEdit::Split { id: cut, .. } => {
                format!("Passage {cut} is cut in two; the later part is passage {id}.")
            }
            PassageEdit::Remove { .. } => format!("Passage {id} is removed and will not be found again."),
        }
    }
}

/// How a capacity test stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TestState {
    /// It goes on.
    Running,
    /// It came to its cut-off.
    Ended,
    /// Somebody stopped it.
    Stopped,
    /// The load, the samples or the clock did not hold.
    Broken,
}

impl TestState {
    /// As the store writes it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            TestState::Running => "running",
            TestState::Ended => "ended",
            TestState::Stopped => "stopped",
            TestState::Broken => "broken",
        }
    }

    /// The state that a word stands for.
    #[must_use]
    pub fn of_word(word: &str) -> Option<TestState> {
        [TestState::Running, TestState::Ended, TestState::Stopped, TestState::Broken]
            .into_iter()
            .find(|state| state.word() == word)
    }
}

/// A capacity test as stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredTest {
    /// Number in the store.
    pub id: i64,
    /// The bank.
    pub bank: String,
    /// When it was started.
    pub at: Moment,
    /// UTC of that, if the boot can be placed.
    pub utc: Option<UtcMs>,
    /// How it stands.
    pub state: TestState,
    /// What is known of it, as JSON.
    pub body: String,
}
