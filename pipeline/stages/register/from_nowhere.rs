//! Setting from nowhere: any pose, the normals turned where that helps, the way round by what was kept or by holes where
//! those tell.

use ::register::RegisterError;
use ::register::any_pose::{self, AnyPose};
use cloud::{Body, Motion, Scan, Warning};

use super::super::scale::Scaled;
use super::RunnerUp;
use super::way_by_holes::told_by_holes;

/// A setting of which more than this lies on each other is not tried with the normals turned.
const WELL_ALIKE: f64 = 0.7;
/// … and which has more than this in common.
const WELL_COVERED: f64 = 0.7;
/// Turned normals are clearly better where the score is higher by this share of what speaks for the other.
const CLEARLY: f64 = 0.15;

/// From any pose; where that can't be done, once more with the measured normals turned to the other side, since some
/// programs write them so. They stay turned where that helps, and it is told.
pub fn from_any_pose(scaled: &mut Scaled) -> Result<(AnyPose, Vec<Warning>), RegisterError> {
    let as_written = any_pose::from_any_pose(&scaled.reference, &scaled.measured);
    let both_known = scaled.reference.sides_known && scaled.measured.sides_known;
    let well = as_written
        .as_ref()
        .is_ok_and(|found| found.alike > WELL_ALIKE && found.overlap > WELL_COVERED);
    let with_doubts = |found: AnyPose| {
        let mut doubts = found.doubts();
        doubts.extend(found.little_in_common());
        doubts.extend(found.fits_elsewhere());
        (found, doubts)
    };
    if well || !both_known {
        return as_written.map(with_doubts);
    }
    scaled.measured.turn_sides();
    let turned = any_pose::from_any_pose(&scaled.reference, &scaled.measured);
    let better = match (&as_written, &turned) {
        (Ok(a), Ok(b)) => b.score > a.score + CLEARLY * a.on,
        (Err(_), Ok(_)) => true,
        _ => false,
    };
    if !better {
        scaled.measured.turn_sides();
        return as_written.map(with_doubts);
    }
    turned.map(with_doubts).map(|(found, mut doubts)| {
        let told = Warning::new(
            "normals-turned",
            "the normals of the measured set point to the other side than the reference's; they were turned. If it is the other face of the sheet that was measured, say so with face and gauge",
        );
        doubts.insert(0, told);
        (found, doubts)
    })
}

/// Which way round it lies where it could lie in several, by the kept metal where that tells, else by the holes that both sets
/// have, and the doubts that are left.
pub fn way_round(
    found: &AnyPose,
    mut doubts: Vec<Warning>,
    kept: Option<(&[bool], f64)>,
    scaled: &Scaled,
) -> (Motion<Scan, Body>, Vec<Warning>) {
    let by_everything = found.best.reference_from_measured;
    if found.also.is_empty() {
        return (by_everything, doubts);
    }
    let by_kept = kept.and_then(|(kept, reach_mm)| {
        any_pose::told_by_kept(&scaled.reference, kept, &scaled.measured, found, reach_mm)
    });
    let told = by_kept
        .map(|motion| (motion, "what was left alone lies home"))
        .or_else(|| Some((told_by_holes(scaled, found)?, "the holes lie on each other")));
    let Some((motion, by)) = told else {
        return (by_everything, doubts);
    };
    doubts.retain(|doubt| !any_pose::WAYS_ROUND.contains(&doubt.code));
    if motion != by_everything {
        doubts.push(Warning::new(
            "another-way-round",
            format!("by everything together it would lie another way round; {by} only as it was laid"),
        ));
    }
    (motion, doubts)
}

/// The next best, in words.
pub fn runner_up(found: &AnyPose) -> Option<RunnerUp> {
    found.runner_up.as_ref().map(|other| RunnerUp {
        rms_mm: other.cost_mm,
        words: format!(
            "turned by {:.0}°: score {:.2}, the best {:.2}",
            other.turned_deg, other.score, found.score
        ),
    })
}
