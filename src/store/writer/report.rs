//! How the writer behaves, and what it tells of its work.

/// How the writer behaves.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// Most bytes of closed chunks that wait in memory while the card takes nothing; beyond it they are thinned, and at
    /// last the oldest are lost; both is counted. An hour of three channels at 1 Hz is about 5,000 bytes.
    pub pending_bytes: usize,
}

impl Default for Options {
    fn default() -> Options {
        Options { pending_bytes: 8 << 20 }
    }
}

/// What became of a sample that was offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Appended {
    /// It will be in the next commit.
    Taken,
    /// Not later than the last one of its series in the same boot: counted and left out.
    Refused,
}

/// What a commit, or a note on the slate, did.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct CommitReport {
    /// Samples that it made safe.
    pub samples: usize,
    /// Chunks that this commit folded.
    pub chunks: usize,
    /// Samples refused since opening because they came twice or backwards.
    pub refused: u64,
    /// Samples thinned out since opening because memory was full before the card took them; their summaries are whole.
    pub thinned: u64,
    /// Samples and records lost since opening because memory was full all the same.
    pub lost: u64,
}
