//! Folds, edges and holes that are out, for the shop.

use ::compare::Verdict;
use ::features::edge::Stretch;
use ::features::words::displacement;
use cloud::Vector;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};

use super::List;
use crate::stages::features::Found;

impl List<'_> {
    /// What is folded again and trimmed.
    pub(super) fn folds_and_edges(&mut self, found: &Found) {
        for fold in found.folds.iter().filter(|f| f.verdict == Verdict::Outside) {
            for words in fold.out_in_words() {
                self.shop(
                    format!(
                        "{}: fold {words}: looks like a fold in the wrong place, fold it again",
                        fold.name
                    ),
                    format!("folds/{}", fold.name),
                );
            }
        }
        // The rims of a bent bar come home with it.
        let edges = found
            .edges
            .iter()
            .filter(|e| e.verdict == Verdict::Outside)
            .filter(|e| !e.region.as_ref().is_some_and(|region| found.bent_bar(region)));
        for edge in edges {
            for stretch in &edge.stretches {
                self.shop(
                    format!("{}: {}", edge.name, trimmed(stretch)),
                    format!("edges/{}", edge.name),
                );
            }
        }
    }

    /// What is drilled, opened out or filled.
    pub(super) fn holes(&mut self, found: &Found) {
        for hole in found.holes.iter().filter(|h| h.verdict == Verdict::Outside) {
            let size = |mm: f64| fraction_of_inch(mm, 32);
            let words = match (&hole.pair.reference, &hole.pair.measured) {
                (Some(ours), Some(theirs)) => {
                    let off: Vector = theirs.at - ours.at;
                    let larger = theirs.diameter_mm - ours.diameter_mm;
                    let sized = match (size(larger).as_str(), larger > 0.0) {
                        ("0", _) => String::new(),
                        (_, false) => format!("open it out to {}", size(ours.diameter_mm)),
                        (by, true) => format!("it is {by} too large"),
                    };
                    let placed = match displacement(&off, MM_PER_INCH / 64.0).as_str() {
                        "home" => String::new(),
                        place => format!("it stands {place}: slot it, or fill and drill again"),
                    };
                    let parts: Vec<String> = [sized, placed].into_iter().filter(|p| !p.is_empty()).collect();
                    parts.join("; ")
                }
                (Some(ours), None) => format!("{} in hole missing: drill it", size(ours.diameter_mm)),
                (None, Some(theirs)) => format!(
                    "{} in hole that the reference does not have: fill it",
                    size(theirs.diameter_mm)
                ),
                (None, None) => continue,
            };
            let name = &hole.pair.name;
            self.shop(format!("{name}: {words}"), format!("holes/{name}"));
        }
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
