//! Edges and holes that are out, for the shop.

use ::compare::Verdict;
use ::features::edge::Stretch;
use ::features::holes::{Hole, Pair};
use ::features::words::displacement;
use cloud::Vector;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};

use super::brought::{Then, measured_after, moved_with};
use super::folded::after_folding;
use super::{List, explained};
use crate::stages::features::Found;

impl List<'_> {
    /// What is trimmed, or measured again behind a fold or a move.
    pub(super) fn edges(&mut self, found: &Found) {
        let compared = self.shown.compared;
        // The rims of a bent bar come home with it.
        let edges = found
            .edges
            .iter()
            .filter(|e| e.verdict == Verdict::Outside)
            .filter(|e| !e.region.as_ref().is_some_and(|region| found.bent_bar(region)));
        for edge in edges {
            for stretch in &edge.stretches {
                let folding = after_folding(found, edge, stretch);
                match (folding, moved_with(compared, found, edge, stretch)) {
                    // It is told with its fold or its region.
                    (Some((Then::Home, _)), _) | (None, Some((Then::Home, _))) => {}
                    (Some((Then::Moves, flange)), _) => self.shop(
                        measured_after(&edge.name, stretch, &format!("fold {flange}")),
                        format!("folds/{flange}"),
                    ),
                    (None, Some((Then::Moves, region))) => self.shop(
                        measured_after(&edge.name, stretch, &format!("shim {region}")),
                        format!("edges/{}", edge.name),
                    ),
                    (None, None) => self.shop(
                        format!("{}: {}", edge.name, trimmed(stretch)),
                        format!("edges/{}", edge.name),
                    ),
                }
            }
        }
    }

    /// What is drilled, opened out or filled.
    pub(super) fn holes(&mut self, found: &Found) {
        for hole in found.holes.iter().filter(|h| h.verdict == Verdict::Outside) {
            let words = match (&hole.pair.reference, &hole.pair.measured) {
                (Some(ours), Some(theirs)) => put_right(&hole.pair, ours, theirs),
                (Some(ours), None) => format!("{} in hole missing: drill it", size(ours.diameter_mm)),
                (None, Some(theirs)) => format!(
                    "{} in hole that the reference does not have: fill it",
                    size(theirs.diameter_mm)
                ),
                (None, None) => continue,
            };
            let name = &hole.pair.name;
            let explains = explained::told(&self.explained, name);
            self.shop(format!("{name}: {words}{explains}"), format!("holes/{name}"));
        }
    }
}

fn size(mm: f64) -> String {
    fraction_of_inch(mm, 32)
}

/// What is done about a hole of both sets: about its size and its place, each where its ± does not hide it.
fn put_right(pair: &Pair, ours: &Hole, theirs: &Hole) -> String {
    let off: Vector = theirs.at - ours.at;
    let larger = theirs.diameter_mm - ours.diameter_mm;
    let sized = match (size(larger).as_str(), larger > 0.0) {
        _ if larger.abs() <= pair.size_pm_mm => String::new(),
        ("0", _) => String::new(),
        (_, false) => format!("open it out to {}", size(ours.diameter_mm)),
        (by, true) => format!("it is {by} too large"),
    };
    let placed = match displacement(&off, MM_PER_INCH / 64.0).as_str() {
        _ if off.norm() <= pair.pm_mm => String::new(),
        "home" => String::new(),
        place => format!("it stands {place}: slot it, or fill and drill again"),
    };
    let parts: Vec<String> = [sized, placed].into_iter().filter(|p| !p.is_empty()).collect();
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
    use crate::made::hole;

    #[test]
    fn a_hole_is_put_right_in_what_its_plus_minus_does_not_hide() {
        let said = |x: f64, diameter_mm: f64, pm_mm: f64| {
            let (ours, theirs) = (hole(0.0, 12.7), hole(x, diameter_mm));
            let pair = Pair {
                name: "hole 1".to_string(),
                reference: Some(ours),
                measured: Some(theirs),
                pm_mm,
                normal_pm_mm: 0.1,
                axis_pm: 0.01,
                size_pm_mm: 0.5,
                missing: None,
            };
            put_right(&pair, &ours, &theirs)
        };
        let slotted = "it stands 1/8 rearward: slot it, or fill and drill again";
        assert_eq!(said(3.175, 12.3, 0.2), slotted);
        assert_eq!(said(3.175, 9.525, 0.2), format!("open it out to 1/2; {slotted}"));
        // Nothing holds the setting there: only the size is known.
        assert_eq!(said(3.175, 9.525, 1_000.0), "open it out to 1/2");
    }
}
