//! The daemon as a program: fed through a pseudo-terminal, asked over HTTP, ended by signals.

pub mod wire;
