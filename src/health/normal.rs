//! The quantile of the normal distribution.

/// Coefficients of the three ranges, from the constant up.
const MIDDLE: ([f64; 4], [f64; 4]) = (
    [3.387_132_717_9, 50.434_271_938, 159.291_132_02, 59.109_374_72],
    [1.0, 17.895_169_469, 78.757_757_664, 67.187_563_6],
);
const SIDE: ([f64; 4], [f64; 3]) =
    ([1.423_437_277_7, 2.756_815_39, 1.306_728_481_6, 0.170_238_211_03], [1.0, 0.737_001_642_5, 0.120_211_329_75]);
const TAIL: ([f64; 4], [f64; 3]) =
    ([6.657_905_115, 3.081_226_386, 0.428_682_943_37, 0.017_337_203_997], [1.0, 0.241_978_942_25, 0.012_258_202_635]);

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// Where the normal distribution reaches probability `p`, in standard deviations; within 1e-6 for `p` in 1e-9 to 1 - 1e-9,
/// outside of which the limit's value stands. Source: M. J. Wichura, Applied Statistics 37 (1988) 477, algorithm AS 241,
/// routine PPND7 (coefficients from memory, checked against a table).
pub(super) fn normal_quantile(p: f64) -> f64 {
    let p = p.clamp(1e-9, 1.0 - 1e-9);
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * polynomial(&MIDDLE.0, r) / polynomial(&MIDDLE.1, r);
    }
    let r = (-p.min(1.0 - p).ln()).sqrt();
    let size = if r <= 5.0 {
        polynomial(&SIDE.0, r - 1.6) / polynomial(&SIDE.1, r - 1.6)
    } else {
        polynomial(&TAIL.0, r - 5.0) / polynomial(&TAIL.1, r - 5.0)
    };
    size.copysign(q)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tables of the normal distribution (NIST/SEMATECH e-Handbook 1.3.6.7.1 and common tables, from memory).
    #[test]
    fn quantiles_are_those_of_the_tables() {
        for (p, want) in [(0.5, 0.0), (0.9, 1.281_552), (0.95, 1.644_854), (0.975, 1.959_964), (0.999, 3.090_232)] {
            assert!((normal_quantile(p) - want).abs() < 2e-6, "{p}: {}", normal_quantile(p));
            assert!((normal_quantile(1.0 - p) + want).abs() < 2e-6, "{p}: {}", normal_quantile(1.0 - p));
        }
        assert!((normal_quantile(1e-6) + 4.753_424).abs() < 5e-6);
    }
}
