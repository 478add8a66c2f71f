use super::*;
use crate::battery::Range;

/// Numbers that look random and are the same each time: Marsaglia's shifts (J. Stat. Softw. 8(14), 2003), and normal by the quantile.
struct Chance(u64);

impl Chance {
    fn new(seed: u64) -> Chance {
        let mut chance = Chance(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
        for _ in 0..8 {
            chance.even();
        }
        chance
    }

    fn even(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        #[expect(clippy::cast_precision_loss, reason = "53 bits")]
        let even = (self.0 >> 11) as f64 / (1_u64 << 53) as f64;
        even
    }

    fn normal(&mut self) -> f64 {
        crate::health::normal::normal_quantile(self.even())
    }
}

/// Findings each `every` days up to `until`, of a bank that loses `slope` a year up to the knee (years), thrice that after it.
fn findings(chance: &mut Chance, every: f64, until: f64, slope: f64, knee: f64, std_dev: f64) -> Vec<Point> {
    let times = std::iter::successors(Some(every), |t| Some(t + every)).take_while(|t| *t < until);
    times
        .map(|x| {
            let years = x / 365.25;
            let ratio = 1.0 - slope * years - 2.0 * slope * (years - knee).max(0.0) + std_dev * chance.normal();
            Point { x, ratio, std_dev }
        })
        .collect()
}

#[test]
fn too_few_too_short_too_wide_are_told_in_words() {
    let mut chance = Chance::new(7);
    let few = findings(&mut chance, 60.0, 310.0, 0.02, 9.0, 0.01);
    let told = |points: &[Point]| fade(points, &Terms::days()).crossing.expect_err("not earned").words("days");
    assert!(told(&few).contains("5 of 6 capacity findings"), "{}", told(&few));
    assert!(told(&[]).contains("0 of 6"));
    let short = findings(&mut chance, 10.0, 150.0, 0.02, 9.0, 0.01);
    assert!(told(&short).contains("cover 130 days; 182 are needed"), "{}", told(&short));
    let noisy = findings(&mut chance, 40.0, 500.0, 0.005, 9.0, 0.03);
    assert!(told(&noisy).contains("scatter too much"), "{}", told(&noisy));
    let same = [Point { x: 5.0, ratio: 0.9, std_dev: 0.01 }; 8];
    assert!(told(&same).contains("at one moment"), "{}", told(&same));
}

#[test]
fn nonsense_is_left_out() {
    let mut chance = Chance::new(8);
    let mut points = findings(&mut chance, 30.0, 2000.0, 0.02, 9.0, 0.01);
    let clean = fade(&points, &Terms::days());
    points.push(Point { x: f64::NAN, ratio: 1.0, std_dev: 0.01 });
    points.push(Point { x: 10.0, ratio: f64::INFINITY, std_dev: 0.01 });
    points.push(Point { x: 10.0, ratio: 1.0, std_dev: -1.0 });
    assert_eq!(fade(&points, &Terms::days()), clean);
}

/// Slope and present capacity of straight fade, two percent a year for six years, with one finding in ten far off.
#[test]
fn the_trend_is_robust_and_its_range_holds() {
    let (mut held, mut held_now) = (0, 0);
    for seed in 1..=24 {
        let mut chance = Chance::new(seed);
        let mut points = findings(&mut chance, 30.0, 2191.0, 0.02, 99.0, 0.015);
        points.iter_mut().step_by(10).for_each(|p| p.ratio -= 0.2);
        let fade = fade(&points, &Terms::days());
        let trend = fade.trend.unwrap();
        let per_year = trend.slope * 365.25;
        assert!((per_year + 0.02).abs() < 0.004, "within 20 %: {per_year}");
        held += i32::from(trend.slope_range.low * 365.25 <= -0.02 && -0.02 <= trend.slope_range.high * 365.25);
        let now = fade.now.unwrap();
        held_now += i32::from(now.band().low <= 0.88 && 0.88 <= now.band().high);
        assert!((now.value - 0.88).abs() < 0.02, "{now:?}");
    }
    println!("24 straight lives: slope in its range {held}, capacity in its band {held_now}");
    assert!(held >= 21 && held_now >= 21, "{held} {held_now} of 24");
}

/// Straight fade has no knee; a tripled slope has one, and its date and slopes lie in their bands.
#[test]
fn a_knee_is_found_where_there_is_one_and_not_where_there_is_none() {
    let (mut false_alarms, mut found, mut dated, mut sloped) = (0, 0, 0, 0);
    for seed in 1..=60 {
        let mut chance = Chance::new(seed);
        let straight = findings(&mut chance, 30.0, 3650.0, 0.015, 99.0, 0.015);
        false_alarms += i32::from(knee::knee(&scatter::digest(&straight)).is_some());
        let bent = findings(&mut chance, 30.0, 3287.0, 0.015, 6.5, 0.015);
        if let Some(knee) = knee::knee(&scatter::digest(&bent)) {
            found += 1;
            dated += i32::from(knee.band.low <= 6.5 * 365.25 && 6.5 * 365.25 <= knee.band.high);
            let [before, after] = [knee.before.band(), knee.after.band()].map(|b| (b.low * 365.25, b.high * 365.25));
            sloped += i32::from(before.0 <= -0.015 && -0.015 <= before.1 && after.0 <= -0.045 && -0.045 <= after.1);
        }
    }
    println!("of 60: false knees {false_alarms}, found {found}, date held {dated}, slopes held {sloped}");
    assert!(false_alarms <= 3, "{false_alarms} of 60");
    assert!(found >= 57, "{found} of 60");
    assert!(dated * 10 >= found * 9 && sloped * 10 >= found * 8, "{dated} {sloped} of {found}");
}

/// Three years before 80 %, and before the knee that nobody can know of: the forecast holds the truth.
#[test]
fn three_years_ahead_the_forecast_holds_the_truth() {
    let (mut held_90, mut held_95, mut all) = (0, 0, 0);
    let mut widths = Vec::new();
    for seed in 1..=24 {
        let mut chance = Chance::new(seed);
        let (slope, knee) = (0.011 + 0.006 * chance.even(), 6.0 + chance.even());
        let end = knee + (0.20 - slope * knee) / (3.0 * slope);
        if end > 10.0 {
            continue;
        }
        all += 1;
        let every = [14.0, 30.0, 60.0][all % 3];
        let std_dev = [0.01, 0.02, 0.015][all % 3];
        let points = findings(&mut chance, every, (end - 3.0) * 365.25, slope, knee, std_dev);
        let crossing = fade(&points, &Terms::days()).crossing;
        let Ok(Crossing::Ahead(forecast)) = crossing else { panic!("{crossing:?}") };
        let end_days = end * 365.25;
        held_90 += i32::from(forecast.range_90.low <= end_days && end_days <= forecast.range_90.high);
        held_95 += i32::from(forecast.band.low <= end_days && end_days <= forecast.band.high);
        widths.push((forecast.range_90.high - forecast.range_90.low) / 365.25);
    }
    widths.sort_by(f64::total_cmp);
    println!("{all} decades: in 90 % {held_90}, in 95 % {held_95}, median width of 90 % {:.1} years", widths[all / 2]);
    assert!(all >= 16);
    let share = |held: i32| f64::from(held) / f64::from(i32::try_from(all).unwrap());
    assert!(share(held_90) >= 0.8 && share(held_95) >= 0.9, "{held_90} {held_95} of {all}");
}

/// A capacity test a year: what is known of lives beforehand makes the range of some use, and it still holds the truth.
#[test]
fn what_banks_usually_last_takes_the_absurd_end_off_a_forecast_from_few_tests() {
    let (mut held, mut all, mut told) = (0, 0, [0, 0]);
    for seed in 1..=40 {
        let mut chance = Chance::new(seed);
        let (slope, knee) = (0.011 + 0.006 * chance.even(), 5.0 + 2.5 * chance.even());
        let end = knee + (0.20 - slope * knee) / (3.0 * slope);
        let points = findings(&mut chance, 365.25, (end - 3.0) * 365.25, slope, knee, 0.015);
        if points.len() < 6 {
            continue;
        }
        all += 1;
        let crossings = [Terms::days(), Terms::of(Chemistry::LeadCarbon)].map(|terms| fade(&points, &terms).crossing);
        for (told, crossing) in told.iter_mut().zip(&crossings) {
            *told += i32::from(crossing.is_ok());
        }
        let range = match &crossings[1] {
            Ok(Crossing::Ahead(forecast) | Crossing::Passed(forecast)) => forecast.range_90,
            Err(NotYet::Wide { from, to }) => Range { low: *from, high: *to },
            Err(other) => panic!("{other:?}"),
        };
        held += i32::from(range.low <= end * 365.25 && end * 365.25 <= range.high);
    }
    println!("{all} lives: told without {} and with {}; in 90 % {held}", told[0], told[1]);
    assert!(all >= 20 && told[1] > told[0], "{told:?} of {all}");
    assert!(f64::from(held) >= 0.85 * f64::from(all), "{held} of {all}");
}

/// Vague findings each month and a capacity test now and then: the tests count, and what lies beside them does not blur them.
#[test]
fn a_capacity_test_narrows_the_forecast() {
    let mut chance = Chance::new(5);
    let vague = findings(&mut chance, 30.0, 2200.0, 0.015, 99.0, 0.04);
    let sure = findings(&mut chance, 300.0, 2200.0, 0.015, 99.0, 0.005);
    let both: Vec<Point> = vague.iter().chain(&sure).copied().collect();
    let [before, after] = [&vague, &both].map(|points| fade(points, &Terms::days()).now.unwrap().std_dev);
    assert!(after < 0.6 * before, "{before} {after}");
}

#[test]
fn what_has_been_reached_is_said_to_be_passed() {
    let mut chance = Chance::new(3);
    let points = findings(&mut chance, 30.0, 3650.0, 0.016, 6.5, 0.01);
    let crossing = fade(&points, &Terms::days()).crossing;
    let Ok(Crossing::Passed(forecast)) = crossing else { panic!("{crossing:?}") };
    let end = (6.5 + (0.20 - 0.016 * 6.5) / 0.048) * 365.25;
    assert!(forecast.band.low <= end && end <= forecast.band.high, "{forecast:?} {end}");
}

/// The unit of x is the caller's: a forecast in hours is that in days, times 24.
#[test]
fn the_unit_of_x_changes_nothing() {
    let mut chance = Chance::new(11);
    let days = findings(&mut chance, 30.0, 2000.0, 0.02, 4.0, 0.01);
    let hours: Vec<Point> = days.iter().map(|p| Point { x: p.x * 24.0, ..*p }).collect();
    let terms = Terms { least_span: 0.0, ..Terms::days() };
    let [a, b] = [&days, &hours].map(|points| match fade(points, &terms).crossing {
        Ok(Crossing::Ahead(f) | Crossing::Passed(f)) => f,
        Err(e) => panic!("{e:?}"),
    });
    for (a, b) in [(a.likely, b.likely), (a.range_90.low, b.range_90.low), (a.band.high, b.band.high)] {
        assert!((a * 24.0 - b).abs() < 1e-3 * b, "{a} {b}");
    }
}
