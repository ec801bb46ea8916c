//! The rigid motion that brings paired points together, in closed form.

use cloud::{Frame, Matrix3, Motion, Point, Vector};

use crate::RegisterError;

/// A closed-form fit of paired points.
#[derive(Debug, Clone, PartialEq)]
pub struct PairFit<From, To> {
    /// The motion to ← from.
    pub motion: Motion<From, To>,
    /// Distance between each moved point and its partner, mm, in the order given.
    pub residuals_mm: Vec<f64>,
    /// Root of the weighted mean square of the residuals, mm.
    pub rms_mm: f64,
}

/// The middles and the cross-covariance of two weighted point sets.
struct Paired {
    from_middle: Vector,
    to_middle: Vector,
    covariance: Matrix3,
    from_variance: f64,
}

fn paired(from: &[Point], to: &[Point], weights: Option<&[f64]>) -> Paired {
    let weight = |i: usize| weights.map_or(1.0, |w| w[i]);
    let total: f64 = (0..from.len()).map(weight).sum();
    let middle = |points: &[Point]| {
        points
            .iter()
            .enumerate()
            .map(|(i, p)| p.coords * weight(i))
            .sum::<Vector>()
            / total
    };
    let (from_middle, to_middle) = (middle(from), middle(to));
    let mut covariance = Matrix3::zeros();
    let mut from_variance = 0.0;
    for i in 0..from.len() {
        let (a, b) = (from[i].coords - from_middle, to[i].coords - to_middle);
        covariance += b * a.transpose() * (weight(i) / total);
        from_variance += a.norm_squared() * weight(i) / total;
    }
    Paired {
        from_middle,
        to_middle,
        covariance,
        from_variance,
    }
}

/// The rotation from a cross-covariance by singular values, with the guard against a reflection, and the sum of the
/// guarded singular values (Umeyama 1991, eq. 39-43).
fn rotation(covariance: &Matrix3) -> Result<(Matrix3, f64), RegisterError> {
    let svd = covariance.svd(true, true);
    let (Some(u), Some(v_t)) = (svd.u, svd.v_t) else {
        return Err(RegisterError::NotFinite);
    };
    let [s0, s1, s2] = [
        svd.singular_values[0],
        svd.singular_values[1],
        svd.singular_values[2],
    ];
    if !(s0.is_finite() && s1.is_finite()) {
        return Err(RegisterError::NotFinite);
    }
    if s1 <= 1e-9 * s0 {
        return Err(RegisterError::OnALine);
    }
    let guard = (u.determinant() * v_t.determinant()).signum();
    let signs = Matrix3::from_diagonal(&Vector::new(1.0, 1.0, guard));
    Ok((u * signs * v_t, s0 + s1 + guard * s2))
}

/// The rigid motion that takes `from[i]` to `to[i]` with the least weighted sum of squares
/// (Kabsch 1976, Acta Cryst. A32 922; Umeyama 1991, IEEE PAMI 13(4) 376). Scale is never freed; det R = +1.
///
/// # Errors
/// With fewer than three pairs, or with points on one line.
pub fn rigid<From: Frame, To: Frame>(
    from: &[Point],
    to: &[Point],
    weights: Option<&[f64]>,
) -> Result<PairFit<From, To>, RegisterError> {
    if from.len() < 3 {
        return Err(RegisterError::TooFew {
            what: "points that both sets have",
            found: from.len(),
            needed: 3,
        });
    }
    let pairs = paired(from, to, weights);
    let (turn, _) = rotation(&pairs.covariance)?;
    let motion = Motion::new(turn, pairs.to_middle - turn * pairs.from_middle);
    let residuals_mm: Vec<f64> = from
        .iter()
        .zip(to)
        .map(|(a, b)| (motion.apply(a) - b).norm())
        .collect();
    let weight = |i: usize| weights.map_or(1.0, |w| w[i]);
    let total: f64 = (0..from.len()).map(weight).sum();
    let square: f64 = residuals_mm
        .iter()
        .enumerate()
        .map(|(i, r)| r * r * weight(i))
        .sum();
    Ok(PairFit {
        motion,
        residuals_mm,
        rms_mm: (square / total).sqrt(),
    })
}

