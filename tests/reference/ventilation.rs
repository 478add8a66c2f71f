//! Air for a lead bank: EN 50272-2 / IEC 62485-2 (`Q = 0.05 n I_gas C / 1000` m³/h, `A = 28 Q` cm²; formula and gas currents read on
//! public pages, the numbers worked out from them).

use taffrail::battery::Chemistry;
use taffrail::health::ventilation::{CAUTION, ChargeMode, ventilation};

#[test]
fn air_flow_and_opening_are_those_of_the_formula() {
    for (chemistry, mode, cells, rated_ah, flow, opening) in [
        (Chemistry::Flooded, ChargeMode::Boost, 6, 100.0, 0.600, 16.8),
        (Chemistry::Flooded, ChargeMode::Float, 6, 100.0, 0.150, 4.2),
        (Chemistry::Agm, ChargeMode::Boost, 12, 400.0, 1.920, 53.76),
        (Chemistry::Gel, ChargeMode::Float, 6, 400.0, 0.120, 3.36),
        (Chemistry::LeadCarbon, ChargeMode::Boost, 12, 400.0, 1.920, 53.76),
    ] {
        let air = ventilation(chemistry, mode, cells, rated_ah).expect("lead");
        assert!((air.flow_m3_per_h - flow).abs() < 1e-9, "{chemistry} {mode:?}: {air:?}");
        assert!((air.opening_cm2 - opening).abs() < 1e-9, "{chemistry} {mode:?}: {air:?}");
    }
}

#[test]
fn lithium_gives_off_no_hydrogen_and_the_figures_carry_their_caution() {
    assert_eq!(ventilation(Chemistry::Lfp, ChargeMode::Boost, 16, 280.0), None);
    assert!(CAUTION.contains("no proof of a design"));
}
