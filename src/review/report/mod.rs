//! Reports: one HTML file each, whole in itself, for the screen and for A4 paper. They open without network or scripts;
//! a reader's browser makes a PDF of them.

mod axis;
mod chart;
mod figures;
mod health;
mod page;
mod passage;
mod words;

pub use health::health;
pub use page::About;
pub use passage::{Trace, passage};
