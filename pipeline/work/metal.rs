//! Edges and holes that are out, for the shop.

use ::compare::Verdict;
use ::compare::verdict::decide;
use ::features::edge::Stretch;
use ::features::holes::{Hole, Pair};
use ::features::words::displacement;
use cloud::Vector;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};

use super::brought::{Then, hole_moved_with, left_by_slide, measured_after, moved_with};
use super::folded::after_folding;
use super::folded_from::told_with;
use super::moved::withheld;
use super::{List, explained};

impl List<'_> {
    /// What is trimmed, or measured again behind a fold or a move.
    pub(super) fn edges(&mut self) {
        let (part, found) = (self.part(), self.shown.found);
        for edge in found.edges.iter().filter(|e| e.verdict == Verdict::Outside) {
            self.edge_with_its_root(edge);
            for stretch in edge.stretches_out() {
                let folding = after_folding(part, edge, stretch);
                match (folding, moved_with(part, edge, stretch)) {
                    // It is told with its fold, its region or its bar, or as what waits for the metal beside it.
                    (Some((Then::Home, _)), _) | (None, Some((Then::Home, _))) => {}
                    (None, Some((_, region))) if withheld(part).any(|one| one.region.name == region) => {}
                    (Some((Then::Moves, flange)), _) => self.shop(
                        measured_after(&edge.name, stretch, &format!("fold {flange}")),
                        format!("folds/{flange}"),
                    ),
                    (None, Some((Then::Moves, region))) => {
                        let done = match found.bent_bar(region) {
                            true => "straighten",
                            false if told_with(part, region) => "move",
                            false => "bring home",
                        };
                        self.shop(
                            measured_after(&edge.name, stretch, &format!("{done} {region}")),
                            format!("edges/{}", edge.name),
                        );
                    }
                    (None, None) => self.shop(
                        format!("{}: {}", edge.name, trimmed(stretch)),
                        format!("edges/{}", edge.name),
                    ),
                }
            }
        }
    }

    /// What is drilled, opened out or filled; what comes home with a region that is moved is told with that.
    pub(super) fn holes(&mut self) {
        let limit_mm = self.shown.comparison.limit_mm;
        let found = self.shown.found;
        for hole in found.holes.iter().filter(|h| h.verdict == Verdict::Outside) {
            let name = &hole.pair.name;
            let explains = explained::told(&self.explained, &format!("holes/{name}"));
            let words = match (&hole.pair.reference, &hole.pair.measured) {
                (Some(ours), Some(theirs)) => {
                    // A hole that a check is put down to keeps its line, or nobody would be told of the check.
                    let with = hole_moved_with(self.part(), &hole.pair, limit_mm);
                    let comes_home = with.is_some() && explains.is_empty();
                    if comes_home && !missized(&hole.pair, limit_mm) {
                        continue;
                    }
                    let slide = left_by_slide(self.part(), &hole.pair).filter(|_| with.is_none());
                    let off = match slide {
                        Some((_, left)) => is_out(&hole.pair, left, limit_mm),
                        None => misplaced(&hole.pair, limit_mm).filter(|_| !comes_home),
                    };
                    let words = put_right(&hole.pair, [ours, theirs], limit_mm, off);
                    match slide.filter(|_| off.is_some()) {
                        Some((region, _)) if found.bent_bar(region) => {
                            format!("once {region} is straightened: {words}")
                        }
                        Some((region, _)) => format!("once {region} is moved: {words}"),
                        None => words,
                    }
                }
                (Some(ours), None) => format!("{} in hole missing: drill it", size(ours.diameter_mm)),
                (None, Some(theirs)) => format!(
                    "{} in hole that the reference does not have: fill it",
                    size(theirs.diameter_mm)
                ),
                (None, None) => continue,
            };
            self.shop(format!("{name}: {words}{explains}"), format!("holes/{name}"));
        }
    }
}

fn size(mm: f64) -> String {
    fraction_of_inch(mm, 32)
}

/// How far a hole of both sets lies off, where that is out for sure.
pub(super) fn misplaced(pair: &Pair, limit_mm: f64) -> Option<Vector> {
    is_out(pair, pair.offset()?.whole, limit_mm)
}

/// How far a hole of both sets lies off, or would, where that is out for sure in its sheet or out of it.
fn is_out(pair: &Pair, off: Vector, limit_mm: f64) -> Option<Vector> {
    let placed = pair.placed(&pair.parted(off)?, 0.0, limit_mm);
    placed.contains(&Verdict::Outside).then_some(off)
}

/// What is done about the place of a hole that is `off` so: a slot brings it home in its sheet alone, and what stands out of that
/// is the sheet.
fn replaced(pair: &Pair, off: Vector, limit_mm: f64) -> Vec<String> {
    let Some(off) = pair.parted(off) else {
        return Vec::new();
    };
    let out_of_it = off.whole - off.across;
    let done = [
        (off.across, "it stands", "slot it, or fill and drill again"),
        (
            out_of_it,
            "the sheet around it stands",
            "bring the sheet home, and the hole with it",
        ),
    ];
    let placed = pair.placed(&off, 0.0, limit_mm).into_iter().zip(done);
    placed
        .filter(|(verdict, _)| *verdict == Verdict::Outside)
        .map(|(_, (off, stands, done))| (displacement(&off, MM_PER_INCH / 64.0), stands, done))
        .filter(|(place, ..)| place != "home")
        .map(|(place, stands, done)| format!("{stands} {place}: {done}"))
        .collect()
}

