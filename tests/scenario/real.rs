//! Real batteries: records of one LFP cell, and ten days of a VRLA unit. Sources: the READMEs of the shared data
//! (`lfp_a123_26650_uccs`, `lead_acid_vrla_17ah`).

use taffrail::reckoning::Method;

use super::{judge, limits, none_misses, say, thinned};
use crate::support::trial::vrla::read;
use crate::support::trial::{follow, must, traces};

#[test]
fn a_cell_on_the_bench_is_reckoned_within_its_limits() {
    let cells = traces::cells().unwrap_or_default();
    none_misses(cells.iter().map(thinned), |trace| judge(&trace.name, &follow(Method::Filter, &trace), limits::CELL));
}

#[test]
fn ten_real_days_read_empty_at_the_end_of_a_discharge_and_full_after_a_recharge() {
    for rated_ah in [17.0, 19.0] {
        let Some(trace) = traces::vrla(rated_ah) else {
            return;
        };
        let outcome = read(Method::Filter, &trace);
        say(&format!("{rated_ah} Ah: empty {:?} full {:?}", outcome.empty, outcome.full));
        assert_eq!((outcome.empty.len(), outcome.full.len()), (7, 6), "discharges, and recharges before complete ones");
        for (soc, low) in &outcome.empty {
            assert!(*soc <= must::EMPTY && *low <= *soc, "{rated_ah} Ah: {soc} from {low} at the end of a discharge");
        }
        assert!(
            outcome.full.iter().all(|soc| *soc >= must::FULL),
            "{rated_ah} Ah: {:?} after a recharge",
            outcome.full
        );
        assert_eq!(judge(&trace.name, &outcome.score, must::BAND), None);
    }
}

#[test]
fn ten_real_days_teach_efficiency_and_capacity() {
    for rated_ah in [17.0, 19.0] {
        let Some(trace) = traces::vrla(rated_ah) else {
            return;
        };
        let outcome = read(Method::Filter, &trace);
        let (capacity_ah, band) = outcome.capacity_ah;
        let (low_ah, high_ah) = limits::REAL_CAPACITY_AH;
        assert!(band.low <= high_ah && band.high >= low_ah, "{rated_ah} Ah: {capacity_ah} {band:?}");
        let efficiency = outcome.learned.expect("a filter learns").charge_efficiency;
        let (low, high) = limits::REAL_EFFICIENCY;
        assert!((low..=high).contains(&efficiency.value), "{rated_ah} Ah: {efficiency:?}");
        assert!(efficiency.band().low < 0.96 && efficiency.band().high > 0.90, "{rated_ah} Ah: {efficiency:?}");
    }
}
