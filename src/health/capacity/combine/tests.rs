use super::*;
use crate::battery::{Chemistry, SensorError};
use crate::health::capacity::evidence::RestEnd;
use crate::health::capacity::total_least_squares::TotalLeastSquares;

/// Uniform bits by splitmix64 (Steele, Lea & Flood 2014), normal numbers by Box and Muller (1958).
struct Chance(u64);

impl Chance {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (f64::from(u32::try_from(z >> 32).expect("32 bits")) + 1.0) / (f64::from(u32::MAX) + 1.0)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    fn normal(&mut self, std_dev: f64) -> f64 {
        let (radius, turn) = (self.uniform(), self.uniform());
        std_dev * (-2.0 * radius.ln()).sqrt() * (std::f64::consts::TAU * turn).cos()
    }
}

/// How a bank's life is looked at.
#[derive(Clone, Copy)]
struct Habits {
    rests_a_year: f64,
    cut_offs_a_year: f64,
    /// Part of the rests whose reading is far off.
    astray: f64,
}

/// A bank's true life: nothing of it is drawn from what the filter assumes but the sensor's stated errors.
struct Life {
    bank: Bank,
    first: f64,
    fade: f64,
    knee: f64,
    gain: f64,
    offsets: [f64; 3],
    changes: [f64; 2],
    rate: f64,
    /// By how much more of a charge stays than the preset says.
    stays: f64,
    /// Part of the fade that the acid does not show at rest.
    unshown: f64,
    level_v: f64,
    tilt_v: f64,
    wave_v: f64,
    phase: f64,
}

impl Life {
    fn of(chance: &mut Chance) -> Life {
        let mut bank = Bank::new("house", Chemistry::Agm, 24, 120.0, 20.0).expect("possible");
        bank.sensor = SensorError { gain: 0.005, offset_a: 0.05 };
        Life {
            bank,
            first: 1.0 + chance.normal(0.03),
            fade: chance.between(0.008, 0.022),
            knee: chance.between(6.0, 7.0),
            gain: chance.normal(0.005),
            offsets: [chance.normal(0.05), chance.normal(0.05), chance.normal(0.05)],
            changes: [chance.between(2.0, 5.0), chance.between(5.0, 9.0)],
            rate: chance.normal(1.0),
            stays: chance.normal(0.02),
            unshown: chance.uniform(),
            level_v: chance.normal(0.015),
            tilt_v: chance.between(-0.05, 0.05),
            wave_v: chance.between(0.0, 0.012),
            phase: chance.between(0.0, std::f64::consts::TAU),
        }
    }

    /// Capacity over rating. The fade trebles at the knee.
    fn capacity(&self, years: f64) -> f64 {
        self.first - self.fade * (years + 2.0 * (years - self.knee).max(0.0))
    }

    fn offset_a(&self, years: f64) -> f64 {
        self.offsets[self.changes.iter().filter(|&&change| years > change).count()]
    }

    /// Rest voltage, V a cell. What the curve is wrong by, and that the acid at empty grows with the capacity that is lost.
    fn rest_v(&self, years: f64, soc: f64) -> f64 {
        let (curve_v, slope_v) = self.bank.preset().voltage.ocv.at(soc);
        curve_v
            + self.level_v
            + self.tilt_v * (soc - 0.5)
            + self.wave_v * (6.0 * soc + self.phase).sin()
            + self.unshown * slope_v * (1.0 - self.capacity(years) / self.first) * (1.0 - soc)
    }

    fn counted(&self, years: f64, drawn_ah: f64, hours: f64) -> f64 {
        (drawn_ah * (1.0 + self.gain) - self.offset_a(years) * hours) / self.bank.rated_capacity_ah
    }

    fn rest(&self, chance: &mut Chance, years: f64, astray: f64) -> Evidence {
        // The charge is drawn by what is used; what full is wrong by shows at the rest.
        let fall = chance.between(0.3, 0.7);
        let soc = 1.0 - fall + chance.normal(0.01);
        let capacity_ah = self.capacity(years) * self.bank.rated_capacity_ah;
        let hours = chance.between(8.0, 60.0);
        let off_v = if chance.uniform() < astray { chance.normal(0.04) } else { chance.normal(0.003) };
        let cell_v = self.rest_v(years, soc) + off_v;
        // What the sun puts in meanwhile, and is drawn again.
        let charged = chance.between(0.0, 0.03) * hours;
        let own_losses = chance.normal(0.01) * charged;
        Evidence {
            fall: 1.0,
            fall_variance: self.bank.full.soc_std_dev.powi(2),
            drawn: self.counted(years, fall * capacity_ah, hours) + self.stays * charged + own_losses,
            drawn_variance: 1e-5 + (0.01 * charged).powi(2),
            charged,
            topped: 0.0,
            offset_h: hours,
            rate: 0.0,
            rests: vec![RestEnd { sign: -1.0, cell_v, noise_v: 0.003 }],
        }
    }

    fn cut_off(&self, chance: &mut Chance, years: f64) -> Evidence {
        let rate = chance.between(0.05, 0.15);
        let curve = &self.bank.rate_curve;
        let (ratio, doubt) = (curve.capacity_ratio(rate), curve.capacity_ratio_std_dev(rate));
        let came_out = (ratio + self.rate * doubt) * (1.0 + chance.normal(0.018)) * self.capacity(years);
        let hours = came_out / rate + chance.between(0.0, 6.0);
        Evidence {
            fall: ratio,
            fall_variance: (0.02 * ratio).powi(2) + 0.01_f64.powi(2),
            drawn: self.counted(years, came_out * self.bank.rated_capacity_ah, hours),
            drawn_variance: 1e-5,
            charged: 0.0,
            topped: 0.0,
            offset_h: hours,
            rate: doubt,
            rests: Vec::new(),
        }
    }
}

