//! Holes that one set alone shows and nothing tells whether the other has: looked at before anything is drilled or filled.

use ::compare::Verdict;
use ::features::holes::Pair;

use super::List;
use crate::stages::features::HoleResult;

impl List<'_> {
    /// What must be looked at, since the sets can't tell.
    pub(super) fn holes_in_doubt(&mut self) {
        for hole in self.shown.found.holes.iter().filter(|hole| is_in_doubt(hole)) {
            let figure = format!("holes/{}", hole.pair.name);
            self.shop(looked_for(&hole.pair), figure);
        }
    }
}

fn is_in_doubt(hole: &HoleResult) -> bool {
    let alone = hole.pair.reference.is_none() || hole.pair.measured.is_none();
    alone && hole.verdict == Verdict::NotMeasured
}

fn looked_for(pair: &Pair) -> String {
    let words = pair.words();
    let words = words.strip_suffix(", look at it").unwrap_or(&words);
    format!("look whether {} is there: {words}", pair.name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use ::features::holes::{Hole, Missing};

    #[test]
    fn a_hole_that_nothing_tells_of_is_looked_for_and_not_drilled() {
        let hole = made::hole(0.0, 12.7);
        let result = |measured: Option<Hole>, missing: Missing, verdict: Verdict| HoleResult {
            pair: Pair {
                name: "hole H4".to_string(),
                size_pm_mm: 0.5,
                missing: Some(missing),
                ..made::pair(Some(hole), measured)
            },
            verdict,
        };
        for (measured, verdict, expected) in [
            (None, Verdict::NotMeasured, true),
            (None, Verdict::Outside, false),
            (Some(hole), Verdict::NotMeasured, false),
        ] {
            assert_eq!(
                is_in_doubt(&result(measured, Missing::TooSmall, verdict)),
                expected
            );
        }
        for missing in [Missing::TooSmall, Missing::MetalAround] {
            let words = looked_for(&result(None, missing, Verdict::NotMeasured).pair);
            assert!(
                words.starts_with("look whether hole H4 is there: 1/2 hole can't be read: "),
                "{words}"
            );
            assert!(
                !words.contains("look at it") && !words.contains("drill"),
                "{words}"
            );
        }
    }
}
