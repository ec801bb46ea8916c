//! Beads and recesses that are out, for a shop that pressed the part itself.

use ::compare::Verdict;
use ::features::bead::Bead;
use ::features::words::{RUNS_ON, displacement};
use cloud::unit::{MM_PER_INCH, fraction_of_inch};

use super::List;
use super::pressed_with::left_to_press;
use crate::stages::features::BeadResult;

/// A maker's fault is the shop's only where the shop is the maker, which the job does not say.
const OWN: &str = "if it is the shop's own pressing, it looks like";

impl List<'_> {
    /// What is pressed again or planished; what looks like what is common practice, without a source.
    pub(super) fn pressed(&mut self) {
        let found = self.shown.found;
        for recess in found.recesses.iter().filter(|r| r.verdict == Verdict::Outside) {
            let pair = &recess.pair;
            let deeper_mm = pair.measured.depth_mm - pair.reference.depth_mm;
            let moved_mm = Some(pair.moved.norm()).filter(|mm| *mm > pair.pm_mm);
            let looks = looks_like(moved_mm.unwrap_or(0.0), deeper_mm);
            let words = off_in_words(&pair.words);
            self.shop(
                format!("{}: {words}; {OWN} {looks}", pair.name),
                format!("recesses/{}", pair.name),
            );
        }
        for bead in found.beads.iter().filter(|b| b.verdict == Verdict::Outside) {
            let pair = &bead.pair;
            // What comes home with its region is told with that.
            let Some(left) = left_to_press(self.part(), bead) else {
                continue;
            };
            let moved_mm = Some(pair.moved_mm.norm()).filter(|mm| left.moved && *mm > pair.pm_mm);
            let looks = match (&pair.reference, &pair.measured) {
                (Some(ours), Some(theirs)) => looks_like(moved_mm.unwrap_or(0.0), deeper_mm(ours, theirs)),
                (Some(_), None) => "not pressed yet: press it",
                (None, _) => "another style: ask before it is planished flat",
            };
            let words = off_in_words(left.words);
            self.shop(
                format!("{}: {words}; {OWN} {looks}", pair.name),
                format!("beads/{}", pair.name),
            );
        }
        self.may_have_moved();
    }

    /// Beads that read as moved where the setting may have slid instead: what stands proud and shy along them is no dent.
    fn may_have_moved(&mut self) {
        let found = self.shown.found;
        let regions = &self.shown.compared.regions;
        let out = |name: &str| {
            let mut regions = regions.iter();
            regions.any(|r| r.region.name == name && r.verdict == Verdict::Outside)
        };
        let doubtful = found.beads.iter().filter(|bead| bead.may_have_moved());
        let doubtful: Vec<&BeadResult> = doubtful.filter(|bead| out(&bead.region)).collect();
        for bead in doubtful {
            let pair = &bead.pair;
            let place = displacement(&pair.moved_mm, MM_PER_INCH / 64.0);
            self.shop(
                format!(
                    "{}: reads {place}, but the set may have slid so: measure it from an edge with a rule; what stands proud and shy along it is no dent",
                    pair.name
                ),
                format!("beads/{}", pair.name),
            );
        }
    }
}

/// Pressed out or in, deeper is deeper.
fn deeper_mm(ours: &Bead, theirs: &Bead) -> f64 {
    theirs.depth_mm.abs() - ours.depth_mm.abs()
}

/// What is said of one that is out, but that it is in its place or runs on.
pub(super) fn off_in_words(words: &[String]) -> String {
    let off: Vec<&str> = words
        .iter()
        .map(String::as_str)
        .filter(|w| *w != "in its place" && !w.starts_with(RUNS_ON))
        .collect();
    off.join("; ")
}

fn looks_like(moved_mm: f64, deeper_mm: f64) -> &'static str {
    let shows = |mm: f64| fraction_of_inch(mm, 32) != "0";
    match (shows(moved_mm), shows(deeper_mm), deeper_mm > 0.0) {
        (true, ..) => "pressed in the wrong place: planish it flat and press it again",
        (false, true, false) => "not pressed home: press it again, deeper",
        (false, true, true) => "pressed too deep: planish it up from behind",
        (false, false, _) => "the wrong form: press it again, and dress its edges",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrong_place_comes_before_a_wrong_depth() {
        assert!(looks_like(4.8, -1.6).starts_with("pressed in the wrong place"));
        assert!(looks_like(0.1, -1.6).starts_with("not pressed home"));
        assert!(looks_like(0.1, 1.6).starts_with("pressed too deep"));
        assert!(looks_like(0.1, 0.1).starts_with("the wrong form"));
        let words = ["in its place", "1/16 shallow"].map(String::from);
        assert_eq!(off_in_words(&words), "1/16 shallow");
    }
}
