//! Setting from any pose, with no start given: many attitudes tried on few points, the best carried to the end.
//!
//! Attitudes are spread evenly over all rotations (super-Fibonacci spirals, Alexa 2022, CVPR), with the ways of laying
//! the two sets' principal axes on each other besides. Each is let settle on a few points; the cost is the mean square
//! distance, capped, so that what has no partner counts alike everywhere. The runner-up is kept: a nearly symmetrical
//! part can lie in more than one way.

use cloud::{Body, Frame, Matrix3, Mirror, Motion, Point, Scan, Surface, Vector, thin};
use nalgebra::{Quaternion, UnitQuaternion};
use rayon::prelude::*;

use crate::RegisterError;
use crate::icp::{Fixed, Level, Moving, Settled, one_level, settle};

/// Attitudes that are tried.
const ATTITUDES: usize = 360;
/// Measured points on which an attitude is tried first.
const FIRST_POINTS: f64 = 250.0;
/// Measured points on which the better ones are tried again.
const SECOND_POINTS: f64 = 3_000.0;
/// Measured points on which the last few are told apart.
const LAST_POINTS: f64 = 20_000.0;
/// Reference points that are searched meanwhile.
const REFERENCE_POINTS: f64 = 6_000.0;
/// Attitudes that are tried again.
const SECOND: usize = 24;
/// Attitudes that are told apart at the last.
const LAST: usize = 4;
/// Share of the surface that the two sets must have in common.
pub const LEAST_OVERLAP: f64 = 0.35;
/// A runner-up whose cost is within this factor of the best could also be meant.
const ALSO_POSSIBLE: f64 = 1.3;

/// The best setting found, and the next that is really another.
#[derive(Debug, Clone)]
pub struct AnyPose {
    /// The best.
    pub best: Settled,
    /// Capped cost of the best, mm.
    pub cost_mm: f64,
    /// The next best that lies differently.
    pub runner_up: Option<RunnerUp>,
    /// Capped cost of the best when the measured set is mirrored, mm: much smaller where it is of the other hand.
    pub mirrored_cost_mm: f64,
    /// Share of the surface that the two have in common, the larger of the two views.
    pub overlap: f64,
    /// Share of the points with a counterpart within a few spacings that also lie on it and face alike.
    pub alike: f64,
}

/// The next best setting.
#[derive(Debug, Clone)]
pub struct RunnerUp {
    /// Its capped cost, mm.
    pub cost_mm: f64,
    /// How far it is turned from the best, degrees.
    pub turned_deg: f64,
    /// Whether it fits nearly as well.
    pub nearly_as_good: bool,
}

/// Finds how the measured surface lies on the fixed one, from any pose.
///
/// # Errors
/// [`RegisterError::TooLittleOverlap`] where the best setting leaves too much without a partner.
pub fn from_any_pose(reference: &Surface<Body>, measured: &Surface<Scan>) -> Result<AnyPose, RegisterError> {
    let last = settings(reference, measured);
    let extent = measured.cloud.bounds().map_or(0.0, |b| b.diagonal());
    let mut rest = last.into_iter();
    let Some((cost, best)) = rest.next() else {
        return Err(RegisterError::TooLittleOverlap {
            overlap_percent: 0.0,
            needed_percent: 100.0 * LEAST_OVERLAP,
        });
    };
    let bounds = measured.cloud.bounds();
    let runner_up = rest
        .find(|(_, other)| bounds.is_some_and(|b| best.largest_gap_mm(other, &b) > extent / 40.0))
        .map(|(other_cost, other)| RunnerUp {
            cost_mm: other_cost,
            turned_deg: best.then(&other.inverse()).angle().to_degrees(),
            nearly_as_good: other_cost < ALSO_POSSIBLE * cost,
        });
    let best = settle(&Fixed::all_of(reference), measured, &best, extent / 100.0);
    let overlap = overlap(reference, measured, &best.reference_from_measured);
    if overlap < LEAST_OVERLAP {
        return Err(RegisterError::TooLittleOverlap {
            overlap_percent: 100.0 * overlap,
            needed_percent: 100.0 * LEAST_OVERLAP,
        });
    }
    let mirrored = settings(reference, &mirror_image(measured));
    Ok(AnyPose {
        alike: alike(reference, measured, &best.reference_from_measured),
        best,
        cost_mm: cost,
        mirrored_cost_mm: mirrored.first().map_or(f64::INFINITY, |m| m.0),
        runner_up,
        overlap,
    })
}

