//! Which kept region may have moved: each is left out in turn, and the rest asked where it should lie.

pub mod pieces;

use cloud::bisquare::TUKEY;
use cloud::held::{LEAST_HELD, Motions, pm_of_row, row};
use cloud::statistics::rms;
use cloud::{Body, Matrix3, Motion, Point, Scan, Surface, Vector};
use rayon::prelude::*;

use crate::icp::{Fixed, Level, Moving, Settled, distances, one_level};

/// Measured points that take part.
const POINTS: f64 = 40_000.0;
/// Fewer pairs set nothing by themselves.
const LEAST_PAIRS: usize = 500;
/// A place that a motion hardly moves, by so much of what it moves the rest, says as much of it as any other.
const HARDLY: f64 = 0.1;
/// A region is said to have moved when it lies off by more than this where the others put it, mm (1/32 in) …
const LEAST_MM: f64 = 25.4 / 32.0;
/// … by more than this many times its ±, and the others agree with each other to this share of it.
const TIMES_PM: f64 = 2.0;
const OTHERS_AGREE: f64 = 0.5;
/// Without another the rest agrees as well where its rms is no more than this many times the best.
const AS_WELL: f64 = 1.5;
/// Half the 95 % band in standard deviations.
const BAND: f64 = 1.96;

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

/// What is asked of pieces of kept metal, each set by itself.
struct Asked {
    moving: Moving,
    level: Level,
    /// Where everything that was left alone has the measured set.
    start: Motion<Scan, Body>,
    /// What the points of both sets scatter by, mm.
    noise_mm: f64,
}

impl Asked {
    fn of(reference: &Surface<Body>, measured: &Surface<Scan>, settled: &Settled) -> Self {
        let cell = (measured.points().len() as f64 / POINTS).sqrt() * measured.spacing_mm;
        let spacing = reference.spacing_mm.max(measured.spacing_mm);
        let reach_mm = (12.0 * settled.sigma_mm).max(4.0 * spacing).max(8.0);
        Self {
            moving: Moving::of(measured, cell.max(measured.spacing_mm)),
            level: Level {
                reach_mm,
                // The rest may be off by as much as the one that is left out has pulled it.
                widest_mm: reach_mm / TUKEY,
                spacing_mm: spacing,
                tolerance_mm: 0.002 * spacing,
                most_steps: 40,
            },
            start: settled.reference_from_measured,
            noise_mm: reference.noise_mm.hypot(measured.noise_mm),
        }
    }

    /// The measured set on one piece alone, which need not hold it: along what it lets slide it stays where it was.
    fn set_on(&self, piece: &Fixed<'_>) -> Option<Settled> {
        let mut done = one_level(piece, &self.moving, self.start, &self.level);
        if done.pairs >= LEAST_PAIRS && !done.motions.held().free.is_empty() {
            let there = done.slid_to(&self.start);
            done = one_level(piece, &self.moving, there, &self.level);
            done.reference_from_measured = done.slid_to(&self.start);
        }
        (done.pairs >= LEAST_PAIRS).then_some(done)
    }
}

/// Leaves out each of `kept` (which points of the reference belong to it) in turn, and gives the one without which the others
/// agree best, with all that would explain as much: where a region is held by one other only, the one speaks against the
/// other. With fewer than three regions there is nobody to say which one has moved, and nothing is said; nor along what is
/// free without it.
///
/// Where the others put a region is known no better than they are rigid, and it is held to that.
pub fn who_moved(
    reference: &Surface<Body>,
    kept: &[Vec<bool>],
    measured: &Surface<Scan>,
    settled: &Settled,
) -> Vec<MayHaveMoved> {
    if kept.len() < 3 {
        return Vec::new();
    }
    let asked = Asked::of(reference, measured, settled);
    let reach_mm = asked.level.reach_mm;
    let found: Vec<Option<MayHaveMoved>> = (0..kept.len())
        .into_par_iter()
        .map(|k| {
            let others = Fixed::kept_of(reference, &all_but(kept, k));
            let rest = asked.set_on(&others)?;
            let motion = rest.reference_from_measured;
            let others_mm = all_distances(&others, &asked.moving, &motion, reach_mm);
            let own = Fixed::kept_of(reference, &kept[k]);
            let at = middle_of(&own)?;
            let shift = shift_of(&distances(&own, &asked.moving, &motion, reach_mm));
            let off_mm = without_free(&rest.motions, &at, shift);
            let rest = Rest {
                settled: rest,
                regions: kept.len() - 1,
                give_mm: (others_mm.powi(2) - asked.noise_mm.powi(2)).max(0.0).sqrt(),
            };
            let pm_mm = rest.pm_mm(&at, &off_mm.try_normalize(1e-9)?);
            let moved =
                off_mm.norm() > LEAST_MM.max(TIMES_PM * pm_mm) && others_mm < OTHERS_AGREE * off_mm.norm();
            moved.then_some(MayHaveMoved {
                index: k,
                off_mm,
                others_mm,
            })
        })
        .collect();
    let mut found: Vec<MayHaveMoved> = found.into_iter().flatten().collect();
    found.sort_by(|a, b| a.others_mm.total_cmp(&b.others_mm));
    let best_mm = found.first().map_or(0.0, |best| best.others_mm);
    found.retain(|one| one.others_mm <= AS_WELL * best_mm);
    found
}

