//! Least squares with few unknowns.

/// Solves a symmetric positive set of equations by Cholesky's method; `None` if it is singular.
pub(super) fn solve<const N: usize>(matrix: &[[f64; N]; N], right: &[f64; N]) -> Option<[f64; N]> {
    let lower = cholesky(matrix)?;
    let mut x = *right;
    for i in 0..N {
        for j in 0..i {
            x[i] -= lower[i][j] * x[j];
        }
        x[i] /= lower[i][i];
    }
    for i in (0..N).rev() {
        for j in i + 1..N {
            x[i] -= lower[j][i] * x[j];
        }
        x[i] /= lower[i][i];
    }
    Some(x)
}

fn cholesky<const N: usize>(matrix: &[[f64; N]; N]) -> Option<[[f64; N]; N]> {
    let mut lower = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..=i {
            let sum = matrix[i][j] - (0..j).map(|k| lower[i][k] * lower[j][k]).sum::<f64>();
            if i == j {
                if sum <= 1e-12 * matrix[i][i] || !sum.is_finite() {
                    return None;
                }
                lower[i][i] = sum.sqrt();
            } else {
                lower[i][j] = sum / lower[j][j];
            }
        }
    }
    Some(lower)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_set_is_solved_and_a_singular_one_refused() {
        // 4x + 2y = 10, 2x + 3y = 11: x = 1, y = 3, by hand.
        let [x, y] = solve(&[[4.0, 2.0], [2.0, 3.0]], &[10.0, 11.0]).expect("regular");
        assert!((x - 1.0).abs() < 1e-12 && (y - 3.0).abs() < 1e-12, "{x} {y}");
        assert!(solve(&[[1.0, 2.0], [2.0, 4.0]], &[1.0, 2.0]).is_none());
    }
}
