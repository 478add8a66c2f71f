//! One harness for all tests that need more than one module; each module is an area.

mod cli;
mod daemon;
mod export;
mod http;
mod layering;
mod link;
mod minutes;
mod property;
mod reference;
mod scenario;
mod store;
mod support;
mod terminal;
