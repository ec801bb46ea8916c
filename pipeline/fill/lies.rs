//! How a region lies, in words that do not contradict its verdict.

use ::compare::Verdict;
use ::compare::verdict::LEAST_COVERAGE;
use ::features::shift::Shift;
use record::PadRecord;

use crate::job::Comparison;
use crate::stages::compare::RegionResult;
use crate::work::{Part, carried_by, slid_so};

/// What is said of a region that has not moved and shows spots.
const SHAPE_OFF: &str = "dress only: it sits home, its shape is off";
/// What is said of one that has not moved, is out, and shows no spot that a hammer is taken to.
const BUT_ITS_WORST: &str = "home but at its worst spot";
/// What is said of one that has not moved and may have a spot.
const SHAPE_UNSURE: &str = "home, its shape too close to call";

/// The region that another hangs from and comes home with; against a mirror image nothing is to be moved.
pub fn moved_with<'a>(part: Part<'a>, region: &str, comparison: &Comparison) -> Option<&'a str> {
    match comparison.against_image() {
        true => None,
        false => carried_by(part, region),
    }
}

/// The words of a region: what it has moved with, its fold's, or those of its move.
pub fn words(part: Part<'_>, region: &RegionResult, shift: &Shift, comparison: &Comparison) -> String {
    let name = &region.region.name;
    if let Some(panel) = moved_with(part, name, comparison) {
        return format!("moved with {panel}, and comes home with it");
    }
    // A flange that is folded in the wrong place is not shimmed.
    match part.found.folds.iter().find(|fold| fold.name == *name) {
        Some(fold) if fold.verdict == Verdict::Within && region.verdict == Verdict::Outside => {
            format!("fold {}, its shape is off", fold.words)
        }
        Some(fold) => format!("fold {}", fold.words),
        None if region.figures.coverage < LEAST_COVERAGE => "too little of it was seen".to_string(),
        None => {
            let words = judged(&shift.words, region.verdict);
            match slid(part, name, comparison) {
                Some(lies) => beside_slide(&words, &lies),
                None => words,
            }
        }
    }
}

/// Tells at the pads of a region that slid in its own plane where they lie so: there is nothing to shim, and they are not home.
pub fn slid_at_pads(part: Part<'_>, region: &str, comparison: &Comparison, pads: &mut [PadRecord]) {
    let Some(lies) = slid(part, region, comparison) else {
        return;
    };
    for pad in pads.iter_mut().filter(|pad| pad.words == "home") {
        pad.words = format!("{lies}, no shim");
    }
}

/// Where a region lies that slid in its own plane, which its holes and beads alone show.
fn slid(part: Part<'_>, region: &str, comparison: &Comparison) -> Option<String> {
    let asked = !comparison.against_image() && part.compared.open.is_empty();
    asked.then(|| slid_so(part, region)).flatten()
}

/// What is said of a region that slid besides: it does not sit home.
fn beside_slide(words: &str, lies: &str) -> String {
    match ["home", SHAPE_OFF, BUT_ITS_WORST, SHAPE_UNSURE].contains(&words) {
        true => format!("{lies} in its own plane: move it"),
        false => format!("{words}; {lies} in its own plane"),
    }
}

/// Words of a move beside a verdict: what is in, or too close to call, is neither shimmed nor dressed. Spots are told from a 32nd
/// on, and the limit may be wider.
fn judged(words: &str, verdict: Verdict) -> String {
    let place = words.rsplit_once(": shim").map_or(words, |(place, _)| place);
    match (verdict, words == SHAPE_OFF) {
        (Verdict::Within, true) => "home".to_string(),
        (Verdict::TooClose, true) => SHAPE_UNSURE.to_string(),
        (Verdict::Within | Verdict::TooClose, false) => place.to_string(),
        (Verdict::Outside, _) if words == "home" => BUT_ITS_WORST.to_string(),
        (Verdict::Outside | Verdict::NotMeasured, _) => words.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_slid_in_its_own_plane_does_not_sit_home() {
        let lies = "1/8 to the right";
        for words in ["home", SHAPE_OFF, SHAPE_UNSURE] {
            assert_eq!(
                beside_slide(words, lies),
                "1/8 to the right in its own plane: move it"
            );
        }
        assert_eq!(
            beside_slide("1/32 high, all of it", lies),
            "1/32 high, all of it; 1/8 to the right in its own plane"
        );
    }

    #[test]
    fn what_is_in_is_neither_dressed_nor_shimmed() {
        let shim = "1/32 high, all of it: shim only";
        for (verdict, words, said) in [
            (Verdict::Outside, SHAPE_OFF, SHAPE_OFF),
            (Verdict::Within, SHAPE_OFF, "home"),
            (Verdict::TooClose, SHAPE_OFF, "home, its shape too close to call"),
            (Verdict::Outside, shim, shim),
            (Verdict::Within, shim, "1/32 high, all of it"),
            (Verdict::TooClose, shim, "1/32 high, all of it"),
            (Verdict::Within, "home", "home"),
            (Verdict::Outside, "home", BUT_ITS_WORST),
            (Verdict::NotMeasured, shim, shim),
        ] {
            assert_eq!(judged(words, verdict), said, "{verdict:?}");
        }
    }
}
