//! Where a current lies most of the time: minutes counted by level.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::quantity::Estimate;

/// Levels that are looked at together: a level may lie on the edge between two.
const TOGETHER: i32 = 2;

/// Minutes of a day by the current in them. Bounded by the minutes of a day.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Levels {
    width_a: f64,
    /// By number of the level: minutes, and sum of their currents, A.
    levels: BTreeMap<i32, (u32, f64)>,
}

impl Levels {
    pub fn new(width_a: f64) -> Levels {
        Levels { width_a, levels: BTreeMap::new() }
    }

    /// Takes the current of a minute, A.
    pub fn take(&mut self, current_a: f64) {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a float beyond the range is cut to it, and a wild one is no level"
        )]
        let number = (current_a / self.width_a).floor() as i32;
        let level = self.levels.entry(number).or_insert((0, 0.0));
        level.0 += 1;
        level.1 += current_a;
    }

    /// Minutes that were taken.
    pub fn minutes(&self) -> u32 {
        self.levels.values().map(|level| level.0).sum()
    }

    /// The lowest level at which the current lay for some time: at least `least` minutes and a twentieth of all. What
    /// passes by on its way from one level to another does not stay for that long.
    pub fn lowest(&self, least: u32) -> Option<Estimate> {
        let least = least.max(self.minutes() / 20);
        self.levels.keys().find_map(|&first| {
            let (minutes, sum) = self
                .levels
                .range(first..first + TOGETHER)
                .fold((0, 0.0), |(minutes, sum), (_, level)| (minutes + level.0, sum + level.1));
            // 1 σ of a mean over an interval in which anything is as likely, for independent minutes.
            let std_dev = f64::from(TOGETHER) * self.width_a / (12.0 * f64::from(minutes)).sqrt();
            (minutes >= least).then(|| Estimate { value: sum / f64::from(minutes), std_dev })
        })
    }
}
