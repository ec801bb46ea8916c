//! Whether a bolt that must stand where the reference has its hole goes through the measured hole.

use cloud::Point;
use cloud::unit::fraction_of_inch;
use compare::verdict::NOT_HELD_MM;

use super::Hole;

/// A bolt in a hole.
#[derive(Debug, Clone, PartialEq)]
pub struct Bolt {
    /// How much air the bolt has on its closest side, mm; negative where metal is in its way.
    pub clearance_mm: f64,
    /// In the shop's words.
    pub words: String,
}

/// Whether a bolt of `bolt_mm` that stands at `reference_at` goes through the measured hole, its axis along the hole's:
/// the clearance is half of what the hole is wider, less the offset across the axis. In a slot the offset counts from the
/// nearest place that the half circle of its end can slide to. `pm_mm` is the ± of the offset and of the size together.
pub fn bolt_goes(measured: &Hole, reference_at: &Point, bolt_mm: f64, pm_mm: f64) -> Bolt {
    let offset = reference_at - measured.at;
    let mut across = offset - measured.axis * offset.dot(&measured.axis);
    if let Some(slot) = &measured.slot {
        let slides = ((slot.length_mm - measured.diameter_mm) / 2.0).max(0.0);
        across -= slot.along * across.dot(&slot.along).clamp(-slides, slides);
    }
    let clearance_mm = (measured.diameter_mm - bolt_mm) / 2.0 - across.norm();
    let bolt = fraction_of_inch(bolt_mm, 32);
    let article = if is_said_with_a_vowel(&bolt) { "an" } else { "a" };
    let words = match (clearance_mm, in_inches(clearance_mm)) {
        _ if pm_mm > NOT_HELD_MM => "can't tell: nothing holds the set there".to_string(),
        (c, _) if c.is_nan() || c.abs() <= pm_mm => "too close to call".to_string(),
        (c, None) if c > 0.0 => format!("{article} {bolt} bolt just goes"),
        (c, Some(inches)) if c > 0.0 => format!("{article} {bolt} bolt goes, {inches} to spare"),
        (_, Some(inches)) => format!("{article} {bolt} bolt does not go: {inches} off"),
        (_, None) => format!("{article} {bolt} bolt just does not go"),
    };
    Bolt { clearance_mm, words }
}

/// In 32nds, of less than one in 64ths; `None` where it rounds to nothing.
fn in_inches(mm: f64) -> Option<String> {
    [32, 64]
        .into_iter()
        .map(|parts| fraction_of_inch(mm, parts))
        .find(|words| words != "0")
}

/// An eight, eleven or eighteen of anything.
fn is_said_with_a_vowel(number: &str) -> bool {
    let first: String = number.chars().take_while(char::is_ascii_digit).collect();
    first == "11" || first == "18" || first.starts_with('8')
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::hole;
    use cloud::unit::MM_PER_INCH;

    fn inches(x: f64, y: f64, z: f64) -> Point {
        Point::new(x, y, z) * MM_PER_INCH
    }

    fn goes(off: Point, hole_in: f64, length_in: Option<f64>, bolt_in: f64) -> Bolt {
        let there = hole(
            Point::new(10.0, 20.0, 30.0),
            hole_in * MM_PER_INCH,
            length_in.map(|l| l * MM_PER_INCH),
        );
        let at = there.at + off.coords;
        bolt_goes(&there, &at, bolt_in * MM_PER_INCH, 0.3)
    }

    #[test]
    fn clearance_is_half_the_play_less_the_offset_across() {
        // Half an inch, 7/16 bolt, in its place: 1/32; the offset along the axis does not count.
        let there = goes(inches(0.0, 0.0, 0.2), 0.5, None, 0.4375);
        assert!((there.clearance_mm - MM_PER_INCH / 32.0).abs() < 1e-9);
        assert_eq!(there.words, "a 7/16 bolt goes, 1/32 to spare");
        let off = goes(inches(0.0, 3.0 / 32.0, 0.0), 0.5, None, 0.4375);
        assert!((off.clearance_mm + MM_PER_INCH / 16.0).abs() < 1e-9);
        assert_eq!(off.words, "a 7/16 bolt does not go: 1/16 off");
        let close = goes(inches(1.0 / 32.0, 0.0, 0.0), 0.5, None, 0.4375);
        assert_eq!(close.words, "too close to call");
        let there = hole(inches(0.0, 0.0, 0.0), 0.5 * MM_PER_INCH, None);
        let slides = bolt_goes(&there, &there.at, 0.4375 * MM_PER_INCH, 1_000.0);
        assert_eq!(slides.words, "can't tell: nothing holds the set there");
        assert_eq!(
            goes(inches(0.0, 0.0, 0.0), 0.75, None, 11.0 / 16.0).words,
            "an 11/16 bolt goes, 1/32 to spare"
        );
    }

    #[test]
    fn in_a_slot_the_bolt_slides() {
        // 1/2 × 1: the middle can slide by a quarter to either side, along X.
        let slid = goes(inches(0.25, 0.0, 0.0), 0.5, Some(1.0), 0.4375);
        assert!((slid.clearance_mm - MM_PER_INCH / 32.0).abs() < 1e-9);
        let beyond = goes(inches(0.375, 0.0, 0.0), 0.5, Some(1.0), 0.4375);
        assert!((beyond.clearance_mm + MM_PER_INCH * 3.0 / 32.0).abs() < 1e-9);
        let aside = goes(inches(0.0, 0.125, 0.0), 0.5, Some(1.0), 0.4375);
        assert!((aside.clearance_mm + MM_PER_INCH * 3.0 / 32.0).abs() < 1e-9);
    }
}
