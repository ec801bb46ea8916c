//! The plane in which a part is most nearly its own mirror image.
//!
//! The set's image in any one plane is set on the set itself; image and setting together are a reflection where the part
//! is symmetrical at all. The nearest true reflection gives the plane; what is left over, a turn in the plane and a glide
//! along it, tells how far that holds.

use cloud::{Body, Mirror, Motion, Point, Scan, Surface, Vector};

use crate::RegisterError;
use crate::any_pose::{Judged, Ready};
use crate::icp::{Fixed, Settled, settle_near};

/// The centre plane that was found.
#[derive(Debug, Clone)]
pub struct SelfMirror {
    /// The plane, in the set's own frame.
    pub mirror: Mirror,
    /// How the image was set on the set.
    pub settled: Settled,
    /// How well another plane would do, where there is one: its score and the best's.
    pub other: Option<(f64, f64)>,
}

/// What is left of a turn (radians, 2°) and of a glide (share of the extent) in a pose that counts as a reflection.
const MOST_TURN: f64 = 0.035;
const MOST_GLIDE: f64 = 0.02;
/// Where less of what image and set cover alike agrees, the part is not symmetrical.
const LEAST_ALIKE: f64 = 0.6;
/// A plane across the part is taken though another scores higher by up to this share of what speaks for it.
const NEARLY: f64 = 0.6;
/// Planes that part by more than this (radians, 10°) are two.
const ANOTHER: f64 = 0.17;

/// Finds the plane. With `kept`, which says of a place whether it was left alone, the plane is settled by pairs of places
/// that both were; without it a side that was moved is recognised only while most of the part agrees.
///
/// # Errors
/// Where the part is not nearly its own mirror image in any plane, or too little was left alone.
pub fn centre_plane(
    set: &Surface<Scan>,
    kept: Option<&(dyn Fn(&Point) -> bool + Sync)>,
) -> Result<SelfMirror, RegisterError> {
    let middle = set.cloud.bounds().map_or(Point::origin(), |b| b.centre());
    let first = Mirror {
        normal: Vector::x(),
        offset_mm: middle.x,
    };
    let image = image_of(set, &first);
    let extent = set.cloud.bounds().map_or(0.0, |b| b.diagonal());
    let ready = Ready::new(&image, set);
    // The planes through the middle along the set's own axes are tried besides, whatever came of the search.
    let along_axes = [Vector::y(), Vector::x(), Vector::z()].map(|normal| {
        let offset_mm = normal.dot(&middle.coords);
        let mirror = Mirror { normal, offset_mm };
        image_pose(&first, &mirror)
    });
    let mut poses = ready.settings(set, None);
    poses.extend(ready.settled_near(set, &along_axes));
    poses.sort_by(|a, b| b.score.total_cmp(&a.score));
    let reflections: Vec<(Mirror, Judged)> = poses
        .into_iter()
        .filter(|pose| pose.alike > LEAST_ALIKE)
        .filter_map(|pose| Some((reflection(&first, &pose.motion, &middle, extent)?, pose)))
        .collect();
    // Left against right where that is nearly as good: it is what is asked for.
    let across = |m: &Mirror| m.normal.y.abs() > std::f64::consts::FRAC_1_SQRT_2;
    let good_enough = |pose: &Judged| {
        let best = reflections.first().map_or(0.0, |r| r.1.score);
        pose.score > best - NEARLY * pose.on
    };
    let Some((rough, best)) = reflections
        .iter()
        .find(|(m, pose)| across(m) && good_enough(pose))
        .or(reflections.first())
    else {
        return Err(RegisterError::NotSymmetrical);
    };
    let other = reflections
        .iter()
        .find(|(m, _)| m.normal.cross(&rough.normal).norm() > ANOTHER)
        .map(|(_, pose)| (pose.score, best.score));
    let steady = ready.steadied(set, &best.motion);
    let settled = match kept {
        None => steady,
        Some(kept) => {
            let usable: Vec<bool> = set
                .points()
                .iter()
                .map(|p| kept(p) && kept(&rough.point(p)))
                .collect();
            let share = usable.iter().filter(|u| **u).count() as f64 / usable.len().max(1) as f64;
            if share < 0.02 {
                return Err(RegisterError::TooLittleKept {
                    share_percent: 100.0 * share,
                });
            }
            let reach = (12.0 * steady.sigma_mm).max(4.0 * set.spacing_mm);
            let start = steady.reference_from_measured;
            settle_near(&Fixed::kept_of(&image, &usable), set, &start, reach)
        }
    };
    let mirror = reflection(&first, &settled.reference_from_measured, &middle, extent)
        .ok_or(RegisterError::NotSymmetrical)?;
    Ok(SelfMirror {
        mirror,
        settled,
        other,
    })
}

