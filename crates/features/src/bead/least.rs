//! Weighted least squares of up to five unknowns.

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
}
