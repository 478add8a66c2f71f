//! The store as a whole: crashes, restarts, long histories.