/// The scale that a similarity fit would give (Umeyama 1991, eq. 42): only to warn that two sets differ in size.
///
/// # Errors
/// As [`rigid`].
pub fn scale_between(from: &[Point], to: &[Point]) -> Result<f64, RegisterError> {
    if from.len() < 3 {
        return Err(RegisterError::TooFew {
            what: "points that both sets have",
            found: from.len(),
            needed: 3,
        });
    }
    let pairs = paired(from, to, None);
    let (_, sum) = rotation(&pairs.covariance)?;
    Ok(sum / pairs.from_variance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Body, Scan};
    use nalgebra::{Matrix4, Quaternion, UnitQuaternion};

    fn p(x: f64, y: f64, z: f64) -> Point {
        Point::new(x, y, z)
    }

    /// Umeyama 1991, IEEE PAMI 13(4) 376-380, section IV: three points in the plane, the second set mirrored. The paper
    /// prints three decimals; more are computed from its theorem. Two partners far up and down hold the turn in the plane.
    #[test]
    fn the_published_example_in_the_plane() {
        let flat = |points: [(f64, f64); 3]| {
            let middle = points
                .iter()
                .fold((0.0, 0.0), |m, q| (m.0 + q.0 / 3.0, m.1 + q.1 / 3.0));
            let mut all: Vec<Point> = points.iter().map(|q| p(q.0, q.1, 0.0)).collect();
            all.extend([p(middle.0, middle.1, 100.0), p(middle.0, middle.1, -100.0)]);
            all
        };
        let from = flat([(0.0, 0.0), (1.0, 0.0), (0.0, 2.0)]);
        let to = flat([(0.0, 0.0), (-1.0, 0.0), (0.0, 2.0)]);
        let fit = rigid::<Scan, Body>(&from, &to, None).unwrap();
        let turn = fit.motion.rotation();
        for (found, expected) in [
            (turn[(0, 0)], 0.832_050_294_3),
            (turn[(0, 1)], 0.554_700_196_2),
            (turn[(1, 0)], -0.554_700_196_2),
            (turn[(1, 1)], 0.832_050_294_3),
            (fit.motion.translation_mm().x, -0.980_483_562_3),
            (fit.motion.translation_mm().y, 0.296_866_535_8),
        ] {
            assert!((found - expected).abs() < 1e-9);
        }
        let square: f64 = fit.residuals_mm[..3].iter().map(|r| r * r).sum::<f64>() / 3.0;
        assert!((square - 0.619_754_988_7).abs() < 1e-9);
        // The scale of the three alone: take the two partners' share out of both sums.
        let pairs = paired(&from, &to, None);
        let (_, sum) = rotation(&pairs.covariance).unwrap();
        let partners = 2.0 * 100.0 * 100.0 / 5.0;
        let scale = (sum - partners) / (pairs.from_variance - partners);
        assert!((scale - 0.721_110_255_1).abs() < 1e-9);
        let shift =
            Vector::new(-1.0 / 3.0, 2.0 / 3.0, 0.0) - turn * Vector::new(1.0 / 3.0, 2.0 / 3.0, 0.0) * scale;
        assert!((shift.x + 0.8).abs() < 1e-9 && (shift.y - 0.4).abs() < 1e-9);
    }

    /// Horn 1987, JOSA A 4(4) 629: the unit quaternion is the eigenvector of the largest eigenvalue of N.
    #[test]
    fn singular_values_and_quaternions_give_one_answer() {
        let from: Vec<Point> = (0..12)
            .map(|i| {
                let t = f64::from(i);
                p((t * 1.3).sin() * 900.0, (t * 0.7).cos() * 500.0, t * 31.0)
            })
            .collect();
        let truth: Motion<Scan, Body> = Motion::turn_about(
            Vector::new(0.4, -1.1, 0.2),
            p(10.0, 0.0, 0.0),
            Vector::new(5.0, 6.0, 7.0),
        );
        let to: Vec<Point> = from
            .iter()
            .enumerate()
            .map(|(i, q)| truth.apply(q) + Vector::new(0.3, -0.2, 0.1) * f64::from(i as u8 % 3))
            .collect();
        let fit = rigid::<Scan, Body>(&from, &to, None).unwrap();
        let s = paired(&from, &to, None).covariance.transpose();
        let n = Matrix4::new(
            s.trace(),
            s[(1, 2)] - s[(2, 1)],
            s[(2, 0)] - s[(0, 2)],
            s[(0, 1)] - s[(1, 0)],
            s[(1, 2)] - s[(2, 1)],
            s[(0, 0)] - s[(1, 1)] - s[(2, 2)],
            s[(0, 1)] + s[(1, 0)],
            s[(2, 0)] + s[(0, 2)],
            s[(2, 0)] - s[(0, 2)],
            s[(0, 1)] + s[(1, 0)],
            s[(1, 1)] - s[(0, 0)] - s[(2, 2)],
            s[(1, 2)] + s[(2, 1)],
            s[(0, 1)] - s[(1, 0)],
            s[(2, 0)] + s[(0, 2)],
            s[(1, 2)] + s[(2, 1)],
            s[(2, 2)] - s[(0, 0)] - s[(1, 1)],
        );
        let eigen = n.symmetric_eigen();
        let q = eigen.eigenvectors.column(eigen.eigenvalues.imax()).into_owned();
        let turn = UnitQuaternion::from_quaternion(Quaternion::new(q[0], q[1], q[2], q[3]));
        assert!((turn.to_rotation_matrix().matrix() - fit.motion.rotation()).norm() < 1e-9);
    }

    #[test]
    fn points_on_a_line_are_refused() {
        let line: Vec<Point> = (0..5).map(|i| p(f64::from(i), 2.0 * f64::from(i), 0.0)).collect();
        assert_eq!(
            rigid::<Scan, Body>(&line, &line, None),
            Err(RegisterError::OnALine)
        );
        assert!(matches!(
            rigid::<Scan, Body>(&line[..2], &line[..2], None),
            Err(RegisterError::TooFew { found: 2, .. })
        ));
    }

    #[test]
    fn a_weight_of_nothing_leaves_a_point_out() {
        let from = [
            p(0.0, 0.0, 0.0),
            p(100.0, 0.0, 0.0),
            p(0.0, 100.0, 0.0),
            p(0.0, 0.0, 100.0),
        ];
        let mut to = from;
        to[3].x += 50.0;
        let fit = rigid::<Scan, Body>(&from, &to, Some(&[1.0, 1.0, 1.0, 0.0])).unwrap();
        assert!(fit.rms_mm < 1e-12 && (fit.residuals_mm[3] - 50.0).abs() < 1e-12);
    }
}
