//! What somebody does to the health record, on its way from a request to the task that writes.

use tokio::sync::oneshot;

use crate::store::{NoteRecord, PassageEdit};

/// What somebody asks of the health record. It is written at once, and then what follows from it is worked out.
#[derive(Debug)]
pub enum RecordOrder {
    /// Marks or changes passages; gives the number of the passage that it made or changed.
    Edit {
        /// What is done.
        edit: PassageEdit,
        /// Where the answer goes.
        reply: RecordReply,
    },
    /// Keeps a note; gives its number among the events.
    Note {
        /// The note.
        note: NoteRecord,
        /// Where the answer goes.
        reply: RecordReply,
    },
    /// Starts a capacity test; gives its number.
    StartTest {
        /// The bank.
        bank: String,
        /// What is asked of it.
        wish: TestWish,
        /// Where the answer goes.
        reply: RecordReply,
    },
    /// Stops the capacity test of a bank that is running; gives its number.
    StopTest {
        /// The bank.
        bank: String,
        /// Where the answer goes.
        reply: RecordReply,
    },
}

/// What somebody asks of a capacity test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestWish {
    /// The constant load, A (> 0).
    pub load_a: f64,
    /// Bank voltage at which it ends, V; that of the chemistry if not given.
    pub cut_off_v: Option<f64>,
    /// Begin although a precondition is not met; the result says so.
    pub anyway: bool,
}

/// Where the answer goes: what was done, or why it could not be done, for people.
pub type RecordReply = oneshot::Sender<Result<RecordDone, String>>;

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordDone {
    /// Number of the passage or test.
    pub id: i64,
    /// For people.
    pub text: String,
}
