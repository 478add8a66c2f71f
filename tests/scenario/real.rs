//! Real batteries: records of one LFP cell, and ten days of a VRLA unit. Sources: the READMEs of the shared data
//! (`lfp_a123_26650_uccs`, `lead_acid_vrla_17ah`).

use std::sync::LazyLock;

use taffrail::reckoning::Method;

use super::{judge, limits, none_misses, say, thinned};
use crate::support::trial::vrla::{Outcome, read};
use crate::support::trial::{follow, must, traces};

#[test]
fn a_cell_on_the_bench_is_reckoned_within_its_limits() {
    let cells = traces::cells().unwrap_or_default();
    none_misses(cells.iter().map(thinned), |trace| judge(&trace.name, &follow(Method::Filter, &trace), limits::CELL));
}

/// Ten days of the real unit as a bank of each rating: followed once, asked by every test. Empty without shared data.
static TEN_DAYS: LazyLock<Vec<(f64, Outcome)>> = LazyLock::new(|| {
    let followed = |rated_ah| Some((rated_ah, read(Method::Filter, &traces::vrla(rated_ah)?)));
    [17.0, 19.0].into_iter().filter_map(followed).collect()
});

#[test]
fn ten_real_days_read_empty_at_the_end_of_a_discharge_and_full_after_a_recharge() {
    for (rated_ah, outcome) in TEN_DAYS.iter() {
        say(&format!("{rated_ah} Ah: empty {:?} full {:?}", outcome.empty, outcome.full));
        assert_eq!((outcome.empty.len(), outcome.full.len()), (7, 6), "discharges, and recharges before complete ones");
        let missed = outcome.empty.iter().filter(|(soc, _)| *soc > must::EMPTY).count();
        assert!(missed <= limits::REAL_EMPTY_MISSED, "{rated_ah} Ah: {missed} ends of discharges above the goal");
        for (soc, low) in &outcome.empty {
            let is_good = *soc <= limits::REAL_EMPTY && low <= soc;
            assert!(is_good, "{rated_ah} Ah: {soc} from {low} at the end of a discharge");
        }
        assert!(
            outcome.full.iter().all(|soc| *soc >= must::FULL),
            "{rated_ah} Ah: {:?} after a recharge",
            outcome.full
        );
    }
}

#[test]
fn the_band_of_ten_real_days_holds_the_truth() {
    for (rated_ah, outcome) in TEN_DAYS.iter() {
        let name = format!("ten days, as {rated_ah} Ah");
        assert_eq!(judge(&name, &outcome.score, limits::real(&name)), None);
    }
}

#[test]
fn ten_real_days_teach_efficiency_and_capacity() {
    for (rated_ah, outcome) in TEN_DAYS.iter() {
        let (capacity_ah, band) = outcome.capacity_ah;
        let efficiency = outcome.learned.expect("a filter learns").charge_efficiency;
        say(&format!("{rated_ah} Ah: {capacity_ah:.2} Ah {band:?}, {efficiency:?} {:?}", efficiency.band()));
        let (low_ah, high_ah) = limits::REAL_CAPACITY_AH;
        let name = format!("ten days, as {rated_ah} Ah");
        let beyond_ah = limits::reached(limits::REAL_CAPACITY_BEYOND_AH, &name, 0.0);
        let meets = band.low <= high_ah + beyond_ah && band.high >= low_ah;
        assert!(meets, "{rated_ah} Ah: {capacity_ah} {band:?}");
        let (low, high) = limits::REAL_EFFICIENCY;
        assert!((low..=high).contains(&efficiency.value), "{rated_ah} Ah: {efficiency:?}");
        assert!(efficiency.band().low < 0.96 && efficiency.band().high > 0.90, "{rated_ah} Ah: {efficiency:?}");
    }
}