/// Part of the months after the first year in which an estimate was within 3 % of the truth, and held it in its band.
#[derive(Default)]
struct Score {
    months: u32,
    near: u32,
    held: u32,
    square: f64,
}

impl Score {
    fn add(&mut self, estimate: Estimate, truth: f64) {
        self.months += 1;
        let away = estimate.value / truth - 1.0;
        self.square += away * away;
        self.near += u32::from(away.abs() <= 0.03);
        let band = estimate.band();
        self.held += u32::from((band.low..=band.high).contains(&truth));
    }

    fn parts(&self) -> (f64, f64, f64) {
        let months = f64::from(self.months);
        (f64::from(self.near) / months, f64::from(self.held) / months, (self.square / months).sqrt())
    }
}

fn decades(habits: Habits) -> (Score, Score) {
    let (mut combined_score, mut yardstick_score) = (Score::default(), Score::default());
    for seed in 0..200 {
        let mut chance = Chance(seed * 7919 + 11);
        let life = Life::of(&mut chance);
        let bank = &life.bank;
        let mut combined = Combined::new(bank, 0.0);
        let mut yardstick = TotalLeastSquares::new(2.0, 0.98).knowing(Estimate { value: 1.0, std_dev: 0.05 });
        let mut next = [0.9; 2];
        for month in 0..120 {
            let years = f64::from(month) / 12.0;
            for (kind, a_year) in [habits.rests_a_year, habits.cut_offs_a_year].into_iter().enumerate() {
                next[kind] += a_year / 12.0;
                while next[kind] >= 1.0 {
                    next[kind] -= 1.0;
                    let evidence = if kind == 0 {
                        life.rest(&mut chance, years, habits.astray)
                    } else {
                        life.cut_off(&mut chance, years)
                    };
                    combined.take(bank, years * YEAR_S, &evidence);
                    let fall = evidence.fall_by_preset(bank);
                    let doubt = evidence.drawn_variance.sqrt().hypot(0.05 * evidence.offset_h / 120.0);
                    yardstick.add(fall, Estimate { value: evidence.drawn, std_dev: doubt });
                }
            }
            let truth = life.capacity(years) * bank.rated_capacity_ah;
            if month >= 12 {
                let now = combined.capacity(bank, years * YEAR_S).expect("findings");
                combined_score.add(now, truth);
                let slope = yardstick.slope().expect("findings");
                let rated = bank.rated_capacity_ah;
                yardstick_score.add(Estimate { value: slope.value * rated, std_dev: slope.std_dev * rated }, truth);
            }
        }
    }
    (combined_score, yardstick_score)
}

/// Two hundred decades with a fade that trebles at a knee in the seventh year, a sensor whose offset changes twice, a curve that
/// is wrong and shows a part of the fade only, and rests that go astray. The lives are made here, and not by the filter's
/// model. The band must hold 95 % of the time; how near the estimate gets depends on how often a discharge goes to the cut-off:
/// one of them is unsure by 2 %, and by another 2 % that all of them share through the rate curve and the shunt's gain.
#[test]
fn over_decades_with_a_knee_the_band_holds_and_the_estimate_is_nearer_than_total_least_squares() {
    for (name, habits, nearest) in [
        ("rests, four cut-offs a year", Habits { rests_a_year: 24.0, cut_offs_a_year: 4.0, astray: 0.05 }, 0.91),
        ("rests, a test a year", Habits { rests_a_year: 24.0, cut_offs_a_year: 1.0, astray: 0.05 }, 0.74),
        ("two cut-offs a year", Habits { rests_a_year: 0.0, cut_offs_a_year: 2.0, astray: 0.0 }, 0.80),
        ("rests, a test in two years", Habits { rests_a_year: 24.0, cut_offs_a_year: 0.5, astray: 0.05 }, 0.64),
    ] {
        let (combined, yardstick) = decades(habits);
        for (method, score) in [("combined", &combined), ("total least squares", &yardstick)] {
            let (near, held, rms) = score.parts();
            println!(
                "{name:27} {method:20} within 3 % {:5.1} %, in its band {:5.1} %, RMS {:5.2} %",
                100.0 * near,
                100.0 * held,
                100.0 * rms
            );
        }
        let ((near, held, rms), (_, _, yardstick_rms)) = (combined.parts(), yardstick.parts());
        assert!(held >= 0.95 && near >= nearest, "{name}: {held} {near}");
        assert!(rms < 0.3 * yardstick_rms, "{name}: {rms} against {yardstick_rms}");
    }
}

#[test]
fn what_goes_on_from_a_finding_is_what_the_filter_makes_of_the_time() {
    let mut chance = Chance(5);
    let life = Life::of(&mut chance);
    let bank = &life.bank;
    let mut combined = Combined::new(bank, 0.0);
    for month in 1..40 {
        let years = f64::from(month) / 12.0;
        combined.take(bank, years * YEAR_S, &life.rest(&mut chance, years, 0.0));
        if month % 6 == 0 {
            combined.take(bank, years * YEAR_S, &life.cut_off(&mut chance, years));
        }
    }
    let found_s = 39.0 / 12.0 * YEAR_S;
    let found = combined.capacity(bank, found_s).expect("findings");
    for later_s in [0.0, 0.1 * YEAR_S, 2.0 * YEAR_S] {
        let (carried, passed) =
            (combined.onward().carry(found, later_s), combined.capacity(bank, found_s + later_s).expect("findings"));
        assert!((carried.value / passed.value - 1.0).abs() < 1e-9, "{carried:?} {passed:?}");
        assert!((carried.std_dev / passed.std_dev - 1.0).abs() < 1e-9, "{carried:?} {passed:?}");
    }
}
