//! The table that the bench programs print: what was measured, beside what must be met and what is aimed at.
#![expect(clippy::print_stdout, reason = "a table for people is all that it makes")]

use std::fmt::Display;

/// What a figure is held against. Larger is better if the aim is larger than the must.
#[derive(Debug, Clone, Copy)]
pub struct Goal {
    /// It has to be met.
    pub must: f64,
    /// It would be good to meet.
    pub aim: f64,
}

impl Goal {
    /// A goal.
    pub const fn new(must: f64, aim: f64) -> Goal {
        Goal { must, aim }
    }

    fn verdict(self, measured: f64) -> &'static str {
        let meets = |bound: f64| if self.aim > self.must { measured >= bound } else { measured <= bound };
        match (meets(self.aim), meets(self.must)) {
            (true, _) => "aim met",
            (false, true) => "must met",
            (false, false) => "MISSED",
        }
    }
}

/// The head of a table.
pub fn head(title: impl Display) {
    println!("\n{title}");
    println!("{:<58} {:>10} {:>8} {:>8}", "", "measured", "must", "aim");
}

/// A figure that has a goal.
pub fn row(what: &str, measured: f64, unit: &str, goal: Goal) {
    let (must, aim) = (number(goal.must), number(goal.aim));
    println!("{what:<58} {:>10} {must:>8} {aim:>8}  {unit}, {}", number(measured), goal.verdict(measured));
}

/// A figure that is only told.
pub fn told(what: &str, measured: f64, unit: &str) {
    println!("{what:<58} {:>10} {:>8} {:>8}  {unit}", number(measured), "", "");
}

/// A line of words.
pub fn say(line: impl Display) {
    println!("{line}");
}

/// Three digits that count.
fn number(value: f64) -> String {
    match value.abs() {
        size if size >= 100.0 => format!("{value:.0}"),
        size if size >= 10.0 => format!("{value:.1}"),
        size if size >= 1.0 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}
