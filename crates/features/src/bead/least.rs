//! Weighted least squares of up to five unknowns, and the weight that leaves outliers out.

use nalgebra::{SMatrix, SVector};

/// The coefficients of one equation; an unknown that is not wanted has 0 in every one and comes out as 0.
pub(super) type Row = SVector<f64, 5>;

/// The unknowns of equations given as (coefficients, value, weight). `None` where the equations don't fix them.
pub(super) fn least_squares(equations: impl Iterator<Item = (Row, f64, f64)>) -> Option<Row> {
    let (mut matrix, mut right) = (SMatrix::<f64, 5, 5>::zeros(), Row::zeros());
    for (row, value, weight) in equations {
        let weighted = row * weight;
        matrix += weighted * row.transpose();
        right += weighted * value;
    }
    for k in 0..5 {
        if matrix[(k, k)] == 0.0 {
            matrix[(k, k)] = 1.0;
        }
    }
    let found = matrix.cholesky()?.solve(&right);
    found.iter().all(|c| c.is_finite()).then_some(found)
}

/// The bisquare weight (Beaton & Tukey 1974, Technometrics 16, 147-185) of a residual: 1 at nothing, 0 from `cut` on.
pub(super) fn bisquare(rest: f64, cut: f64) -> f64 {
    (1.0 - (rest / cut).powi(2)).max(0.0).powi(2)
}

/// The bisquare's loss, 0 at nothing and 1 from `cut` on.
pub(super) fn bisquare_loss(rest: f64, cut: f64) -> f64 {
    1.0 - (1.0 - (rest / cut).powi(2)).max(0.0).powi(3)
}

/// Residuals beyond this many standard deviations get no weight: 95 % efficient where the noise is normal.
pub(super) const TUKEY: f64 = 4.685;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_comes_back_and_what_is_not_asked_for_is_nothing() {
        let equations = (0..20).map(|i| {
            let x = f64::from(i) - 7.0;
            (
                Row::from([1.0, x, x * x, 0.0, 0.0]),
                3.0 - 2.0 * x + 0.5 * x * x,
                1.0 + f64::from(i % 3),
            )
        });
        let found = least_squares(equations).unwrap();
        let expected = Row::from([3.0, -2.0, 0.5, 0.0, 0.0]);
        assert!((found - expected).norm() < 1e-9, "{found}");
        // Two equations don't fix three unknowns.
        let two = [0.0, 1.0]
            .into_iter()
            .map(|x| (Row::from([1.0, x, x, 0.0, 0.0]), 1.0, 1.0));
        assert!(least_squares(two).is_none_or(|f| f.norm() < 1e9));
    }

    #[test]
    fn the_weight_falls_to_nothing_at_the_cut() {
        assert_eq!(bisquare(0.0, 2.0), 1.0);
        assert_eq!(bisquare(2.0, 2.0), 0.0);
        assert_eq!(bisquare(5.0, f64::INFINITY), 1.0);
        assert_eq!((bisquare_loss(0.0, 2.0), bisquare_loss(3.0, 2.0)), (0.0, 1.0));
    }
}
