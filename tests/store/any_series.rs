//! What goes in comes out, whatever the series: a plain list of what was taken is held against the store.

mod model;

use proptest::prelude::*;
use proptest::test_runner::FileFailurePersistence;
use taffrail::store::{Appended, HistoryQuery};

use super::*;
use model::Boat;

/// So many cases; those that once failed are tried first, for ever.
fn cases(cases: u32) -> ProptestConfig {
    let found = FileFailurePersistence::Direct("tests/store/any_series/regressions.txt");
    ProptestConfig { cases, failure_persistence: Some(Box::new(found)), ..ProptestConfig::default() }
}

/// One step of a story. Indices are taken modulo what there is.
#[derive(Debug, Clone)]
enum Step {
    /// So many samples of a series, so far apart, ms; a distance below 1 repeats or runs back.
    Run {
        series: usize,
        count: usize,
        apart_ms: i64,
        values: Values,
    },
    /// A single sample after a pause.
    One {
        series: usize,
        after_ms: i64,
        values: Values,
    },
    /// The computer starts anew.
    NewBoot,
    /// A recorded past is brought in, or gone on with.
    Import(usize),
    /// A series gains a channel.
    Widen(usize),
    Commit,
    Secure,
    /// A power cut.
    Cut,
    /// An orderly stop and a start.
    Restart,
}

/// How the values of a run come about.
#[derive(Debug, Clone, Copy)]
enum Values {
    Constant(i32),
    /// Decimals that wander.
    Wander {
        seed: u32,
        tens: i32,
    },
    /// Now and then nothing.
    Holes {
        seed: u32,
        one_in: u32,
    },
    /// Anything that a double can be.
    Extremes(u32),
}

const EXTREMES: [f64; 16] = [
    1e30,
    -1e30,
    1.000_000_000_000_000_2e30,
    f64::MAX,
    f64::MIN,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::NAN,
    0.0,
    -0.0,
    f64::MIN_POSITIVE,
    -5e-324,
    1e-7,
    9_007_199_254_740_993.0,
    -0.1,
    123_456_789.123_456_78,
];

/// A well-mixed number of two.
fn mixed(seed: u32, number: u64) -> u64 {
    let mut x = (u64::from(seed) << 32 | 0x9e37_79b9).wrapping_add(number.wrapping_mul(0x9e37_79b9_7f4a_7c15));
    x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

impl Values {
    fn at(self, row: usize, channel: usize) -> Option<f64> {
        let place = row as u64 * 64 + channel as u64;
        match self {
            Values::Constant(n) => Some(f64::from(n) / 100.0),
            Values::Wander { seed, tens } => {
                let drawn = i32::try_from(mixed(seed, place) % 2001).expect("small") - 1000;
                Some(f64::from(drawn) / 10_f64.powi(tens))
            }
            Values::Holes { seed, one_in } => {
                let drawn = mixed(seed, place);
                (!drawn.is_multiple_of(u64::from(one_in)))
                    .then(|| f64::from(u32::try_from(drawn % 977).expect("small")) / 8.0)
            }
            Values::Extremes(seed) => {
                let drawn = mixed(seed, place);
                let place = usize::try_from(drawn % 20).expect("small");
                EXTREMES
                    .get(place)
                    .copied()
                    .or_else(|| drawn.is_multiple_of(3).then_some(f64::from_bits(mixed(seed, drawn))))
            }
        }
    }
}

fn values() -> impl Strategy<Value = Values> {
    prop_oneof![
        (-9000..9000_i32).prop_map(Values::Constant),
        (any::<u32>(), 0..4_i32).prop_map(|(seed, tens)| Values::Wander { seed, tens }),
        (any::<u32>(), prop_oneof![Just(1_u32), 2..200_u32]).prop_map(|(seed, one_in)| Values::Holes { seed, one_in }),
        any::<u32>().prop_map(Values::Extremes),
    ]
}

fn step() -> impl Strategy<Value = Step> {
    let apart = prop_oneof![4 => Just(1000_i64), 2 => 1..3000_i64, 2 => 5000..40_000_i64, 1 => -5..1_i64];
    let count = prop_oneof![2 => 1..40_usize, 2 => 100..900_usize];
    let pause = prop_oneof![1..20_000_i64, 60_000..10_000_000_i64, -5_000_000..1_i64, Just(30 * 86_400_000)];
    prop_oneof![
        8 => (any::<usize>(), count, apart, values()).prop_map(|(series, count, apart_ms, values)| Step::Run { series, count, apart_ms, values }),
        4 => (any::<usize>(), pause, values()).prop_map(|(series, after_ms, values)| Step::One { series, after_ms, values }),
        1 => Just(Step::NewBoot),
        1 => any::<usize>().prop_map(Step::Import),
        1 => any::<usize>().prop_map(Step::Widen),
        3 => Just(Step::Commit),
        3 => Just(Step::Secure),
        2 => Just(Step::Cut),
        1 => Just(Step::Restart),
    ]
}

impl Boat {
    fn live(&mut self, step: &Step) {
        match *step {
            Step::Run { series, count, apart_ms, values } => {
                for row in 0..count {
                    self.take(series, apart_ms, |channel| values.at(row, channel));
                }
            }
            Step::One { series, after_ms, values } => self.take(series, after_ms, |channel| values.at(0, channel)),
            Step::NewBoot => self.new_boot(),
            Step::Import(number) => self.import(number % 2),
            Step::Widen(series) => self.widen(series),
            Step::Commit => self.commit(),
            Step::Secure => self.secure(),
            Step::Cut => self.cut(),
            Step::Restart => self.restart(),
        }
    }
}

proptest! {
    #![proptest_config(cases(24))]

    #[test]
    fn what_goes_in_comes_out_bit_for_bit_and_sums_are_those_by_hand(
        steps in prop::collection::vec(step(), 1..25),
        window in (0.0..1.0_f64, 0.0..1.0_f64),
    ) {
        let mut boat = Boat::new();
        steps.iter().for_each(|step| boat.live(step));
        boat.commit();
        boat.check(window);
        // The stop folds what is open, a start takes the rest up: nothing of it may show.
        boat.restart();
        boat.check(window);
    }
}
