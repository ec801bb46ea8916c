//! What differs from left to right, put on record as it was found: against a mirror image nothing is wrong with a set.

use ::compare::Verdict;
use ::compare::verdict::LEAST_COVERAGE;
use ::features::shift::Spot;
use cloud::{NamedPoint, Vector};

use super::{List, MOST_SPOTS, Who, same_metal, shape, sided, whence};
use crate::stages::features::Found;

impl List<'_> {
    /// What differs from left to right, as it was found.
    pub(super) fn differences(&mut self) {
        let (compared, found) = (self.shown.compared, self.shown.found);
        for (region, shift) in compared.regions.iter().zip(&found.shifts) {
            let (name, seen) = (&region.region.name, region.figures.coverage >= LEAST_COVERAGE);
            if let Some(shift) = shift
                && seen
                && region.verdict == Verdict::Outside
            {
                let place = [", all of it", " in the middle"]
                    .into_iter()
                    .find_map(|end| Some(shift.words.split_once(end)?.0));
                let words = match place {
                    Some(place) if place != "home" => format!("{place} of the other side"),
                    _ => "shaped otherwise than the other side".to_string(),
                };
                self.add(
                    Who::Record,
                    format!("{name}: {words}: as found"),
                    format!("regions/{name}"),
                );
            }
        }
        for bead in found.beads.iter().filter(|b| b.verdict == Verdict::Outside) {
            let name = &bead.pair.name;
            let words = match (&bead.pair.reference, &bead.pair.measured) {
                (Some(_), Some(_)) => bead.pair.words.join("; "),
                (Some(_), None) => "on the other side only: another style".to_string(),
                _ => "on this side only: another style".to_string(),
            };
            self.add(Who::Record, format!("{name}: {words}"), format!("beads/{name}"));
        }
        for edge in found.edges.iter().filter(|e| e.verdict == Verdict::Outside) {
            for stretch in edge.stretches_out() {
                let words = format!(
                    "{}: {} than the other side, at {}: lay a tape to it",
                    edge.name,
                    stretch.words,
                    whence::place(&stretch.from, &[], &found.places)
                );
                self.add(Who::Record, words, format!("edges/{}", edge.name));
            }
        }
        for hole in found.holes.iter().filter(|h| h.verdict == Verdict::Outside) {
            let name = &hole.pair.name;
            self.add(
                Who::Record,
                format!("{name}: {}", hole.pair.words()),
                format!("holes/{name}"),
            );
        }
    }

    /// The worst spots of each region that differs, or of the whole where there are none, against the other side's panel. Beside
    /// a set's own mirror image a spot would show on both sides, and nothing tells on which it is.
    pub(super) fn spots_that_differ(&mut self) {
        if self.shown.comparison.mirror {
            return;
        }
        let (compared, found) = (self.shown.compared, self.shown.found);
        let mut listed: Vec<Spot> = Vec::new();
        for (region, shift) in compared.regions.iter().zip(&found.shifts) {
            let seen = region.figures.coverage >= LEAST_COVERAGE;
            let differs = seen && region.verdict == Verdict::Outside;
            let spots = shift.iter().filter(|_| differs).flat_map(|shift| &shift.spots);
            let spots = spots.filter(|spot| !found.is_at_bead(&spot.at, spot.mm));
            let spots = spots.filter(|spot| !listed.iter().any(|other| same_metal(other, spot)));
            let own: Vec<Spot> = spots.take(MOST_SPOTS).copied().collect();
            let (name, size) = (&region.region.name, region.region.bounds.size());
            for spot in &own {
                let words = told(spot, &size, &region.region.pads, found);
                let words = sided(words, compared.side_is_guessed(Some(&region.region)));
                self.add(Who::Record, format!("{name}: {words}"), format!("regions/{name}"));
            }
            listed.extend(own);
        }
        let of_whole =
            |spot: &Spot, size: &Vector| format!("the whole set: {}", told(spot, size, &[], found));
        for (words, figure) in self.whole_in_words(of_whole) {
            self.add(Who::Record, words, figure);
        }
    }
}

/// A spot in metal of this size, as it was found.
fn told(spot: &Spot, size: &Vector, pads: &[NamedPoint], found: &Found) -> String {
    let place = whence::place(&spot.at, pads, &found.places);
    format!("{}: as found", shape(size, spot, &place))
}
