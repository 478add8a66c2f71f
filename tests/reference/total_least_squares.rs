//! Total least squares with forgetting against worked vectors and the scenario of its source.
//!
//! G. L. Plett, J. Power Sources 196 (2011) 2319-2331; the vectors were worked out with the public code of his course toolbox
//! on data of our own.

use taffrail::health::TotalLeastSquares;
use taffrail::quantity::Estimate;

use crate::support::noise::Noise;

const FALL: [f64; 5] = [0.50, 0.42, 0.61, 0.35, 0.55];
const CHARGE_AH: [f64; 5] = [46.1, 37.9, 56.0, 31.2, 49.8];
/// 1 σ of each.
const FALL_STD_DEV: f64 = 0.02;
const CHARGE_STD_DEV: f64 = 0.5;

fn slope(mut squares: TotalLeastSquares) -> Estimate {
    for (fall, charge) in FALL.into_iter().zip(CHARGE_AH) {
        squares
            .add(Estimate { value: fall, std_dev: FALL_STD_DEV }, Estimate { value: charge, std_dev: CHARGE_STD_DEV });
    }
    squares.slope().expect("five pairs")
}

fn new(forgetting: f64) -> TotalLeastSquares {
    TotalLeastSquares::new(FALL_STD_DEV / CHARGE_STD_DEV, forgetting)
}

/// Without a prior 91.091166 Ah, 1 σ 1.708 Ah; starting from 100 Ah with a variance of 25 Ah² 91.169910 Ah, and with a
/// forgetting of 0.98 91.149317 Ah.
#[test]
fn five_pairs_give_the_slope_of_the_published_code() {
    let start = Estimate { value: 100.0, std_dev: 5.0 };
    let plain = slope(new(1.0));
    assert!((plain.value - 91.091_166).abs() < 1e-6, "{plain:?}");
    assert!((plain.std_dev - 1.708).abs() < 5e-4, "{plain:?}");
    for (squares, want) in [(new(1.0).knowing(start), 91.169_910), (new(0.98).knowing(start), 91.149_317)] {
        let got = slope(squares);
        assert!((got.value - want).abs() < 1e-6, "{got:?}, want {want}");
    }
}

/// The second scenario for battery-electric vehicles of the source: 100 Ah that lose 0.01 Ah with each of 1000 updates, falls of up to 0.8
/// with an error of 0.01 at each end, forgetting 0.98, a start at 99 Ah, a current sensor of 10 bit over ±5 C. The estimate
/// follows; ordinary least squares comes out too low (the latter from memory).
#[test]
fn a_capacity_that_fades_is_followed_and_not_underestimated() {
    let mut noise = Noise(2011);
    // 300 readings of a second, each wrong by up to half a step of ±500 A in 1024.
    let step_ah = 1000.0 / 1024.0 / 3600.0;
    let charge_std_dev = step_ah / 12.0_f64.sqrt() * 300.0_f64.sqrt();
    let fall_std_dev = 0.01 * 2.0_f64.sqrt();
    let start = Estimate { value: 99.0, std_dev: 5.0 };
    let mut followed = TotalLeastSquares::new(fall_std_dev / charge_std_dev, 0.98).knowing(start);
    let (mut exact_xx, mut exact_xy) = (0.0, 0.0);
    let (mut away, mut away_exact) = (0.0, 0.0);
    for update in 0..1000 {
        let capacity_ah = 100.0 - 0.01 * f64::from(update);
        let fall = 1.6 * noise.uniform() - 0.8;
        let seen = fall + fall_std_dev * noise.normal();
        let charge_ah = capacity_ah * fall + charge_std_dev * noise.normal();
        followed.add(
            Estimate { value: seen, std_dev: fall_std_dev },
            Estimate { value: charge_ah, std_dev: charge_std_dev },
        );
        exact_xx = 0.98 * exact_xx + seen * seen;
        exact_xy = 0.98 * exact_xy + seen * charge_ah;
        if update >= 100 {
            away += (followed.slope().expect("pairs").value - capacity_ah) / 900.0;
            away_exact += (exact_xy / exact_xx - capacity_ah) / 900.0;
        }
    }
    println!("mean error {away:+.3} Ah, of ordinary least squares {away_exact:+.3} Ah");
    // Forgetting of 0.98 lags by about 50 updates, half an ampere-hour.
    assert!((0.0..1.0).contains(&away), "{away}");
    assert!(away_exact < away, "{away_exact} against {away}");
}
