//! The distance between two rough sheets over one disc: a plane each, and the curvature that they share.
//!
//! A plain average over a disc on a curved sheet reads as proud where nothing moved; fitting the curvature once for both
//! takes it out, and a plane each lets one sheet lean. Least squares; the planes are eliminated first, so that only 3 × 3
//! systems are solved (compare Lague, Brodu & Leroux 2013, ISPRS J. 82, 10-26, which averages without fitting).

use cloud::{Matrix3, Vector};

/// Sums over the points of one sheet in the disc, in coordinates u, v (shares of the radius) and height z (mm).
#[derive(Debug, Clone, Copy)]
pub struct Sums {
    /// How many points.
    pub count: f64,
    /// Plane terms (1, u, v) squared.
    pp: Matrix3,
    /// Plane terms against curvature terms (u², uv, v²).
    pq: Matrix3,
    /// Curvature terms squared.
    qq: Matrix3,
    pz: Vector,
    qz: Vector,
    zz: f64,
}

impl Default for Sums {
    fn default() -> Self {
        Self {
            count: 0.0,
            pp: Matrix3::zeros(),
            pq: Matrix3::zeros(),
            qq: Matrix3::zeros(),
            pz: Vector::zeros(),
            qz: Vector::zeros(),
            zz: 0.0,
        }
    }
}

impl Sums {
    /// Counts a point in.
    #[inline]
    pub fn add(&mut self, u: f64, v: f64, z: f64) {
        let p = Vector::new(1.0, u, v);
        let q = Vector::new(u * u, u * v, v * v);
        self.count += 1.0;
        self.pp += p * p.transpose();
        self.pq += p * q.transpose();
        self.qq += q * q.transpose();
        self.pz += p * z;
        self.qz += q * z;
        self.zz += z * z;
    }

    /// How far the middle of the points lies from the middle of the disc, as a share of the radius.
    pub fn off_middle(&self) -> f64 {
        (self.pp[(0, 1)].powi(2) + self.pp[(0, 2)].powi(2)).sqrt() / self.count.max(1.0)
    }

    /// Mean height, mm.
    pub fn mean_height_mm(&self) -> f64 {
        self.pz.x / self.count.max(1.0)
    }
}

/// The step between two sheets at the middle of the disc.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Height of the second sheet over the first, mm.
    pub mm: f64,
    /// Height of the first sheet over the disc's origin, mm.
    pub first_mm: f64,
    /// ± of the step (1.96 standard deviations) from what the fit left over, mm.
    pub pm_mm: f64,
}

/// Fewest points of a sheet for a plane of its own.
const FOR_A_PLANE: f64 = 5.0;

/// The step from sheet `first` to sheet `second` at the middle of the disc; `None` where a sheet has no points.
///
/// With too few points for planes the mean heights are compared.
pub fn step(first: &Sums, second: &Sums) -> Option<Step> {
    if first.count < 1.0 || second.count < 1.0 {
        return None;
    }
    let inverses = if first.count >= FOR_A_PLANE && second.count >= FOR_A_PLANE {
        // A little stiffness keeps points on a line from leaving the plane's tilt to noise.
        let inverse =
            |s: &Sums| (s.pp + Matrix3::from_diagonal(&Vector::new(0.0, 1e-3, 1e-3)) * s.count).try_inverse();
        inverse(first).zip(inverse(second))
    } else {
        None
    };
    let Some((first_inverse, second_inverse)) = inverses else {
        let spread = |s: &Sums| (s.zz / s.count - s.mean_height_mm().powi(2)).max(0.0) / s.count;
        return Some(Step {
            mm: second.mean_height_mm() - first.mean_height_mm(),
            first_mm: first.mean_height_mm(),
            pm_mm: 1.96 * (spread(first) + spread(second)).sqrt(),
        });
    };
    let reduced = |s: &Sums, inverse: &Matrix3| {
        let carry = s.pq.transpose() * inverse;
        (s.qq - carry * s.pq, s.qz - carry * s.pz)
    };
    let (a1, b1) = reduced(first, &first_inverse);
    let (a2, b2) = reduced(second, &second_inverse);
    let stiffness = Matrix3::identity() * (1e-4 * (first.count + second.count));
    let curvature = (a1 + a2 + stiffness)
        .cholesky()
        .map_or(Vector::zeros(), |c| c.solve(&(b1 + b2)));
    let plane = |s: &Sums, inverse: &Matrix3| inverse * (s.pz - s.pq * curvature);
    let (p1, p2) = (plane(first, &first_inverse), plane(second, &second_inverse));
    let left_over = |s: &Sums, p: &Vector| {
        (s.zz - 2.0 * (p.dot(&s.pz) + curvature.dot(&s.qz))
            + p.dot(&(s.pp * p))
            + 2.0 * p.dot(&(s.pq * curvature))
            + curvature.dot(&(s.qq * curvature)))
        .max(0.0)
    };
    let freedom = (first.count + second.count - 9.0).max(1.0);
    let variance = (left_over(first, &p1) + left_over(second, &p2)) / freedom;
    let spread = variance * (first_inverse[(0, 0)] + second_inverse[(0, 0)]);
    Some(Step {
        mm: p2.x - p1.x,
        first_mm: p1.x,
        pm_mm: 1.96 * spread.max(0.0).sqrt(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_on_a_curved_and_leaning_sheet_is_exact() {
        let (mut first, mut second) = (Sums::default(), Sums::default());
        for i in 0..30 {
            let a = f64::from(i) * 2.4;
            let r = (f64::from(i) / 30.0).sqrt();
            let (u, v) = (r * a.cos(), r * a.sin());
            let curved = 0.5 * u * u - 0.2 * u * v + 0.1 * v * v;
            first.add(u, v, curved + 0.3 * u);
            let (u, v) = (0.9 * v, -0.8 * u);
            let curved = 0.5 * u * u - 0.2 * u * v + 0.1 * v * v;
            second.add(u, v, curved + 1.25 + 0.4 * v);
        }
        let found = step(&first, &second).unwrap();
        assert!((found.mm - 1.25).abs() < 2e-3, "{found:?}");
        assert!(found.pm_mm < 0.01);
    }

    #[test]
    fn few_points_are_compared_by_their_means_and_none_not_at_all() {
        let (mut first, mut second) = (Sums::default(), Sums::default());
        assert!(step(&first, &second).is_none());
        first.add(0.1, 0.0, 1.0);
        second.add(0.0, 0.1, 3.0);
        assert_eq!(step(&first, &second).unwrap().mm, 2.0);
    }
}
