//! Which kept region may have moved: each is left out in turn, and the rest asked where it should lie.

use cloud::bisquare::TUKEY;
use cloud::held::LEAST_HELD;
use cloud::statistics::rms;
use cloud::{Body, Matrix3, Motion, Point, Scan, Surface, Vector};
use rayon::prelude::*;

use crate::icp::{Fixed, Level, Moving, Settled, distances, one_level};

/// Measured points that take part.
const POINTS: f64 = 40_000.0;
/// A region is said to have moved when it lies off by more than this where the others put it, mm (1/32 in) …
const LEAST_MM: f64 = 25.4 / 32.0;
/// … by more than this many times its own ±, and the others agree with each other to this share of it.
const TIMES_PM: f64 = 2.0;
const OTHERS_AGREE: f64 = 0.5;

/// A kept region that does not lie where the other kept metal puts it.
#[derive(Debug, Clone, PartialEq)]
pub struct MayHaveMoved {
    /// Its place in the list that was given.
    pub index: usize,
    /// How it lies off where the others put it: the shift that fits its points best, in the reference's frame, mm.
    pub off_mm: Vector,
    /// Rms of the others' distances without it, none taken for an outlier, mm.
    pub others_mm: f64,
}

/// Leaves out each of `kept` (which points of the reference belong to it) in turn. With fewer than three regions there
/// is nobody to say which one has moved, and nothing is said; nor where what is left holds too little.
pub fn who_moved(
    reference: &Surface<Body>,
    kept: &[Vec<bool>],
    measured: &Surface<Scan>,
    settled: &Settled,
) -> Option<MayHaveMoved> {
    if kept.len() < 3 {
        return None;
    }
    let cell = (measured.points().len() as f64 / POINTS).sqrt() * measured.spacing_mm;
    let moving = Moving::of(measured, cell.max(measured.spacing_mm));
    let together = |without: Option<usize>| -> Vec<bool> {
        (0..reference.points().len())
            .map(|i| {
                kept.iter()
                    .enumerate()
                    .any(|(k, region)| Some(k) != without && region[i])
            })
            .collect()
    };
    let spacing = reference.spacing_mm.max(measured.spacing_mm);
    let reach_mm = (12.0 * settled.sigma_mm).max(4.0 * spacing).max(8.0);
    let level = Level {
        reach_mm,
        // The rest may be off by as much as the one that is left out has pulled it.
        widest_mm: reach_mm / TUKEY,
        spacing_mm: spacing,
        tolerance_mm: 0.002 * spacing,
        most_steps: 40,
    };
    let start = settled.reference_from_measured;
    let of = |without: Option<usize>| {
        one_level(
            &Fixed::kept_of(reference, &together(without)),
            &moving,
            start,
            &level,
        )
    };
    let found: Vec<Option<MayHaveMoved>> = (0..kept.len())
        .into_par_iter()
        .map(|k| {
            let rest = of(Some(k));
            if rest.pairs < 500 || !rest.motions.held().free.is_empty() {
                return None;
            }
            let others = Fixed::kept_of(reference, &together(Some(k)));
            let others_mm = all_distances(&others, &moving, &rest.reference_from_measured, level.reach_mm);
            let own = Fixed::kept_of(reference, &kept[k]);
            let off_mm = shift_of(&distances(
                &own,
                &moving,
                &rest.reference_from_measured,
                level.reach_mm,
            ));
            let pm_mm = middle_of(&own).map_or(0.0, |at| rest.motions.pm_at_mm(&at));
            let moved =
                off_mm.norm() > LEAST_MM.max(TIMES_PM * pm_mm) && others_mm < OTHERS_AGREE * off_mm.norm();
            moved.then_some(MayHaveMoved {
                index: k,
                off_mm,
                others_mm,
            })
        })
        .collect();
    // The one without which the others agree best.
    found
        .into_iter()
        .flatten()
        .min_by(|a, b| a.others_mm.total_cmp(&b.others_mm))
}

