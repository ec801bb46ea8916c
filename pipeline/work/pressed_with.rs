//! Beads and recesses that lie off since their region does: they come home with it, and only what is wrong with them besides is
//! left to be pressed again.

use ::compare::verdict::decide;
use ::compare::{Status, Verdict};
use cloud::{Point, Vector};

use super::aside::{Aside, Way};
use super::moved::moved;
use super::part::Part;
use crate::stages::features::BeadResult;

/// The region whose move brings a bead or recess of both sets to its place, which is off for sure, and that move there, mm; `None`
/// where it is off by itself, or has no verdict.
pub(super) fn bead_moved_with<'a>(part: Part<'a>, bead: &BeadResult) -> Option<(&'a str, Vector)> {
    let (pair, limit_mm) = (&bead.pair, bead.limit_mm);
    let is_out = decide(pair.moved_mm.norm(), pair.pm_mm, limit_mm) == Verdict::Outside;
    if bead.verdict != Verdict::Outside || !is_out {
        return None;
    }
    let seen = Aside::of_pair(pair, &|_: &Point| Vector::zeros())?;
    let mut own = moved(part).filter(|one| one.has(&seen.at));
    let region = own.find(|one| comes_home(&seen, &one.at(&seen.at), one.pm_at(&seen.at), limit_mm));
    region.map(|one| (one.region.name.as_str(), one.at(&seen.at)))
}

/// Whether what lies aside is brought to its place where it is moved back by `moved`: for the better half, and no more out.
fn comes_home(seen: &Aside<'_>, moved: &Vector, pm_mm: f64, limit_mm: f64) -> bool {
    let still_out = |one: &Way| {
        let left_mm = one.off_mm - one.way.dot(moved);
        decide(left_mm, one.pm_mm.hypot(pm_mm), limit_mm) == Verdict::Outside
    };
    let left_mm = (seen.off() - seen.shows(moved)).norm();
    left_mm < seen.off().norm() / 2.0 && !seen.ways.iter().any(still_out)
}

/// What is said of a bead that is out: of one that comes home with its region only what is wrong with its form; `None` where
/// nothing is.
pub(super) fn left_to_press<'b>(part: Part<'_>, bead: &'b BeadResult) -> Option<Left<'b>> {
    let words = bead.pair.words.as_slice();
    match bead_moved_with(part, bead) {
        None => Some(Left { words, moved: true }),
        // Its place comes first.
        Some((_, moved)) => bead.is_out_in_form(&moved).then(|| Left {
            words: words.get(1..).unwrap_or_default(),
            moved: false,
        }),
    }
}

/// What is left of a bead that is out.
pub(super) struct Left<'b> {
    pub words: &'b [String],
    /// Whether its place is of it.
    pub moved: bool,
}

/// Whether what a region's move brings home is for its maker too: it slid, and is part of what somebody else may have made in
/// one piece. New metal that lies wrong was fitted so.
pub(super) fn is_as_made(part: Part<'_>, region: &str) -> bool {
    let slid = moved(part).filter(|one| one.slide.is_some() && one.shift.is_none());
    let mut unsure = slid.filter(|one| one.region.status == Status::Unsure);
    unsure.any(|one| one.region.name == region)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use ::features::bead::{Bead, Pair};

    /// A bead along x that lies off so, seen to both ends or not.
    fn off(x: f64, y: f64, open: [bool; 2]) -> Pair {
        Pair {
            name: "bead 1".to_string(),
            reference: Some(made::bead(0.0)),
            measured: Some(Bead {
                open,
                ..made::bead(y)
            }),
            moved_mm: Vector::new(x, y, 0.0),
            pm_mm: 0.07,
            words: Vec::new(),
        }
    }

    #[test]
    fn a_bead_comes_home_with_the_metal_that_it_is_pressed_in() {
        let home = |pair: &Pair, moved: [f64; 2]| {
            let seen = Aside::of_pair(pair, &|_: &Point| Vector::zeros()).unwrap();
            comes_home(&seen, &Vector::new(moved[0], moved[1], 0.0), 0.1, 1.6)
        };
        let whole = off(4.8, 0.1, [false; 2]);
        assert!(home(&whole, [4.75, 0.0]));
        assert!(!home(&whole, [0.0, 3.2]) && !home(&whole, [4.75, 6.4]) && !home(&whole, [1.0, 0.0]));
        // Of one that runs on nobody knows how far it lies off along itself.
        let cut = off(0.0, 3.2, [false, true]);
        assert!(home(&cut, [4.75, 3.2]) && !home(&cut, [4.75, 0.0]));
    }
}