/// The mirror image of a set, thinned to what is needed to try how it lies.
fn mirror_image(measured: &Surface<Scan>) -> Surface<Scan> {
    let picked = thin::on_grid(measured.points(), cell(measured, 2.0 * LAST_POINTS));
    let mirror = Mirror {
        normal: Vector::x(),
        offset_mm: 0.0,
    };
    let cloud = mirror.cloud(&measured.cloud.pick(&picked));
    Surface {
        near: cloud::Near::new(&cloud.points_mm),
        rim: vec![false; cloud.len()],
        spacing_mm: cell(measured, cloud.len() as f64),
        cloud,
        noise_mm: measured.noise_mm,
        sides_known: measured.sides_known,
        repeats: 0,
        strays: 0,
    }
}

/// The last few settings from every attitude, each with its capped cost, the best first.
fn settings(reference: &Surface<Body>, measured: &Surface<Scan>) -> Vec<(f64, Motion<Scan, Body>)> {
    let coarse = thinned(reference, REFERENCE_POINTS);
    let few = Moving::of(measured, cell(measured, FIRST_POINTS));
    let more = Moving::of(measured, cell(measured, SECOND_POINTS));
    let fixed = Fixed::all_of(&coarse);
    let extent = measured.cloud.bounds().map_or(0.0, |b| b.diagonal());
    let try_all =
        |starts: Vec<Motion<Scan, Body>>, moving: &Moving, keep: usize, steps: usize, parts: [f64; 2]| {
            let mut tried: Vec<(f64, Motion<Scan, Body>)> = starts
                .par_iter()
                .map(|start| {
                    let level = Level {
                        reach_mm: extent / parts[0],
                        widest_mm: 0.0,
                        spacing_mm: coarse.spacing_mm,
                        tolerance_mm: 0.05 * coarse.spacing_mm,
                        most_steps: steps,
                    };
                    let done = one_level(&fixed, moving, *start, &level);
                    let motion = done.reference_from_measured;
                    (
                        cost_mm(&coarse, &moving.points, &motion, extent / parts[1]),
                        motion,
                    )
                })
                .collect();
            tried.sort_by(|a, b| a.0.total_cmp(&b.0));
            distinct(tried, measured, keep, extent / 40.0)
        };
    let first = try_all(starts(reference, measured), &few, SECOND, 12, [3.0, 20.0]);
    let second = try_all(
        first.into_iter().map(|t| t.1).collect(),
        &more,
        LAST,
        30,
        [8.0, 40.0],
    );
    // The last few are told apart on many points, and only the best goes to the end.
    let judge = thinned(reference, 200_000.0);
    let judged = Fixed::all_of(&judge);
    let many = Moving::of(measured, cell(measured, LAST_POINTS));
    let cap = (6.0 * reference.spacing_mm.max(measured.spacing_mm)).max(extent / 500.0);
    let mut last: Vec<(f64, Motion<Scan, Body>)> = second
        .into_iter()
        .map(|(_, start)| {
            let level = Level {
                reach_mm: extent / 25.0,
                widest_mm: 0.0,
                spacing_mm: judge.spacing_mm,
                tolerance_mm: 0.02 * judge.spacing_mm,
                most_steps: 30,
            };
            let done = one_level(&judged, &many, start, &level);
            let motion = done.reference_from_measured;
            (along_normals_mm(&judge, &many, &motion, cap), motion)
        })
        .collect();
    last.sort_by(|a, b| a.0.total_cmp(&b.0));
    last
}

/// Of the points that have a counterpart within a few spacings, in both views, the share that lies on it and faces alike.
fn alike(reference: &Surface<Body>, measured: &Surface<Scan>, motion: &Motion<Scan, Body>) -> f64 {
    let spacing = reference.spacing_mm.max(measured.spacing_mm);
    let off = explained_mm(reference, measured);
    let reach = 5.0 * spacing;
    let there = share_on(measured, reference, motion, reach, off)
        / share_on(measured, reference, motion, reach, f64::INFINITY).max(1e-9);
    let back = motion.inverse();
    let home = share_on(reference, measured, &back, reach, off)
        / share_on(reference, measured, &back, reach, f64::INFINITY).max(1e-9);
    there.min(home)
}

