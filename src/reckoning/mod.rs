//! The running estimate of what a bank holds, and how sure it is. Pure: readings in, estimates out.
//!
//! [`Reckoner`] is the seam: a method takes readings one by one, reports a [`Reckoned`] state at any time, survives gaps
//! and restarts by widening its band, and can be saved and resumed. [`Counter`] is the classic method behind it.
//!
//! Endurance and the picture ahead come from the charge that is really there and from what the bank can deliver at the
//! load ([`endurance()`], [`ahead`]); Peukert's law has its place there.

mod ahead;
mod counter;
mod doubt;
mod endurance;
mod filter;
mod full_watch;
pub mod gaussian;
mod load;
mod reckoner;
mod since;
mod terms;
mod traverse;

pub use ahead::{AheadPoint, ahead};
pub use counter::Counter;
pub use doubt::CAPACITY_STD_DEV_RATIO;
pub use endurance::{Endurance, Outlook, Span, deliverable, endurance, outlook, time_to_full};
pub use filter::Filter;
pub use load::MeanLoad;
pub use reckoner::Reckoner;
pub use since::{Since, SinceWhen};
pub use terms::{
    Bound, Fix, FixKind, Learned, Method, REST_RATE, Reckoned, ResumeError, Start, Suspicion, TimeOff, ZeroRefused,
};
pub use traverse::{Reconciled, Traverse};