/// A shift at a place without what the motions that nothing holds would shift there: of that nobody can say where it should be.
fn without_free(motions: &Motions, at: &Point, shift: Vector) -> Vector {
    let without = |free: &[Vector], shift: Vector| {
        free.iter()
            .fold(shift, |left, free| left - free * free.dot(&left))
    };
    let mut free: Vec<Vector> = Vec::new();
    for motion in motions.held().free {
        free.extend(without(&free, motion.at(motions, at)).try_normalize(HARDLY));
    }
    without(&free, shift)
}

/// Which points of the reference belong to a kept region other than the `k`-th.
pub fn all_but(kept: &[Vec<bool>], k: usize) -> Vec<bool> {
    let points = kept.first().map_or(0, Vec::len);
    let others = || kept.iter().enumerate().filter(|(other, _)| *other != k);
    (0..points)
        .map(|i| others().any(|(_, region)| region[i]))
        .collect()
}

/// The regions that are not left out, set by themselves.
struct Rest {
    settled: Settled,
    /// How many they are.
    regions: usize,
    /// How far they are from rigid: the rms of their distances beyond the noise, mm.
    give_mm: f64,
}

impl Rest {
    /// The ± of where they put a place of a region that is left out, mm. It counts what the noise of their pairs leaves unknown,
    /// and that sheet is not rigid: what is left of their own distances stands in neighbouring pairs alike, so each region
    /// counts once for it and not each pair, carried to the place by the same information (one cluster a region; compare Liang &
    /// Zeger 1986, Biometrika 73(1)); and the region that is left out gives as much by itself.
    fn pm_mm(&self, at: &Point, direction: &Vector) -> f64 {
        let motions = &self.settled.motions;
        let mut of_one_mm = motions.clone();
        of_one_mm.sigma_mm = 1.0;
        let follows = row(&(at - motions.centre_mm), direction);
        let carried = pm_of_row(&of_one_mm.covariance(), &follows);
        let pairs_a_region = self.settled.pairs as f64 / self.regions as f64;
        let give = BAND.hypot(carried * pairs_a_region.sqrt());
        (carried * motions.sigma_mm).hypot(give * self.give_mm)
    }
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
    use crate::made::uniform;
    use cloud::Cloud;

