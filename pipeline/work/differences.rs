//! What differs from left to right, put on record as it was found: against its own mirror image nothing is wrong with a set.

use ::compare::Verdict;
use ::compare::verdict::LEAST_COVERAGE;

use super::{List, Who, whence};
use crate::stages::compare::Compared;
use crate::stages::features::Found;

impl List<'_> {
    /// What differs from left to right, as it was found.
    pub(super) fn differences(&mut self, compared: &Compared, found: &Found) {
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
            for stretch in &edge.stretches {
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
}
