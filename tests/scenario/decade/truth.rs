//! What is true of the decade.

use sim::life::{Life, Stretch, YEARS, year_begin_s};

const DAY_S: i64 = 86_400;

/// The truth, in seconds since the start of the life.
#[derive(Debug, Clone)]
pub struct Truth {
    /// What a skipper would call passages.
    pub passages: Vec<Stretch>,
    /// Capacity at the 20 h rate and 25 °C at the beginning of each day, Ah.
    pub capacity_ah: Vec<f64>,
    /// When the bank holds less than four fifths of its rated capacity.
    pub end_of_life_s: i64,
    /// The weak monobloc, from 1, and when it is 5 % behind the mean of the others.
    pub weak: (usize, i64),
    /// The load that is on no branch.
    pub unaccounted: Stretch,
    /// When the fade turns fast.
    pub knee_s: i64,
}

impl Truth {
    /// What is true of a life; it is laid down before it is lived.
    pub fn of(life: &Life) -> Truth {
        let script = life.script();
        let days = 0..=year_begin_s(YEARS) / DAY_S;
        Truth {
            passages: life.plan().passages.clone(),
            capacity_ah: days.map(|day| life.capacity_ah(day * DAY_S)).collect(),
            end_of_life_s: life.end_of_life_s().unwrap_or(i64::MAX),
            weak: (script.weak.index + 1, script.weak.behind_s),
            unaccounted: script.unaccounted.stretch,
            knee_s: script.knee_s,
        }
    }

    /// Capacity at a moment, Ah.
    pub fn capacity_at(&self, t_s: i64) -> f64 {
        let day = usize::try_from(t_s.div_euclid(DAY_S)).unwrap_or(0).min(self.capacity_ah.len() - 1);
        self.capacity_ah[day]
    }
}