/// The mirror image of a set, point for point, taken as the body.
pub fn image_of(set: &Surface<Scan>, mirror: &Mirror) -> Surface<Body> {
    set.mirrored(mirror).taken_as_body()
}

/// The pose of the image in `first` that makes the two together the reflection in `mirror`.
fn image_pose(first: &Mirror, mirror: &Mirror) -> Motion<Scan, Body> {
    let turn = first.matrix() * mirror.matrix();
    let back = mirror.point(&Point::origin());
    let there = first.point(&back);
    Motion::new(turn, there.coords)
}

/// The reflection that `first` and then back along `pose` amount to; `None` where too much turn, or glide at the set's `middle`, is
/// left.
fn reflection(first: &Mirror, pose: &Motion<Scan, Body>, middle: &Point, extent_mm: f64) -> Option<Mirror> {
    // x ↦ Qx + q with det Q = −1: the image in the first plane, brought back onto the set.
    let n = first.normal;
    let back = pose.inverse();
    let q_matrix = back.rotation() * first.matrix();
    let q = back.rotation() * (n * (2.0 * first.offset_mm)) + back.translation_mm();
    // Q = R (1 − 2nnᵀ) with R about n: n is the direction that Q turns round, tr Q = 2 cos(turn) − 1.
    let turn = ((q_matrix.trace() + 1.0) / 2.0).clamp(-1.0, 1.0).acos();
    let eigen = ((q_matrix + q_matrix.transpose()) / 2.0).symmetric_eigen();
    let normal: Vector = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into_owned();
    let offset_mm = q.dot(&normal) / 2.0;
    // A turn shows as a glide far from its axis: it is counted at the set, not at the origin.
    let imaged = Mirror { normal, offset_mm }.point(middle);
    let glide_mm = (q_matrix * middle.coords + q - imaged.coords).norm();
    let plain = turn < MOST_TURN && glide_mm < MOST_GLIDE * extent_mm;
    let sign = if normal[normal.iamax()] < 0.0 { -1.0 } else { 1.0 };
    plain.then_some(Mirror {
        normal: normal * sign,
        offset_mm: offset_mm * sign,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::Cloud;

    /// A trough with two sides, a front and a step: its own mirror image in y = 0 and in no other plane; its right floor
    /// is raised by `raised_mm` where x < 500.
    fn trough(raised_mm: f64) -> Vec<Point> {
        (0..60_000u64)
            .map(|i| {
                let (u, v, w) = (
                    uniform(3 * i),
                    uniform(3 * i + 1) - 0.5,
                    0.1 * (uniform(3 * i + 2) - 0.5),
                );
                match i % 6 {
                    0 => Point::new(1500.0 * u, -400.0 + w - 60.0 * u, 300.0 * (v + 0.5)),
                    1 => Point::new(1500.0 * u, 400.0 + w + 60.0 * u, 300.0 * (v + 0.5)),
                    2 => Point::new(w, 800.0 * v, 300.0 * u),
                    3 => Point::new(900.0 + w, 800.0 * v, 60.0 * u),
                    _ => {
                        let (x, y) = (1500.0 * u, 800.0 * v);
                        let step = if x > 900.0 { 60.0 } else { 0.0 };
                        let raised = if y > 50.0 && x < 500.0 { raised_mm } else { 0.0 };
                        Point::new(x, y, step + raised + w)
                    }
                }
            })
            .collect()
    }

    fn plane_of(points: &[Point], pose: &Motion<Body, Scan>) -> SelfMirror {
        let moved = points.iter().map(|p| pose.apply(p)).collect();
        let set = Surface::<Scan>::new(Cloud::from_points(moved), None).unwrap().0;
        centre_plane(&set, None).unwrap()
    }

    #[test]
    fn the_centre_plane_is_found_in_any_pose_although_one_side_was_raised() {
        let pose: Motion<Body, Scan> = Motion::turn_about(
            Vector::new(0.7, -0.4, 1.9),
            Point::new(700.0, 0.0, 100.0),
            Vector::new(90.0, -2000.0, 40.0),
        );
        for raised_mm in [0.0, 4.8] {
            let found = plane_of(&trough(raised_mm), &pose);
            let normal = pose.turn(&Vector::y());
            let off = found.mirror.normal.cross(&normal).norm();
            let through = pose.apply(&Point::new(700.0, 0.0, 100.0));
            let aside = found.mirror.normal.dot(&through.coords) - found.mirror.offset_mm;
            assert!(off < 1e-3 && aside.abs() < 0.1, "{raised_mm}: {off} {aside}");
        }
    }
}
