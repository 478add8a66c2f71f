//! What somebody aboard asks for, on its way from a request to the task that reckons.

use tokio::sync::oneshot;

/// What somebody aboard asks of a bank's reckoning.
#[derive(Debug)]
pub struct Order {
    /// Place of the bank in the configuration.
    pub bank: usize,
    /// What is asked.
    pub kind: OrderKind,
    /// Where the answer goes: what was done, or why it could not be done, for people.
    pub reply: oneshot::Sender<Result<Ordered, String>>,
}

/// What can be asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OrderKind {
    /// Somebody knows the state of charge.
    Fix {
        /// State of charge, 0..1.
        soc: f64,
        /// 1 σ of that knowledge, ratio.
        std_dev: f64,
    },
    /// Somebody knows that no current flows: what the sensor reads now is its offset.
    Zero,
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ordered {
    /// For people.
    pub text: String,
}
