//! taffrail reckons what a battery bank holds, says how sure it is, and keeps every sample.
//!
//! # Map, and the dependency rule
//! Modules are listed from the pure core to the rim. A module may use those above it, never those below;
//! `tests/layering.rs` reads the `use` lines and fails on an arrow that runs back.
//!
//! | layer | modules | what |
//! |---|---|---|
//! | pure | [`quantity`] | units, moments, samples, estimates with their error |
//! | pure | [`battery`] | bank description, chemistries, Peukert, temperature |
//! | pure | [`reckoning`] | the running estimate, its fixes, endurance |
//! | pure | [`health`] | capacity, fade, resistance, balance, cycles, stress, advice |
//! | pure | [`passage`] | finding passages, summaries, ledger of branches |
//! | rim | [`clock`], [`link`], [`store`] | time, devices, SQLite |
//! | rim | [`review`] | what the store has about a bank, put together for page, commands and files |
//! | rim | [`export`] | files: tables of the store, reports |
//! | rim | [`http`] | the page and its API; reads the store through its reader only |
//! | rim | [`config`], [`daemon`], [`cli`] | settings, wiring, commands |
//!
//! Pure modules do no I/O, read no clock and log nothing: values in, values out.
//! Positive current charges the bank, everywhere.

// Tests beside the code share made-up minutes with those in `tests`, which call the crate by its name.
#[cfg(test)]
extern crate self as taffrail;

pub mod battery;
pub mod cli;
pub mod clock;
pub mod config;
pub mod daemon;
pub mod export;
pub mod health;
pub mod http;
pub mod link;
pub mod passage;
pub mod quantity;
pub mod reckoning;
pub mod review;
pub mod store;
