//! What a bank's line stores beside samples: the track, fixes, and what the readings contradict, in words for people.

use crate::battery::Bank;
use crate::quantity::{BandedSoc, Moment, Sample};
use crate::reckoning::{Fix, FixKind, Reckoned, Suspicion};
use crate::store::{EventRecord, FixRecord};

/// What is said of a full fix for as long as a charger holds the bank full, and when it lets go.
pub const HELD_FULL: &str = "held full until then";

/// Kind of the event that somebody set the zero of the current sensor.
pub const HAND_ZERO: &str = "hand-zero";

/// A point of the reckoned track.
pub fn track_sample(at: Moment, state: &Reckoned) -> Sample {
    let Reckoned { soc, soc_band, capacity_ah, .. } = state;
    Sample { at, values: [*soc, soc_band.low, soc_band.high, *capacity_ah].map(rounded).to_vec() }
}

/// Five decimals are far finer than any band, and whole steps pack well.
pub fn rounded(value: f64) -> Option<f64> {
    Some((value * 1e5).round() / 1e5)
}

/// A fix.
pub fn fix_record(bank: &Bank, at: Moment, fix: &Fix) -> FixRecord {
    let Fix { kind, before, after } = fix;
    let percent = |state: &Reckoned| 100.0 * state.soc;
    let reckoned = if before.start_known {
        format!("reckoned {:.1} %, now {:.1} %", percent(before), percent(after))
    } else {
        format!("not known before, now {:.1} %", percent(after))
    };
    FixRecord {
        bank: bank.name.clone(),
        at,
        kind: kind.word().to_owned(),
        before: before.start_known.then(|| banded(before)),
        after: banded(after),
        text: format!("{} fix: {reckoned}", kind.word()),
    }
}

/// The charger let go of a full bank: until now the full fix was good.
pub fn let_go_record(bank: &Bank, at: Moment, before: &Reckoned) -> FixRecord {
    let full = banded(before);
    FixRecord {
        bank: bank.name.clone(),
        at,
        kind: FixKind::Full.word().to_owned(),
        before: Some(full),
        after: full,
        text: HELD_FULL.to_owned(),
    }
}

/// What the readings contradict: what, where, and what to do.
pub fn suspicion_event(bank: &Bank, at: Moment, suspicion: Suspicion) -> EventRecord {
    let title = &bank.title;
    let (kind, priority, text) = match suspicion {
        Suspicion::SensorReversed => (
            "sensor-reversed",
            "warning",
            format!(
                "{title}: the current sensor seems to be the wrong way round: the voltage falls while charge is said to \
                 go in. Swap the two sensing leads of the shunt, or turn the sign where the device is configured; the \
                 charge shown is wrong until then"
            ),
        ),
        Suspicion::CapacityFarOff { ratio } => (
            "capacity-far-off",
            "caution",
            format!(
                "{title}: the capacity seems to be about {:.0} Ah, not {:.0} Ah as configured. Check rated-capacity-ah and \
                 cells-in-series, and whether every string is connected",
                ratio * bank.rated_capacity_ah,
                bank.rated_capacity_ah
            ),
        ),
        Suspicion::VoltageStuck => (
            "voltage-stuck",
            "caution",
            format!(
                "{title}: the voltage stands still while the current moves; it is not used until it moves. Check the \
                 voltage lead of the sensor and its fuse"
            ),
        ),
        Suspicion::VoltageAstray => (
            "voltage-astray",
            "caution",
            format!(
                "{title}: the voltage does not fit the charge; it is not used until it does. Check chemistry and \
                 cells-in-series, and the voltage lead of the sensor"
            ),
        ),
    };
    bank_event(bank, at, kind, priority, text)
}

/// Somebody set the zero of the current sensor.
pub fn zero_event(bank: &Bank, at: Moment, offset_a: f64) -> EventRecord {
    let text = format!(
        "{}: zero of the current sensor set by hand; it reads {offset_a:+.3} A when no current flows",
        bank.title
    );
    bank_event(bank, at, HAND_ZERO, "note", text)
}

fn bank_event(bank: &Bank, at: Moment, kind: &str, priority: &str, text: String) -> EventRecord {
    EventRecord {
        at,
        bank: Some(bank.name.clone()),
        device: None,
        kind: kind.to_owned(),
        priority: priority.to_owned(),
        text,
    }
}

const fn banded(state: &Reckoned) -> BandedSoc {
    BandedSoc { soc: state.soc, band: state.soc_band }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::Chemistry;
    use crate::quantity::{BootNo, MonoMs};

    #[test]
    fn every_suspicion_names_the_bank_and_what_to_check() {
        let mut bank = Bank::new("house", Chemistry::Lfp, 8, 280.0, 20.0).expect("possible");
        bank.title = "House bank".to_owned();
        let at = Moment { boot: BootNo(1), mono: MonoMs(0) };
        let told = |suspicion| suspicion_event(&bank, at, suspicion);
        let half = told(Suspicion::CapacityFarOff { ratio: 0.5 });
        assert!(half.text.contains("about 140 Ah, not 280 Ah"), "{}", half.text);
        assert_eq!(told(Suspicion::SensorReversed).priority, "warning");
        let all =
            [half, told(Suspicion::SensorReversed), told(Suspicion::VoltageStuck), told(Suspicion::VoltageAstray)];
        for event in all {
            assert!(event.text.starts_with("House bank: ") && !event.text.contains("  "), "{}", event.text);
            assert!(event.text.contains("Check ") || event.text.contains("Swap "), "{}", event.text);
            assert_eq!(event.bank.as_deref(), Some("house"));
        }
    }
}