/// Whether the size of a hole of both sets is out for sure.
pub(super) fn missized(pair: &Pair, limit_mm: f64) -> bool {
    let mut sizes = pair.larger_mm().into_iter().flatten();
    sizes.any(|(mm, pm_mm)| decide(mm, pm_mm, limit_mm) == Verdict::Outside)
}

/// What is done about a hole of both sets: about its size where that is out for sure, and about its place where it is `off` by
/// itself.
fn put_right(pair: &Pair, [ours, theirs]: [&Hole; 2], limit_mm: f64, off: Option<Vector>) -> String {
    let is_slot = ours.slot.is_some() || theirs.slot.is_some();
    let out =
        |(mm, pm_mm): &(f64, f64)| decide(*mm, *pm_mm, limit_mm) == Verdict::Outside && size(*mm) != "0";
    let larger = pair.larger_mm();
    let wider = larger.map(|[wider, _]| wider).filter(out);
    let longer = larger
        .map(|[_, longer]| longer)
        .filter(|longer| is_slot && out(longer));
    let wide = wider.map(|(mm, _)| match mm > 0.0 {
        true => format!("it is {} too large", size(mm)),
        false => format!("open it out to {}", size(ours.diameter_mm)),
    });
    let long = longer.map(|(mm, _)| match mm > 0.0 {
        true => format!("it is {} too long", size(mm)),
        false => format!("it is {} too short: file it out", size(mm)),
    });
    let placed = off.map_or(Vec::new(), |off| replaced(pair, off, limit_mm));
    let parts: Vec<String> = [wide, long].into_iter().flatten().chain(placed).collect();
    match parts.as_slice() {
        [] => pair.words(),
        parts => parts.join("; "),
    }
}

/// What is done at an edge that is short or long.
fn trimmed(stretch: &Stretch) -> String {
    if stretch.short_mm < 0.0 {
        format!("trim: {}", stretch.words)
    } else {
        format!("{}: let the fold out, or weld a strip on", stretch.words)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::{hole, pair};
    use ::features::holes::Slot;

    #[test]
    fn a_hole_is_put_right_in_what_its_plus_minus_does_not_hide() {
        let said = |x: f64, diameter_mm: f64, pm_mm: f64| {
            let (ours, theirs) = (hole(0.0, 12.7), hole(x, diameter_mm));
            let pair = Pair {
                pm_mm,
                size_pm_mm: 0.5,
                ..pair(Some(ours), Some(theirs))
            };
            put_right(&pair, [&ours, &theirs], 1.6, misplaced(&pair, 1.6))
        };
        let slotted = "it stands 1/8 rearward: slot it, or fill and drill again";
        assert_eq!(said(3.175, 12.3, 0.2), slotted);
        assert_eq!(said(3.175, 9.525, 0.2), format!("open it out to 1/2; {slotted}"));
        // Nothing holds the setting there: only the size is known.
        assert_eq!(said(3.175, 9.525, 1_000.0), "open it out to 1/2");
        // Nobody drills again what stands within the limit.
        assert_eq!(said(1.2, 9.525, 0.2), "open it out to 1/2");
        assert_eq!(said(3.175, 11.5, 0.2), slotted);
    }

    /// Carried up by its sheet it is neither slotted nor drilled again, and known to 5 mm only nothing is said of that at all.
    #[test]
    fn no_slot_brings_a_hole_down_to_its_sheet() {
        let said = |off: [f64; 3], normal_pm_mm: f64| {
            let (ours, mut theirs) = (hole(0.0, 12.7), hole(0.0, 12.7));
            theirs.at += Vector::from(off);
            let pair = Pair {
                normal_pm_mm,
                ..pair(Some(ours), Some(theirs))
            };
            misplaced(&pair, 1.6).map(|off| put_right(&pair, [&ours, &theirs], 1.6, Some(off)))
        };
        let lifted = "the sheet around it stands 1/8 high: bring the sheet home, and the hole with it";
        assert_eq!(said([0.0, 0.0, 3.175], 0.1).as_deref(), Some(lifted));
        let both = format!("it stands 1/4 rearward: slot it, or fill and drill again; {lifted}");
        assert_eq!(said([6.35, 0.0, 3.175], 0.1), Some(both));
        assert_eq!(said([0.1, 0.0, 2.32], 5.2), None);
    }

    #[test]
    fn a_hole_that_was_torn_long_is_told_so() {
        let (ours, mut theirs) = (hole(0.0, 12.7), hole(0.0, 12.7));
        theirs.slot = Some(Slot {
            length_mm: 19.05,
            along: Vector::x(),
            length_pm_mm: 0.2,
        });
        let pair = pair(Some(ours), Some(theirs));
        assert!(missized(&pair, 1.6));
        assert_eq!(
            put_right(&pair, [&ours, &theirs], 1.6, None),
            "it is 1/4 too long"
        );
    }
}