/// The share of surface that the two sets have in common when so set: of the measured points that lie on the
/// reference, or of the reference's that lie on the measured set, whichever is larger, so that a small part on a whole
/// shell counts as all in common. To lie on it is to be near, to face alike within 45° and to be off the surface by no
/// more than the noise explains (or a third of the spacing).
pub fn overlap(reference: &Surface<Body>, measured: &Surface<Scan>, motion: &Motion<Scan, Body>) -> f64 {
    let spacing = reference.spacing_mm.max(measured.spacing_mm);
    let off = explained_mm(reference, measured);
    share_on(measured, reference, motion, 3.0 * spacing, off).max(share_on(
        reference,
        measured,
        &motion.inverse(),
        3.0 * spacing,
        off,
    ))
}

/// How far off the surface the noise of both sets explains, or a third of the spacing.
fn explained_mm(reference: &Surface<Body>, measured: &Surface<Scan>) -> f64 {
    let spacing = reference.spacing_mm.max(measured.spacing_mm);
    (6.0 * reference.noise_mm.hypot(measured.noise_mm)).max(0.35 * spacing)
}

/// The share of `from` that lies on `onto`, when moved.
fn share_on<F: Frame, G: Frame>(
    from: &Surface<F>,
    onto: &Surface<G>,
    onto_from: &Motion<F, G>,
    reach_mm: f64,
    off_mm: f64,
) -> f64 {
    let step = from.points().len().div_ceil(5_000).max(1);
    let asked: Vec<usize> = (0..from.points().len()).step_by(step).collect();
    let hits = asked
        .par_iter()
        .filter(|&&i| {
            let at = onto_from.apply(&from.points()[i]);
            onto.near.nearest_within(&at, reach_mm).is_some_and(|n| {
                let j = n.index as usize;
                let normal = onto.normals()[j];
                let alike =
                    normal.dot(&onto_from.turn(&from.normals()[i])).abs() > std::f64::consts::FRAC_1_SQRT_2;
                off_mm == f64::INFINITY || alike && normal.dot(&(at - onto.points()[j])).abs() < off_mm
            })
        })
        .count();
    hits as f64 / asked.len().max(1) as f64
}

fn cell<F: Frame>(surface: &Surface<F>, count: f64) -> f64 {
    (surface.points().len() as f64 / count).sqrt() * surface.spacing_mm
}

/// The surface on about `count` of its points, normals kept.
fn thinned(surface: &Surface<Body>, count: f64) -> Surface<Body> {
    let cell = cell(surface, count).max(surface.spacing_mm);
    let picked = thin::on_grid(surface.points(), cell);
    let cloud = surface.cloud.pick(&picked);
    Surface {
        near: cloud::Near::new(&cloud.points_mm),
        rim: picked.iter().map(|&i| surface.rim[i as usize]).collect(),
        cloud,
        spacing_mm: cell,
        noise_mm: surface.noise_mm,
        sides_known: surface.sides_known,
        repeats: 0,
        strays: 0,
    }
}

/// The starts: even attitudes and principal axes, middles laid on each other, and the sets as they came.
fn starts(reference: &Surface<Body>, measured: &Surface<Scan>) -> Vec<Motion<Scan, Body>> {
    let (to, to_axes) = middle_and_axes(reference.points());
    let (from, from_axes) = middle_and_axes(measured.points());
    let about_middles = |turn: Matrix3| Motion::new(turn, to.coords - turn * from.coords);
    let mut starts = vec![Motion::identity(), about_middles(Matrix3::identity())];
    for order in [[0, 1, 2], [1, 2, 0], [2, 0, 1], [0, 2, 1], [2, 1, 0], [1, 0, 2]] {
        for signs in 0..4 {
            let sign = |bit: i32| if signs >> bit & 1 == 0 { 1.0 } else { -1.0 };
            let (u, v) = (from_axes[order[0]] * sign(0), from_axes[order[1]] * sign(1));
            let laid = Matrix3::from_columns(&[u, v, u.cross(&v)]);
            let on = Matrix3::from_columns(&[to_axes[0], to_axes[1], to_axes[0].cross(&to_axes[1])]);
            starts.push(about_middles(on * laid.transpose()));
        }
    }
    starts.extend(even_attitudes(ATTITUDES).map(about_middles));
    starts
}

