//! Since when each learned quantity has been known about as well as now.

use serde::{Deserialize, Serialize};

use super::terms::Learned;
use crate::quantity::{BootNo, Moment, MonoMs, UtcMs};

/// A 1 σ below this part of the noted one is news: the quantity is known better than it was then.
const NARROWER: f64 = 0.9;
/// A 1 σ above this multiple of the noted one is news too: it is no longer known so well.
const WIDER: f64 = 1.5;

/// What was noted of one quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Noted {
    std_dev: f64,
    /// As far as was known then.
    utc_ms: i64,
    /// Boot and monotonic time; states of before it was noted have none.
    #[serde(default)]
    moment: Option<(u32, i64)>,
}

impl Noted {
    fn at(&self) -> Option<Moment> {
        self.moment.map(|(boot, mono_ms)| Moment { boot: BootNo(boot), mono: MonoMs(mono_ms) })
    }
}

/// Since when a quantity has been known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SinceWhen {
    /// UTC, as far as was known when it was noted or placed last.
    pub utc: UtcMs,
    /// The moment, which no correction of the clock moves; `None` in states from before it was noted.
    pub at: Option<Moment>,
}

/// For each field of [`Learned`], in their order, when its error was about as small as now for the first time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Since([Option<Noted>; 5]);

impl Since {
    /// Looks at what is known at a moment, which is `utc` as far as is known.
    pub fn look(&mut self, learned: &Learned, at: Moment, utc: UtcMs) {
        let Learned { capacity_ah, charge_efficiency, sensor_offset_a, resistance_25_ohm, ocv_shift_v } = learned;
        let now = [capacity_ah, charge_efficiency, sensor_offset_a, resistance_25_ohm, ocv_shift_v];
        for (noted, now) in self.0.iter_mut().zip(now) {
            let about_as_well =
                noted.is_some_and(|noted| (NARROWER * noted.std_dev..=WIDER * noted.std_dev).contains(&now.std_dev));
            if !about_as_well {
                *noted = Some(Noted { std_dev: now.std_dev, utc_ms: utc.0, moment: Some((at.boot.0, at.mono.0)) });
            }
        }
    }

    /// Since when, in the order of the fields of [`Learned`]; `None` where nothing is learned.
    #[must_use]
    pub fn times(&self) -> [Option<SinceWhen>; 5] {
        self.0.map(|noted| noted.map(|noted| SinceWhen { utc: UtcMs(noted.utc_ms), at: noted.at() }))
    }

    /// Places each anew by what is known of the clocks now; one whose boot `utc` does not know keeps its time.
    pub fn place(&mut self, utc: impl Fn(Moment) -> Option<UtcMs>) {
        for noted in self.0.iter_mut().flatten() {
            if let Some(utc) = noted.at().and_then(&utc) {
                noted.utc_ms = utc.0;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Estimate;

    fn learned(capacity_std_dev: f64) -> Learned {
        let known = Estimate { value: 1.0, std_dev: 0.1 };
        Learned {
            capacity_ah: Estimate { value: 120.0, std_dev: capacity_std_dev },
            charge_efficiency: known,
            sensor_offset_a: known,
            resistance_25_ohm: known,
            ocv_shift_v: known,
        }
    }

    fn moment(mono_ms: i64) -> Moment {
        Moment { boot: BootNo(3), mono: MonoMs(mono_ms) }
    }

    #[test]
    fn the_time_moves_when_a_band_has_become_clearly_narrower_or_wider() {
        let mut since = Since::default();
        assert_eq!(since.times(), [None; 5]);
        let mut seen = |std_dev, at| {
            since.look(&learned(std_dev), moment(at), UtcMs(at));
            since.times()[0].map(|since| since.utc)
        };
        assert_eq!(seen(10.0, 1), Some(UtcMs(1)));
        assert_eq!(seen(9.1, 2), Some(UtcMs(1)), "hardly narrower");
        assert_eq!(seen(8.9, 3), Some(UtcMs(3)), "narrower than nine tenths of what was noted");
        assert_eq!(seen(13.3, 4), Some(UtcMs(3)), "a little wider");
        assert_eq!(seen(13.4, 5), Some(UtcMs(5)), "half as wide again");
        assert_eq!(since.times()[1].map(|since| since.utc), Some(UtcMs(1)), "each quantity has its own time");
    }

    #[test]
    fn what_is_saved_comes_back() {
        let mut since = Since::default();
        since.look(&learned(5.0), moment(7), UtcMs(7));
        let text = serde_json::to_string(&since).expect("plain numbers");
        assert_eq!(serde_json::from_str::<Since>(&text).expect("own text"), since);
    }

    #[test]
    fn a_time_follows_its_moment_and_one_without_a_moment_stays() {
        let mut since = Since::default();
        since.look(&learned(5.0), moment(7), UtcMs(7));
        since.place(|at| Some(UtcMs(at.mono.0 + 1000)));
        assert_eq!(since.times()[0], Some(SinceWhen { utc: UtcMs(1007), at: Some(moment(7)) }));
        since.place(|_| None);
        assert_eq!(since.times()[0].map(|since| since.utc), Some(UtcMs(1007)), "a boot that cannot be placed");
        let noted = r#"{"std_dev":0.1,"utc_ms":7}"#;
        let mut old: Since = serde_json::from_str(&format!("[{noted},null,null,null,null]")).expect("an earlier form");
        old.place(|_| Some(UtcMs(0)));
        assert_eq!(old.times()[0], Some(SinceWhen { utc: UtcMs(7), at: None }));
    }
}