/// The shift that takes the distances least squares to nothing; along directions that hardly any normal has it is nothing.
fn shift_of(distances: &[(Vector, f64)]) -> Vector {
    let (mut matrix, mut right) = (Matrix3::zeros(), Vector::zeros());
    for (normal, off) in distances {
        matrix += normal * normal.transpose();
        right += normal * *off;
    }
    let eigen = matrix.symmetric_eigen();
    let largest = eigen.eigenvalues.max();
    let mut shift = Vector::zeros();
    for k in 0..3 {
        if eigen.eigenvalues[k] > LEAST_HELD * largest {
            let v = eigen.eigenvectors.column(k).into_owned();
            shift += v * (v.dot(&right) / eigen.eigenvalues[k]);
        }
    }
    shift
}

/// The middle of the usable points.
fn middle_of(fixed: &Fixed<'_>) -> Option<Point> {
    let usable = fixed
        .usable
        .iter()
        .zip(fixed.surface.points())
        .filter(|(usable, _)| **usable);
    let at: Vec<Point> = usable.map(|(_, p)| *p).collect();
    cloud::Bounds::of(&at).map(|b| b.centre())
}

/// Rms of all distances within reach, none taken for an outlier, mm.
fn all_distances(fixed: &Fixed<'_>, moving: &Moving, motion: &Motion<Scan, Body>, reach_mm: f64) -> f64 {
    let all = distances(fixed, moving, motion, reach_mm);
    rms(&all.iter().map(|(_, off)| *off).collect::<Vec<f64>>())
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Cloud;

    /// A deterministic number between 0 and 1.
    fn uniform(i: u64) -> f64 {
        let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        (x ^ x >> 31) as f64 / u64::MAX as f64
    }

    /// Four boxes' corners, as three faces each, at the corners of a rectangle; one of them moved.
    fn corners(seed: u64, moved: usize, by: cloud::Vector) -> Vec<Point> {
        (0..60_000u64)
            .map(|i| {
                let k = 3 * (i + 1_000_000 * seed);
                let (u, v, w) = (uniform(k), uniform(k + 1), 0.1 * (uniform(k + 2) - 0.5));
                let place = (i % 4) as usize;
                let at = Point::new(
                    [0.0, 900.0, 900.0, 0.0][place],
                    [0.0, 0.0, 500.0, 500.0][place],
                    0.0,
                );
                let face = match i / 4 % 3 {
                    0 => cloud::Vector::new(200.0 * u, 150.0 * v, w),
                    1 => cloud::Vector::new(200.0 * u, w, 100.0 * v),
                    _ => cloud::Vector::new(w, 150.0 * u, 100.0 * v),
                };
                at + face
                    + if place == moved {
                        by
                    } else {
                        cloud::Vector::zeros()
                    }
            })
            .collect()
    }

    fn asked(moved: usize, by: cloud::Vector) -> Option<MayHaveMoved> {
        let none = cloud::Vector::zeros();
        let reference = Surface::<Body>::new(Cloud::from_points(corners(1, 9, none)), None)
            .unwrap()
            .0;
        let measured = Surface::<Scan>::new(Cloud::from_points(corners(2, moved, by)), None)
            .unwrap()
            .0;
        let kept: Vec<Vec<bool>> = (0..4)
            .map(|k| {
                let at = [(false, false), (true, false), (true, true), (false, true)][k];
                reference
                    .points()
                    .iter()
                    .map(|p| (p.x > 500.0, p.y > 325.0) == at)
                    .collect()
            })
            .collect();
        let all = Fixed::kept_of(&reference, &vec![true; reference.points().len()]);
        let settled = crate::icp::settle_near(&all, &measured, &Motion::identity(), 12.7);
        who_moved(&reference, &kept, &measured, &settled)
    }

    #[test]
    fn the_region_that_moved_is_named_and_none_where_none_did() {
        assert_eq!(asked(9, cloud::Vector::zeros()), None);
        let found = asked(2, cloud::Vector::new(0.0, 0.0, 2.0)).unwrap();
        assert_eq!(found.index, 2);
        assert!((found.off_mm - Vector::z() * 2.0).norm() < 0.15, "{found:?}");
    }
}
