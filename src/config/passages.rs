//! `passages = { … }` of a bank: what makes a passage of it. What is left out follows from the bank.

use std::fmt;

use super::bank::set;
use super::section::Section;
use crate::passage::Rules;

/// What the file says.
#[derive(Default)]
pub struct Thresholds {
    drive_load_a: Option<f64>,
    sustained_s: Option<f64>,
    discharge_a: Option<f64>,
    discharge_share: Option<f64>,
    under_way_kn: Option<f64>,
    settled_s: Option<f64>,
}

/// Reads the thresholds of a bank's section; mistakes are noted.
pub fn read(section: &Section<'_>) -> Thresholds {
    let Some(table) = section.table("passages") else {
        return Thresholds::default();
    };
    let read = Thresholds {
        drive_load_a: table.number_in("drive-load-a", 0.001, 10_000.0, "0.001 to 10000 A"),
        sustained_s: table.number_in("sustained-s", 0.0, 86_400.0, "0 to 86400 s"),
        discharge_a: table.number_in("discharge-a", 0.001, 10_000.0, "0.001 to 10000 A"),
        discharge_share: table.number_in("discharge-share", 0.001, 1.0, "a ratio from 0.001 to 1"),
        under_way_kn: table.number_in("under-way-kn", 0.1, 50.0, "0.1 to 50 knots"),
        // A day without a minute under way is no stop on the way.
        settled_s: table.number_in("settled-s", 600.0, 86_400.0, "600 to 86400 s"),
    };
    table.finish();
    read
}

impl Thresholds {
    /// The rules, with what was said in place of what follows from the bank.
    pub fn over(self, mut rules: Rules) -> Rules {
        set(&mut rules.drive_load_a, self.drive_load_a);
        set(&mut rules.sustained_s, self.sustained_s);
        set(&mut rules.discharge_a, self.discharge_a);
        set(&mut rules.discharge_share, self.discharge_share);
        set(&mut rules.under_way_kn, self.under_way_kn);
        set(&mut rules.settled_s, self.settled_s);
        rules
    }
}

/// Writes the rules as [`read`] reads them.
pub fn show(f: &mut fmt::Formatter<'_>, rules: &Rules) -> fmt::Result {
    let Rules { drive_load_a, sustained_s, discharge_a, discharge_share, under_way_kn, settled_s } = rules;
    write!(
        f,
        "passages = {{ drive-load-a = {drive_load_a:?}, sustained-s = {sustained_s:?}, discharge-a = {discharge_a:?}, "
    )?;
    writeln!(f, "discharge-share = {discharge_share:?}, under-way-kn = {under_way_kn:?}, settled-s = {settled_s:?} }}")
}
