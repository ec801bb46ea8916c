//! Which of several ways round is meant, told by the holes of both sets: where they lie on each other, and where metal lies
//! in them. Of the ways in which the holes lie on each other alike it is told by the metal.

use ::features::holes::Hole;
use ::register::any_pose::{AnyPose, Judged, Metal};
use cloud::{Body, Frame, Motion, Point, Scan, Surface, Warning};

use super::Setting;
use super::by_points::{holes_of, set_by_holes};
use crate::stages::scale::Scaled;

/// A hole lies on another where it is off by no more than bought-in parts are, mm (a quarter inch, common practice, no
/// source) …
const BESIDE_MM: f64 = 25.4 / 4.0;
/// … and is no wider or narrower than by this, mm (a sixteenth).
const ONE_SIZE_MM: f64 = 25.4 / 16.0;
/// Metal as near to the middle of a hole as this share of its width closes it: a rim that was read lies at a half.
const IN_ITS_MIDDLE: f64 = 0.25;
/// So many holes must lie on each other, and so many more speak for it than for any other way round: one that is in its place
/// one way round only is missed the other way in both sets.
const FEWEST: usize = 3;

/// Poses that part by no more than this are turned alike, rad (10°) …
const TURNED_ALIKE: f64 = std::f64::consts::PI / 18.0;
/// … and one that parts by more than this has slid, mm (an inch).
const SLID_MM: f64 = 25.4;

/// The code of the warning that it could lie another way round.
pub const COULD_ALSO: &str = "could-also-lie";

/// What the holes say of a pose.
struct Said {
    /// Holes that lie on each other.
    on: usize,
    /// Holes of either set that lie on none of the other, but on its metal.
    closed: usize,
}

/// The one of the poses that could be meant for which the holes speak clearly; nothing where they don't tell.
pub fn told_by_holes(scaled: &Scaled, found: &AnyPose) -> Option<Motion<Scan, Body>> {
    let (ours, theirs) = holes_of(scaled);
    brought_together(scaled, &ours, &theirs, found)
        .or_else(|| found.told_by(|pose| Some(said(scaled, &ours, &theirs, pose)), clearly))
}

/// By the one way in which most of the holes can be brought on each other, where it is turned as one of the poses is. Of a set
/// that slides along itself, as a box section does, the holes need lie on each other in none of the poses; those then put it
/// where it belongs along itself as well.
fn brought_together(
    scaled: &Scaled,
    ours: &[Hole],
    theirs: &[Hole],
    found: &AnyPose,
) -> Option<Motion<Scan, Body>> {
    let setting = set_by_holes(ours, theirs).ok()?;
    let one_way = setting.warnings.iter().all(|w| w.code != COULD_ALSO);
    let most = setting.pairs > FEWEST && 2 * setting.pairs > ours.len().min(theirs.len());
    if !one_way || !most {
        return None;
    }
    let by_holes = setting.reference_from_measured;
    let best = &found.best.reference_from_measured;
    let turned_alike: Vec<&Motion<Scan, Body>> = std::iter::once(best)
        .chain(&found.also)
        .filter(|pose| pose.then(&by_holes.inverse()).angle() < TURNED_ALIKE)
        .collect();
    let &[pose] = turned_alike.as_slice() else {
        return None;
    };
    let bounds = scaled.measured.cloud.bounds()?;
    let lies_there = pose == best || pose.largest_gap_mm(&by_holes, &bounds) < SLID_MM;
    Some(if lies_there { *pose } else { by_holes })
}

fn clearly(one: &Said, other: &Said) -> bool {
    one.on >= FEWEST && one.on + other.closed >= other.on + one.closed + FEWEST
}

fn said(scaled: &Scaled, ours: &[Hole], theirs: &[Hole], pose: &Motion<Scan, Body>) -> Said {
    let (reference, measured) = (&scaled.reference, &scaled.measured);
    let there = pose.inverse();
    let one = |our: &Hole, their: &Hole| {
        (pose.apply(&their.at) - our.at).norm() < BESIDE_MM
            && (their.diameter_mm - our.diameter_mm).abs() < ONE_SIZE_MM
    };
    let (on, alone): (Vec<&Hole>, Vec<&Hole>) = ours
        .iter()
        .partition(|&our| theirs.iter().any(|their| one(our, their)));
    let ours_closed = alone
        .iter()
        .filter(|our| closed(our, reference, measured, &there.apply(&our.at)));
    let theirs_closed = theirs
        .iter()
        .filter(|&their| !ours.iter().any(|our| one(our, their)))
        .filter(|their| closed(their, measured, reference, &pose.apply(&their.at)));
    Said {
        on: on.len(),
        closed: ours_closed.count() + theirs_closed.count(),
    }
}

