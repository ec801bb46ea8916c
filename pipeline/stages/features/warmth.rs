//! What the warmth of the metal does to lengths: told apart from what was measured, and left out where a length is judged.

use ::features::shell::growth_mm;
use cloud::Warning;
use cloud::unit::MM_PER_INCH;
use compare::{Verdict, verdict};

use crate::job::{CheckKind, Comparison};

/// Less warmth than this lengthens nothing that a tape shows.
const LEAST_KELVIN: f64 = 1.0;
/// Growth under this is not worth a word, mm (0.0005 in).
const LEAST_GROWTH_MM: f64 = 0.0127;
/// About as long as a shell is, mm.
const SHELL_MM: f64 = 84.0 * MM_PER_INCH;

/// How much warmer the measured metal was than the reference, where both say.
pub fn warmer_kelvin(comparison: &Comparison) -> Option<f64> {
    Some(comparison.measured.celsius? - comparison.reference.celsius?)
}

/// How much `length_mm` of steel has grown by that, mm, below 0 where it has shrunk; `None` where the warmth of one of the
/// sets is not given, or where it is not worth a word.
pub fn grown_mm(warmer_kelvin: Option<f64>, length_mm: f64) -> Option<f64> {
    let grown_mm = growth_mm(length_mm, warmer_kelvin?);
    (grown_mm.abs() >= LEAST_GROWTH_MM).then_some(grown_mm)
}

/// `grown by the warmth: 0.010 in`.
pub fn grown_in_words(grown_mm: f64) -> String {
    let how = if grown_mm > 0.0 {
        "grown by the warmth"
    } else {
        "shrunk by the cold"
    };
    format!("{how}: {:.3} in", grown_mm.abs() / MM_PER_INCH)
}

/// The verdict on a length as it would be at the reference's warmth.
pub fn judged(off_mm: f64, pm_mm: f64, limit_mm: f64, grown_mm: Option<f64>) -> Verdict {
    verdict::decide(off_mm - grown_mm.unwrap_or(0.0), pm_mm, limit_mm)
}

/// Whether the warmth changes what a check says: those of a length between two places or two walls.
pub fn grows(kind: &CheckKind) -> bool {
    matches!(
        kind,
        CheckKind::Width { .. } | CheckKind::Height { .. } | CheckKind::Tram { .. }
    )
}

/// A warning where a warmth is given that no figure takes.
pub fn idle(comparison: &Comparison) -> Option<Warning> {
    let (reference, measured) = (&comparison.reference, &comparison.measured);
    let asked = &comparison.asked;
    let taken =
        asked.shell.is_some() || !asked.sections.is_empty() || asked.checks.iter().any(|c| grows(&c.kind));
    let words = match (reference.celsius, measured.celsius) {
        // A reference serves many comparisons, and may know its warmth where the others don't.
        (_, None) => return None,
        (Some(was), Some(is)) => {
            let kelvin = is - was;
            if taken || kelvin.abs() < LEAST_KELVIN {
                return None;
            }
            format!(
                "the metal was {:.0} °C {} than the reference's, which makes 84 in of steel {:.3} in {}: no figure of this comparison takes it off, only those of [shell], sections, and the checks width, height and tram do",
                kelvin.abs(),
                if kelvin > 0.0 { "warmer" } else { "colder" },
                growth_mm(SHELL_MM, kelvin).abs() / MM_PER_INCH,
                if kelvin > 0.0 { "longer" } else { "shorter" },
            )
        }
        (None, Some(_)) => format!(
            "\"celsius\" is given for the set \"{}\" and not for \"{}\", so that no figure takes it: give it for both",
            measured.name, reference.name
        ),
    };
    Some(Warning::new("warmth-unused", words))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Steel grows 0.010 in on 84 in for 10 °C (the trade's figure).
    #[test]
    fn a_length_is_judged_without_its_growth() {
        let grown = grown_mm(Some(10.0), 84.0 * MM_PER_INCH);
        assert_eq!(grown_in_words(grown.unwrap()), "grown by the warmth: 0.010 in");
        assert_eq!(judged(0.25, 0.05, 0.1, grown), Verdict::Within);
        assert_eq!(judged(0.25, 0.05, 0.1, None), Verdict::Outside);
        let shrunk = grown_mm(Some(-10.0), 84.0 * MM_PER_INCH);
        assert_eq!(grown_in_words(shrunk.unwrap()), "shrunk by the cold: 0.010 in");
        assert_eq!(judged(0.25, 0.05, 0.1, shrunk), Verdict::Outside);
    }

    #[test]
    fn without_both_warmths_nothing_is_told_and_nothing_where_it_is_too_little() {
        assert_eq!(grown_mm(None, 2000.0), None);
        assert_eq!(grown_mm(Some(0.0), 2000.0), None);
        assert_eq!(grown_mm(Some(2.0), 100.0), None);
    }
}
