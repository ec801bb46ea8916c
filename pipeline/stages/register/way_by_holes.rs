//! Which of several ways round is meant, told by the holes that both sets have.

use ::features::holes::Hole;
use ::register::any_pose::AnyPose;
use cloud::{Body, Motion, Scan};

use super::by_points::holes_of;
use crate::stages::scale::Scaled;

/// A hole lies on another where it is off by no more than bought-in parts are, mm (a quarter inch, common practice, no
/// source) …
const BESIDE_MM: f64 = 25.4 / 4.0;
/// … and is no wider or narrower than by this, mm (a sixteenth).
const ONE_SIZE_MM: f64 = 25.4 / 16.0;
/// Holes that must lie on each other, and at most what share of them another way round.
const FEWEST: usize = 3;
const OTHERWISE: f64 = 0.5;

/// The one of the poses that could be meant in which holes lie on each other, at least three of them and twice as many as in any
/// other; nothing where there is but one pose, or where the holes don't tell.
pub fn told_by_holes(scaled: &Scaled, found: &AnyPose) -> Option<Motion<Scan, Body>> {
    if found.also.is_empty() {
        return None;
    }
    let (ours, theirs) = holes_of(scaled);
    let poses: Vec<Motion<Scan, Body>> = std::iter::once(found.best.reference_from_measured)
        .chain(found.also.iter().copied())
        .collect();
    let counts: Vec<usize> = poses
        .iter()
        .map(|pose| on_each_other(&ours, &theirs, pose))
        .collect();
    foremost(&counts).map(|which| poses[which])
}

/// How many of our holes have one of theirs on them when so set.
fn on_each_other(ours: &[Hole], theirs: &[Hole], pose: &Motion<Scan, Body>) -> usize {
    let moved: Vec<_> = theirs
        .iter()
        .map(|hole| (pose.apply(&hole.at), hole.diameter_mm))
        .collect();
    let has_one = |hole: &&Hole| {
        moved.iter().any(|(at, diameter_mm)| {
            (at - hole.at).norm() < BESIDE_MM && (diameter_mm - hole.diameter_mm).abs() < ONE_SIZE_MM
        })
    };
    ours.iter().filter(has_one).count()
}

/// Which of the counts is enough, and clearly more than every other.
fn foremost(counts: &[usize]) -> Option<usize> {
    let most = (0..counts.len()).rev().max_by_key(|&k| counts[k])?;
    let clear =
        |(other, &count): (usize, &usize)| other == most || count as f64 <= OTHERWISE * counts[most] as f64;
    (counts[most] >= FEWEST && counts.iter().enumerate().all(clear)).then_some(most)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_holes_and_twice_as_many_as_any_other_way_tell() {
        assert_eq!(foremost(&[5, 1]), Some(0));
        assert_eq!(foremost(&[1, 4, 2]), Some(1));
        assert_eq!(foremost(&[2, 0]), None);
        assert_eq!(foremost(&[4, 3]), None);
        assert_eq!(foremost(&[0, 0]), None);
    }
}