/// Whether a hole of one surface lies on metal of the other, which has its middle `there`. One with metal close behind it says
/// nothing.
fn closed<F: Frame, G: Frame>(hole: &Hole, of: &Surface<F>, other: &Surface<G>, there: &Point) -> bool {
    let within_mm = IN_ITS_MIDDLE * hole.diameter_mm;
    of.near.nearest_within(&hole.at, within_mm).is_none()
        && other.near.nearest_within(there, within_mm).is_some()
}

/// Of settings by the same holes, the best by those first, the one that the metal is for. Where it does not tell that from
/// another that brings as many holes on each other, which way round is asked.
pub fn told_by_metal(scaled: &Scaled, best: Setting, others: Vec<Setting>) -> Setting {
    let fewest = best.pairs.saturating_sub(1);
    let mut ways = vec![best];
    ways.extend(others.into_iter().filter(|other| other.pairs >= fewest));
    if ways.len() == 1 {
        return ways.remove(0);
    }
    let metal = Metal::of(&scaled.reference, &scaled.measured);
    let judged: Vec<(usize, Judged)> = ways
        .iter()
        .map(|way| (way.pairs, metal.judged(way.reference_from_measured)))
        .collect();
    let (which, level) = best_of(&judged);
    let mut way = ways.swap_remove(which);
    way.warnings.retain(|warning| warning.code != COULD_ALSO);
    if let Some(other) = level {
        let turn = way
            .reference_from_measured
            .then(&judged[other].1.motion.inverse());
        way.warnings.push(Warning::new(
            "lies-either-way",
            format!(
                "by its holes it could as well lie turned by {:.0}°, where {} holes match, and its metal does not say which: look at the picture, and name points to set it by",
                turn.angle().to_degrees(),
                judged[other].0
            ),
        ));
    } else if which > 0 {
        way.warnings.push(Warning::new(
            "another-way-round",
            "by its holes alone it could lie another way round; the metal lies on each other only as it was laid",
        ));
    }
    way
}

/// The one to take of ways of which the first is the best by the number of its holes, and another that has as many holes and is
/// not clearly worse by the metal.
fn best_of(judged: &[(usize, Judged)]) -> (usize, Option<usize>) {
    let first = &judged[0].1;
    let better = (0..judged.len()).filter(|&k| judged[k].1.is_clearly_better_than(first));
    let score = |k: usize| judged[k].1.score;
    let which = better.fold(0, |most, k| {
        if most == 0 || score(k) > score(most) {
            k
        } else {
            most
        }
    });
    let (holes, best) = &judged[which];
    let level = |k: usize| {
        let (others, other) = &judged[k];
        k != which && others >= holes && !best.is_clearly_better_than(other)
    };
    (which, (0..judged.len()).find(|&k| level(k)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_way_that_the_metal_is_for_is_taken_and_one_that_is_level_with_as_many_holes_is_asked_about() {
        let judged = |holes: usize, score: f64, on: f64| {
            let judged = Judged {
                motion: Motion::identity(),
                score,
                on,
                alike: 0.9,
                contradicted: 0.0,
            };
            (holes, judged)
        };
        // The figures are those of a floor with beads and a rectangle of holes: end for end, and right.
        let (wrong, right) = (judged(4, -0.6, 1.5), judged(4, 1.9, 1.95));
        assert_eq!(best_of(&[wrong, right]), (1, None));
        assert_eq!(best_of(&[right, wrong]), (0, None));
        assert_eq!(best_of(&[wrong, judged(3, 1.9, 1.95)]), (1, None));
        // A bare floor; with a hole fewer the other way, that tells.
        let level = judged(4, 1.85, 1.9);
        assert_eq!(best_of(&[right, level]), (0, Some(1)));
        assert_eq!(best_of(&[level, wrong, right]), (0, Some(2)));
        assert_eq!(best_of(&[right, judged(3, 1.85, 1.9)]), (0, None));
        // One that has hardly any metal near says nothing.
        assert_eq!(
            best_of(&[judged(4, -0.6, 1.5), judged(4, 0.2, 0.3)]),
            (0, Some(1))
        );
    }

    #[test]
    fn three_holes_and_three_more_for_it_than_for_any_other_way_tell() {
        let tells = |[on, closed]: [usize; 2], [other_on, other_closed]: [usize; 2]| {
            let other = Said {
                on: other_on,
                closed: other_closed,
            };
            clearly(&Said { on, closed }, &other)
        };
        // Three of four corners: turned, two lie on each other, and the third of either set on metal.
        assert!(tells([3, 0], [2, 2]) && !tells([2, 2], [3, 0]));
        assert!(tells([5, 0], [1, 0]) && tells([4, 1], [2, 4]));
        // Too few, or not clearly.
        assert!(!tells([2, 0], [0, 4]));
        assert!(!tells([4, 0], [3, 0]));
        // Four corners of which one was closed since: turned it is another one that was.
        assert!(!tells([3, 1], [3, 1]));
    }
}