fn middle_and_axes(points: &[Point]) -> (Point, [Vector; 3]) {
    let n = points.len() as f64;
    let middle = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / n);
    let spread: Matrix3 = points
        .iter()
        .map(|p| (p - middle) * (p - middle).transpose())
        .sum::<Matrix3>()
        / n;
    let eigen = spread.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    (middle, order.map(|k| eigen.eigenvectors.column(k).into_owned()))
}

/// Rotations spread evenly over all of them (Alexa 2022, CVPR 2022, 8281-8290).
fn even_attitudes(count: usize) -> impl Iterator<Item = Matrix3> {
    let (phi, psi) = (2f64.sqrt(), 1.533_751_168_755_204_3);
    (0..count).map(move |i| {
        let s = i as f64 + 0.5;
        let t = s / count as f64;
        let (r, big_r) = (t.sqrt(), (1.0 - t).sqrt());
        let (alpha, beta) = (std::f64::consts::TAU * s / phi, std::f64::consts::TAU * s / psi);
        let q = Quaternion::new(
            big_r * beta.cos(),
            r * alpha.sin(),
            r * alpha.cos(),
            big_r * beta.sin(),
        );
        UnitQuaternion::from_quaternion(q)
            .to_rotation_matrix()
            .into_inner()
    })
}

/// Root mean square distance to the nearest point, each capped.
fn cost_mm(reference: &Surface<Body>, moving: &[Point], motion: &Motion<Scan, Body>, cap_mm: f64) -> f64 {
    let sum: f64 = moving
        .iter()
        .map(|p| {
            let found = reference.near.nearest(&motion.apply(p));
            found
                .map_or(cap_mm * cap_mm, |n| n.squared_mm2)
                .min(cap_mm * cap_mm)
        })
        .sum();
    (sum / moving.len().max(1) as f64).sqrt()
}

/// The same along the reference's normals, normals compared: fine enough to tell two good settings apart.
fn along_normals_mm(
    reference: &Surface<Body>,
    moving: &Moving,
    motion: &Motion<Scan, Body>,
    cap_mm: f64,
) -> f64 {
    let signed = reference.sides_known && moving.sides_known;
    let sum: f64 = moving
        .points
        .iter()
        .zip(&moving.normals)
        .map(|(point, facing)| {
            let at = motion.apply(point);
            let Some(found) = reference.near.nearest_within(&at, 4.0 * cap_mm) else {
                return cap_mm * cap_mm;
            };
            let i = found.index as usize;
            let normal = reference.normals()[i];
            let cosine = normal.dot(&motion.turn(facing));
            if cosine.abs() < 0.5 || (signed && cosine < 0.0) {
                return cap_mm * cap_mm;
            }
            let d = normal.dot(&(at - reference.points()[i]));
            (d * d).min(cap_mm * cap_mm)
        })
        .sum();
    (sum / moving.points.len().max(1) as f64).sqrt()
}

/// The first `keep` settings that differ from each other by more than `apart_mm` somewhere.
fn distinct(
    tried: Vec<(f64, Motion<Scan, Body>)>,
    measured: &Surface<Scan>,
    keep: usize,
    apart_mm: f64,
) -> Vec<(f64, Motion<Scan, Body>)> {
    let Some(bounds) = measured.cloud.bounds() else {
        return Vec::new();
    };
    let mut kept: Vec<(f64, Motion<Scan, Body>)> = Vec::new();
    for candidate in tried {
        if kept.len() == keep {
            break;
        }
        if kept
            .iter()
            .all(|k| k.1.largest_gap_mm(&candidate.1, &bounds) > apart_mm)
        {
            kept.push(candidate);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_attitudes_are_rotations_and_leave_no_wide_gap() {
        let attitudes: Vec<Matrix3> = even_attitudes(ATTITUDES).collect();
        for a in &attitudes {
            assert!((a.determinant() - 1.0).abs() < 1e-12);
        }
        // Whatever the true attitude, one of them lies within 35°.
        for probe in even_attitudes(97) {
            let nearest = attitudes
                .iter()
                .map(|a| nalgebra::Rotation3::from_matrix_unchecked(a.transpose() * probe).angle())
                .fold(f64::INFINITY, f64::min);
            assert!(nearest.to_degrees() < 35.0, "{}", nearest.to_degrees());
        }
    }
}
