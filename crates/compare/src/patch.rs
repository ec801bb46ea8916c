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
    exact: bool,
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
            exact: false,
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

    /// The same of a sheet that is known exactly: it brings nothing to the ± of a step.
    #[must_use]
    pub fn known_exactly(mut self) -> Self {
        self.exact = true;
        self
    }

    /// How far the middle of the points lies from the middle of the disc, as a share of the radius.
    pub fn off_middle(&self) -> f64 {
        (self.pp[(0, 1)].powi(2) + self.pp[(0, 2)].powi(2)).sqrt() / self.count.max(1.0)
    }

    /// Mean height, mm.
    fn mean_height_mm(&self) -> f64 {
        self.pz.x / self.count.max(1.0)
    }
}

/// The step between two sheets at the middle of the disc.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Height of the second sheet over the first, mm.
    pub mm: f64,
    /// ± of the step (1.96 standard deviations) from what the fit left over on the sheets that aren't known exactly, mm.
    pub pm_mm: f64,
}

/// Fewest points of a sheet for a plane of its own.
pub(crate) const FOR_A_PLANE: f64 = 5.0;

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
    let inverse = (a1 + a2 + stiffness)
        .cholesky()
        .map_or_else(Matrix3::zeros, |c| c.inverse());
    let curvature = inverse * (b1 + b2);
    let plane = |s: &Sums, inverse: &Matrix3| inverse * (s.pz - s.pq * curvature);
    let (p1, p2) = (plane(first, &first_inverse), plane(second, &second_inverse));
    let left_over = |s: &Sums, p: &Vector| {
        (s.zz - 2.0 * (p.dot(&s.pz) + curvature.dot(&s.qz))
            + p.dot(&(s.pp * p))
            + 2.0 * p.dot(&(s.pq * curvature))
            + curvature.dot(&(s.qq * curvature)))
        .max(0.0)
    };
    let (mut left_mm2, mut freedom, mut of_planes, mut rough) = (0.0, 0.0, 0.0, Matrix3::zeros());
    for (sheet, own, plane, reduced) in [
        (first, &first_inverse, &p1, &a1),
        (second, &second_inverse, &p2, &a2),
    ] {
        if !sheet.exact {
            left_mm2 += left_over(sheet, plane);
            freedom += sheet.count - 3.0;
            of_planes += own[(0, 0)];
            rough += reduced;
        }
    }
    // The curvature is known no better than the rough points show it. Where the two sheets fill the disc alike it raises both
    // alike; at an edge it raises one of them more.
    let raises = |s: &Sums, own: &Matrix3| -> Vector { (own * s.pq).row(0).transpose() };
    let lever = raises(second, &second_inverse) - raises(first, &first_inverse);
    let shown = inverse * rough;
    let of_curvature = lever.dot(&(shown * inverse * lever));
    let taken = (shown * 2.0 - shown * shown).trace();
    let variance_mm2 = left_mm2 / (freedom - taken).max(1.0);
    let spread_mm2 = variance_mm2 * (of_planes + of_curvature);
    Some(Step {
        mm: p2.x - p1.x,
        pm_mm: 1.96 * spread_mm2.max(0.0).sqrt(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

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

    /// Twenty points rough by 1 mm about nothing, over the disc or over the half of it.
    fn rough(seed: u64, half: bool) -> Sums {
        let mut sums = Sums::default();
        for i in 0..20 {
            let k = 20 * (20 * seed + i);
            let (r, a) = (uniform(k).sqrt(), std::f64::consts::TAU * uniform(k + 1));
            let u = r * a.cos();
            let z = (2..14).map(|j| uniform(k + j)).sum::<f64>() - 6.0;
            sums.add(if half { u.abs() } else { u }, r * a.sin(), z);
        }
        sums
    }

    /// Nothing has moved, so the truth is nothing: it lies within the ± in about 95 % of the repeats, at an edge too.
    #[test]
    fn the_band_of_a_step_is_honest_also_at_an_edge_and_against_an_exact_sheet() {
        let mut exact = Sums::default();
        for (u, v) in [(0.0, 0.0), (0.7, 0.7), (-0.7, 0.7), (0.7, -0.7), (-0.7, -0.7)] {
            exact.add(u, v, 0.0);
        }
        let exact = exact.known_exactly();
        let held = |first: &dyn Fn(u64) -> Sums, half: bool| {
            let repeats = (0..2000).filter(|k| {
                let found = step(&first(2 * k), &rough(2 * k + 1, half)).unwrap();
                found.mm.abs() <= found.pm_mm
            });
            repeats.count() as f64 / 2000.0
        };
        let cases: [(&dyn Fn(u64) -> Sums, bool); 5] = [
            (&|k| rough(k, false), false),
            (&|k| rough(k, false), true),
            (&|k| rough(k, true), true),
            (&|_| exact, false),
            (&|_| exact, true),
        ];
        for (first, half) in cases {
            let share = held(first, half);
            assert!((0.92..=0.975).contains(&share), "{share}");
        }
    }
}
