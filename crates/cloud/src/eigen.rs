//! Eigenvalues and the flattest direction of a symmetric 3 × 3 matrix, in closed form.

use crate::{Matrix3, Vector};

/// The eigenvalues of the symmetric matrix `m`, ascending (trigonometric solution, Smith 1961, CACM 4(4) 168).
pub fn eigenvalues(m: &Matrix3) -> [f64; 3] {
    let off = m[(0, 1)].powi(2) + m[(0, 2)].powi(2) + m[(1, 2)].powi(2);
    let mean = m.trace() / 3.0;
    let spread =
        (m[(0, 0)] - mean).powi(2) + (m[(1, 1)] - mean).powi(2) + (m[(2, 2)] - mean).powi(2) + 2.0 * off;
    let p = (spread / 6.0).sqrt();
    if p <= f64::MIN_POSITIVE {
        return [mean; 3];
    }
    let b = (m - Matrix3::identity() * mean) / p;
    let phi = (b.determinant() / 2.0).clamp(-1.0, 1.0).acos() / 3.0;
    let largest = mean + 2.0 * p * phi.cos();
    let smallest = mean + 2.0 * p * (phi + 2.0 * std::f64::consts::FRAC_PI_3).cos();
    [smallest, 3.0 * mean - largest - smallest, largest]
}

/// The unit eigenvector of the smallest eigenvalue of the symmetric positive matrix `m`.
///
/// Where the smallest is not single the direction is one of the many that serve.
pub fn flattest_direction(m: &Matrix3) -> Vector {
    let scale = m.abs().max();
    if scale <= 0.0 {
        return Vector::z();
    }
    let m = m / scale;
    let [smallest, ..] = eigenvalues(&m);
    let shifted = m - Matrix3::identity() * smallest;
    let (r0, r1, r2) = (
        shifted.column(0).into_owned(),
        shifted.column(1).into_owned(),
        shifted.column(2).into_owned(),
    );
    let crosses = [r0.cross(&r1), r1.cross(&r2), r2.cross(&r0)];
    let mut best = crosses[0];
    for cross in &crosses[1..] {
        if cross.norm_squared() > best.norm_squared() {
            best = *cross;
        }
    }
    let norm = best.norm();
    if norm > 1e-10 {
        return best / norm;
    }
    let eigen = m.symmetric_eigen();
    eigen.eigenvectors.column(eigen.eigenvalues.imin()).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Rotation3;

    #[test]
    fn agrees_with_the_iterative_solver() {
        for turn in 0..50 {
            let r = Rotation3::new(Vector::new(0.1, 0.7, -0.4) * f64::from(turn)).into_inner();
            let m = r * Matrix3::from_diagonal(&Vector::new(0.02, 3.0, 7.0)) * r.transpose();
            let values = eigenvalues(&m);
            for (found, expected) in values.iter().zip([0.02, 3.0, 7.0]) {
                assert!((found - expected).abs() < 1e-12);
            }
            let direction = flattest_direction(&m);
            assert!((m * direction - direction * 0.02).norm() < 1e-12);
        }
    }

    #[test]
    fn survives_points_on_a_line_and_nothing_at_all() {
        let line = Matrix3::from_diagonal(&Vector::new(0.0, 0.0, 5.0));
        assert!(flattest_direction(&line).z.abs() < 1e-9);
        assert!((flattest_direction(&Matrix3::zeros()).norm() - 1.0).abs() < 1e-12);
    }
}
