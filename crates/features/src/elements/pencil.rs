//! The vector that makes one quadratic form least while another, which takes both signs, is held at one.

use nalgebra::{DMatrix, DVector};

/// The vector u with Mu = λNu for the least positive λ: it makes uᵀMu least where uᵀNu = 1, up to its length.
///
/// `form` M is symmetric and not negative, `constraint` N symmetric and invertible. M may be singular, as it is for points
/// without scatter; where its null vector satisfies uᵀNu > 0 that vector is the answer. `None` where no λ is positive.
///
/// By the symmetric matrix √M N⁻¹ √M, which has the same λ and whose vectors are √M u.
pub(super) fn least_positive(form: DMatrix<f64>, constraint: &DMatrix<f64>) -> Option<DVector<f64>> {
    let eigen = form.symmetric_eigen();
    let largest = eigen.eigenvalues.max();
    if !largest.is_finite() || largest <= 0.0 {
        return None;
    }
    let flattest = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into_owned();
    let nothing = 1e-14 * largest;
    if eigen.eigenvalues.min() <= nothing && flattest.dot(&(constraint * &flattest)) > 1e-12 {
        return Some(flattest);
    }
    let roots = eigen.eigenvalues.map(|v| v.max(nothing).sqrt());
    let turned = eigen.eigenvectors.transpose();
    let root = &eigen.eigenvectors * DMatrix::from_diagonal(&roots) * &turned;
    let inverse = constraint.clone().try_inverse()?;
    let pencil = (&root * inverse * &root).symmetric_eigen();
    let least = (0..roots.len())
        .filter(|&k| pencil.eigenvalues[k] > 0.0)
        .min_by(|&a, &b| pencil.eigenvalues[a].total_cmp(&pencil.eigenvalues[b]))?;
    let within = &turned * pencil.eigenvectors.column(least);
    Some(&eigen.eigenvectors * within.component_div(&roots))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_positive_one_is_taken_and_no_negative_one() {
        let constraint = DMatrix::from_diagonal(&DVector::from_vec(vec![1.0, -1.0, 2.0]));
        // λ = 6, −1 and 2: the third.
        let form = DMatrix::from_diagonal(&DVector::from_vec(vec![6.0, 1.0, 4.0]));
        let found = least_positive(form, &constraint).unwrap();
        assert!(found[0].abs() < 1e-12 && found[1].abs() < 1e-12 && found[2].abs() > 0.1);
        // A null vector of the wrong sign is passed over, one of the right sign is the answer.
        let form = DMatrix::from_diagonal(&DVector::from_vec(vec![6.0, 0.0, 18.0]));
        let found = least_positive(form, &constraint).unwrap();
        assert!(found[2].abs() < 1e-6 * found[0].abs() && found[1].abs() < 1e-6 * found[0].abs());
        let form = DMatrix::from_diagonal(&DVector::from_vec(vec![0.0, 3.0, 18.0]));
        let found = least_positive(form, &constraint).unwrap();
        assert!((found[0].abs() - 1.0).abs() < 1e-12);
        let negative = DMatrix::from_diagonal(&DVector::from_vec(vec![-1.0, -1.0, -1.0]));
        assert!(least_positive(DMatrix::identity(3, 3), &negative).is_none());
    }

    #[test]
    fn the_pencil_is_satisfied() {
        let form = DMatrix::from_row_slice(3, 3, &[4.0, 1.0, 0.5, 1.0, 3.0, -0.2, 0.5, -0.2, 1.0]);
        let constraint = DMatrix::from_row_slice(3, 3, &[0.0, 0.0, 2.0, 0.0, -1.0, 0.0, 2.0, 0.0, 0.0]);
        let u = least_positive(form.clone(), &constraint).unwrap();
        let right = &constraint * &u;
        let ratio = u.dot(&(&form * &u)) / u.dot(&right);
        assert!(ratio > 0.0);
        assert!((form * &u - right * ratio).norm() < 1e-12 * u.norm());
    }
}