    /// Four boxes' corners, as three faces each, at the corners of a rectangle; one of them moved.
    fn corners(seed: u64, moved: usize, by: Vector) -> Vec<Point> {
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
                    0 => Vector::new(200.0 * u, 150.0 * v, w),
                    1 => Vector::new(200.0 * u, w, 100.0 * v),
                    _ => Vector::new(w, 150.0 * u, 100.0 * v),
                };
                at + face + if place == moved { by } else { Vector::zeros() }
            })
            .collect()
    }

    /// Who moved between two sets of points; `of` is the region of a place.
    fn between(was: Vec<Point>, is: Vec<Point>, of: impl Fn(&Point) -> usize) -> Vec<MayHaveMoved> {
        let reference = Surface::<Body>::new(Cloud::from_points(was), None).unwrap().0;
        let measured = Surface::<Scan>::new(Cloud::from_points(is), None).unwrap().0;
        let kept: Vec<Vec<bool>> = (0..4)
            .map(|k| reference.points().iter().map(|p| of(p) == k).collect())
            .collect();
        let all = Fixed::kept_of(&reference, &vec![true; reference.points().len()]);
        let settled = crate::icp::settle_near(&all, &measured, &Motion::identity(), 12.7);
        who_moved(&reference, &kept, &measured, &settled)
    }

    fn corner_of(p: &Point) -> usize {
        match (p.x > 500.0, p.y > 325.0) {
            (false, false) => 0,
            (true, false) => 1,
            (true, true) => 2,
            (false, true) => 3,
        }
    }

    #[test]
    fn the_region_that_moved_is_named_and_none_where_none_did() {
        let none = Vector::zeros();
        let was = corners(1, 9, none);
        assert!(between(was.clone(), corners(2, 9, none), corner_of).is_empty());
        let found = between(was, corners(2, 2, Vector::z() * 2.0), corner_of);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].index, 2);
        assert!((found[0].off_mm - Vector::z() * 2.0).norm() < 0.15, "{found:?}");
    }

    /// The rims of a pan of 800 × 500: front, rear, left, right, each a flat of 40 mm and a wall 25 mm down at its border.
    fn rims(seed: u64, off: impl Fn(&Point, usize) -> Vector) -> Vec<Point> {
        (0..40_000u64)
            .map(|i| {
                let k = 3 * (i + 1_000_000 * seed);
                let (u, v, w) = (uniform(k), uniform(k + 1), 0.1 * (uniform(k + 2) - 0.5));
                let rim = (i % 4) as usize;
                let (across, height) = match i / 4 % 3 {
                    0 => (w, -25.0 * v),
                    _ => (40.0 * v, w),
                };
                let at = match rim {
                    0 => Point::new(across, 500.0 * u, height),
                    1 => Point::new(800.0 - across, 500.0 * u, height),
                    2 => Point::new(41.0 + 718.0 * u, across, height),
                    _ => Point::new(41.0 + 718.0 * u, 500.0 - across, height),
                };
                at + off(&at, rim)
            })
            .collect()
    }

    fn rim_of(p: &Point) -> usize {
        match (p.x, p.y) {
            (x, _) if x < 40.5 => 0,
            (x, _) if x > 759.5 => 1,
            (_, y) if y < 250.0 => 2,
            _ => 3,
        }
    }

    #[test]
    fn a_pan_that_has_sprung_names_nobody_and_a_rim_that_was_shifted_is_named() {
        let was = rims(1, |_, _| Vector::zeros());
        let bow = |p: &Point, _: usize| Vector::z() * (2.0 * (1.0 - ((p.x - 400.0) / 400.0).powi(2)));
        let sprung = between(was.clone(), rims(2, bow), rim_of);
        assert!(sprung.is_empty(), "{sprung:?}");
        let shifted = |_: &Point, rim: usize| Vector::z() * if rim == 0 { 3.0 } else { 0.0 };
        let found = between(was, rims(2, shifted), rim_of);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].index, 0);
        assert!((found[0].off_mm - Vector::z() * 3.0).norm() < 0.3, "{found:?}");
    }

    /// Thirds of a tray of which only the rear one has a wall across: without it nothing holds the others fore and aft.
    #[test]
    fn a_region_that_alone_holds_the_set_one_way_is_named_for_how_it_lies_the_others() {
        let tray = |seed: u64, by: Vector| -> Vec<Point> {
            (0..40_000u64)
                .map(|i| {
                    let k = 3 * (i + 1_000_000 * seed);
                    let (u, v, w) = (uniform(k), uniform(k + 1), 0.3 * (uniform(k + 2) - 0.5));
                    let at = match i % 12 {
                        0 => Point::new(600.0 + w, 280.0 * u, -25.0 * v),
                        1 => Point::new(600.0 * u, w, -25.0 * v),
                        _ => Point::new(600.0 * u, 280.0 * v, w),
                    };
                    at + if at.x > 400.0 { by } else { Vector::zeros() }
                })
                .collect()
        };
        let by = Vector::new(0.0, 1.0, 2.0);
        let third = |p: &Point| (p.x / 200.0).clamp(0.0, 2.0) as usize;
        let found = between(tray(1, Vector::zeros()), tray(2, by), third);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].index, 2);
        assert!((found[0].off_mm - by).norm() < 0.3, "{found:?}");
    }
}
