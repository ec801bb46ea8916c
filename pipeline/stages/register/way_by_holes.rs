//! Which of several ways round is meant, told by the holes of both sets: where they lie on each other, and where metal lies
//! in them.

use ::features::holes::Hole;
use ::register::any_pose::AnyPose;
use cloud::{Body, Frame, Motion, Point, Scan, Surface};

use super::by_points::holes_of;
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
    found.told_by(|pose| Some(said(scaled, &ours, &theirs, pose)), clearly)
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

#[cfg(test)]
mod tests {
    use super::*;

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
