//! How a region lies, in words that do not contradict its verdict.

use ::compare::Verdict;
use ::compare::verdict::LEAST_COVERAGE;
use ::features::shift::Shift;

use crate::job::Comparison;
use crate::stages::compare::RegionResult;
use crate::work::{Part, carried_by};

/// What is said of a region that has not moved and shows spots.
const SHAPE_OFF: &str = "dress only: it sits home, its shape is off";
/// What is said of one that has not moved, is out, and shows no spot that a hammer is taken to.
const BUT_ITS_WORST: &str = "home but at its worst spot";

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
        None => judged(&shift.words, region.verdict),
    }
}

/// Words of a move beside a verdict: what is in, or too close to call, is neither shimmed nor dressed. Spots are told from a 32nd
/// on, and the limit may be wider.
fn judged(words: &str, verdict: Verdict) -> String {
    let place = words.rsplit_once(": shim").map_or(words, |(place, _)| place);
    match (verdict, words == SHAPE_OFF) {
        (Verdict::Within, true) => "home".to_string(),
        (Verdict::TooClose, true) => "home, its shape too close to call".to_string(),
        (Verdict::Within | Verdict::TooClose, false) => place.to_string(),
        (Verdict::Outside, _) if words == "home" => BUT_ITS_WORST.to_string(),
        (Verdict::Outside | Verdict::NotMeasured, _) => words.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
