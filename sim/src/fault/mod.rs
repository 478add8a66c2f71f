//! Faults on the way from a device: lines that go missing, values that jump, bytes that make no sense, channels that stick, plugs that come out,
//! clocks that step. A schedule holds any number of them and follows from its seed.

mod parse;

pub use parse::ParseError;

use rand::{Rng, RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A stretch of time, s since the start of the stream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// First moment.
    pub begin_s: f64,
    /// How long.
    pub length_s: f64,
}

impl Span {
    fn holds(&self, t_s: f64) -> bool {
        (self.begin_s..self.begin_s + self.length_s).contains(&t_s)
    }
}

/// One fault.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// Each line is lost with this chance.
    DropOut(f64),
    /// Each sample jumps with this chance: the current by 200 A either way, or the voltage to nought.
    Spike(f64),
    /// Before each line, with this chance, up to 64 bytes of anything but a newline, which spoil that line.
    Garbage(f64),
    /// A channel repeats its value for a while.
    Stuck {
        /// Which channel.
        channel: String,
        /// When.
        span: Span,
    },
    /// The port is gone for a while.
    Unplug(Span),
    /// The label of time is off by this from a moment on.
    ClockStep {
        /// From when, s.
        at_s: f64,
        /// By how much, s.
        by_s: f64,
    },
}

/// Faults in the order in which they act.
#[derive(Clone, Debug)]
pub struct Schedule {
    faults: Vec<Fault>,
    held: Vec<Option<f64>>,
    rng: Xoshiro256PlusPlus,
}

impl Schedule {
    /// These faults, drawn from a seed.
    pub fn new(faults: Vec<Fault>, seed: u64) -> Self {
        Self { held: vec![None; faults.len()], faults, rng: Xoshiro256PlusPlus::seed_from_u64(seed) }
    }

    /// Whether the port is gone at `t_s`.
    pub fn is_unplugged(&self, t_s: f64) -> bool {
        self.faults.iter().any(|fault| matches!(fault, Fault::Unplug(span) if span.holds(t_s)))
    }

    /// The label that a device with a faulty clock puts on `t_s`.
    pub fn label_s(&self, t_s: f64) -> f64 {
        let steps = self.faults.iter().filter_map(|fault| match fault {
            Fault::ClockStep { at_s, by_s } if t_s >= *at_s => Some(*by_s),
            _ => None,
        });
        t_s + steps.sum::<f64>()
    }

    /// Spoils the values of a sample; false when the line is lost altogether.
    pub fn spoil_values(&mut self, t_s: f64, channels: &[&str], values: &mut [f64]) -> bool {
        let mut arrives = !self.is_unplugged(t_s);
        for (fault, held) in self.faults.iter().zip(&mut self.held) {
            match fault {
                Fault::DropOut(chance) => arrives &= !self.rng.random_bool(*chance),
                Fault::Spike(chance) => {
                    if self.rng.random_bool(*chance) {
                        spike(channels, values, &mut self.rng);
                    }
                }
                Fault::Stuck { channel, span } => {
                    if let Some(value) =
                        channels.iter().zip(&mut *values).find(|(name, _)| *name == channel).map(|(_, value)| value)
                    {
                        *held = span.holds(t_s).then(|| held.unwrap_or(*value));
                        *value = held.unwrap_or(*value);
                    }
                }
                Fault::Garbage(_) | Fault::Unplug(_) | Fault::ClockStep { .. } => (),
            }
        }
        arrives
    }

    /// Appends the bytes that come before the next line by fault, if any.
    pub fn spoil_bytes(&mut self, out: &mut Vec<u8>) {
        for fault in &self.faults {
            if let Fault::Garbage(chance) = fault
                && self.rng.random_bool(*chance)
            {
                let count = self.rng.random_range(1..=64);
                let bytes = (0..count).map(|_| self.rng.random::<u8>());
                out.extend(bytes.map(|byte| if byte == b'\n' { 0 } else { byte }));
            }
        }
    }
}

fn spike(channels: &[&str], values: &mut [f64], rng: &mut impl Rng) {
    let to_nought = rng.random_bool(0.5);
    let by_a = if rng.random_bool(0.5) { 200.0 } else { -200.0 };
    for (channel, value) in channels.iter().zip(values) {
        match *channel {
            "voltage_v" if to_nought => *value = 0.0,
            "current_a" if !to_nought => *value += by_a,
            _ => (),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHANNELS: [&str; 2] = ["voltage_v", "current_a"];

    #[test]
    fn chances_are_met_and_follow_from_the_seed() {
        let run = |seed| {
            let mut schedule = Schedule::new(vec![Fault::DropOut(0.1), Fault::Spike(0.02)], seed);
            let (mut lost, mut spikes) = (0, 0);
            for second in 0..20_000 {
                let mut values = [50.0, 1.0];
                lost += i32::from(!schedule.spoil_values(f64::from(second), &CHANNELS, &mut values));
                let jumped = values[0] < 1.0 || (values[1] - 1.0).abs() > 199.0;
                spikes += i32::from(jumped);
                assert!(jumped || (values[0] > 49.9 && values[1] < 1.1));
            }
            (lost, spikes)
        };
        let (lost, spikes) = run(4);
        // Binomial: 2000 ± 42 and 400 ± 20, four sigma.
        assert!((1830..=2170).contains(&lost) && (320..=480).contains(&spikes), "{lost} {spikes}");
        assert_eq!(run(4), (lost, spikes));
        assert_ne!(run(5), (lost, spikes));
    }

    #[test]
    fn stuck_channel_repeats_its_first_value_and_then_lets_go() {
        let span = Span { begin_s: 10.0, length_s: 5.0 };
        let mut schedule = Schedule::new(vec![Fault::Stuck { channel: "current_a".into(), span }], 0);
        let seen: Vec<i64> = (0..20)
            .map(|second| {
                let mut values = [50.0, f64::from(second)];
                assert!(schedule.spoil_values(f64::from(second), &CHANNELS, &mut values));
                #[expect(clippy::cast_possible_truncation, reason = "small whole numbers")]
                let whole = values[1] as i64;
                whole
            })
            .collect();
        assert_eq!(seen, [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 10, 10, 10, 10, 15, 16, 17, 18, 19]);
    }

    #[test]
    fn garbage_never_holds_a_newline() {
        let mut schedule = Schedule::new(vec![Fault::Garbage(1.0)], 9);
        let mut out = Vec::new();
        for _ in 0..1000 {
            schedule.spoil_bytes(&mut out);
        }
        assert!(out.len() > 20_000 && !out.contains(&b'\n'));
    }

    #[test]
    fn unplugged_port_sends_nothing_and_clock_steps_add_up() {
        let unplug = Fault::Unplug(Span { begin_s: 5.0, length_s: 2.0 });
        let steps = [Fault::ClockStep { at_s: 3.0, by_s: 100.0 }, Fault::ClockStep { at_s: 6.0, by_s: -40.0 }];
        let mut schedule = Schedule::new([vec![unplug], steps.to_vec()].concat(), 0);
        let arrives: Vec<bool> =
            (4..8).map(|second| schedule.spoil_values(f64::from(second), &CHANNELS, &mut [50.0, 0.0])).collect();
        assert_eq!(arrives, [true, false, false, true]);
        let labels = [2.0, 3.0, 6.0].map(|t_s| schedule.label_s(t_s));
        assert!(
            labels.iter().zip([2.0, 103.0, 66.0]).all(|(label, expected)| (label - expected).abs() < 1e-12),
            "{labels:?}"
        );
    }
}
