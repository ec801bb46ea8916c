//! Whether a bolt goes through a hole of both sets as they lie, and what is done where it does not.

use cloud::unit::fraction_of_inch;
use compare::Verdict;
use compare::verdict::NOT_HELD_MM;

use super::clear::{METRIC, NO_AIR_MM, gap};
use super::lie::in_sheet;
use super::{Hole, Pair};
use crate::words::NOT_HELD;

/// Whether a bolt goes through a hole of both sets as they lie.
#[derive(Debug, Clone, PartialEq)]
pub struct Bolt {
    /// How much wider than the bolt the clear circle is, mm; below nothing how much the hole must be filed or moved.
    pub spare_mm: f64,
    /// ± of it, mm.
    pub pm_mm: f64,
    /// In where it goes for sure, out where it does not.
    pub verdict: Verdict,
    /// `a 7/16 bolt goes through both as they lie, 1/32 to spare`, or what is done about it.
    pub words: String,
}

impl Pair {
    /// Whether a bolt of `bolt_mm` goes through both, where both sets have it, by the same clear circle: seen along the
    /// reference's axis, the metal that the bolt must go through as well is taken to have its hole where the reference has it.
    pub fn bolt_goes(&self, bolt_mm: f64) -> Option<Bolt> {
        let (ours, theirs) = self.reference.as_ref().zip(self.measured.as_ref())?;
        let (mm, pm_mm) = self.clear_mm()?;
        let spare_mm = mm - bolt_mm;
        let bolt = called(bolt_mm);
        let (verdict, words) = if spare_mm + NO_AIR_MM >= pm_mm {
            let spare = [32, 64].map(|parts| fraction_of_inch(spare_mm, parts));
            let spare = spare.iter().find(|spare| *spare != "0");
            let spare = spare.map_or(String::new(), |spare| format!(", {spare} to spare"));
            (
                Verdict::Within,
                format!("{bolt} bolt goes through both as they lie{spare}"),
            )
        } else if spare_mm + NO_AIR_MM < -pm_mm {
            let done = done_for(ours, theirs, bolt_mm);
            (
                Verdict::Outside,
                format!("{bolt} bolt does not go through both as they lie: {done}"),
            )
        } else if pm_mm > NOT_HELD_MM {
            (Verdict::NotMeasured, NOT_HELD.to_string())
        } else {
            (Verdict::TooClose, format!("{bolt} bolt is too close to call"))
        };
        Some(Bolt {
            spare_mm,
            pm_mm,
            verdict,
            words,
        })
    }
}

/// What is done to the measured hole so that a bolt goes that now does not: it is opened out, and filed or moved towards the
/// reference's by what the circle in both is too small, which is the same length for either.
fn done_for(ours: &Hole, theirs: &Hole, bolt_mm: f64) -> String {
    if ours.diameter_mm + ours.size_pm_mm < bolt_mm {
        return "the reference's own hole is too small for it".to_string();
    }
    let back = gap(ours, theirs);
    let wide_mm = |hole: &Hole| hole.diameter_mm.max(bolt_mm);
    let by_mm = back.norm() + bolt_mm - (wide_mm(ours) + wide_mm(theirs)) / 2.0;
    let opened = theirs.diameter_mm < bolt_mm;
    let out = opened.then(|| format!("open the hole out to {}", fraction_of_inch(bolt_mm, 32)));
    let moved = (by_mm > 0.0).then(|| {
        let what = if opened { "it" } else { "the hole" };
        let way = in_sheet(&ours.axis, &(back.normalize() * by_mm));
        format!("file or move {what} {way}")
    });
    let both: Vec<String> = out.into_iter().chain(moved).collect();
    both.join(" and ")
}

/// `a 7/16`, `an M12`: a bolt by its common name, else by its diameter in 32nds.
fn called(bolt_mm: f64) -> String {
    let metric = METRIC.iter().find(|bolt| (bolt.1 - bolt_mm).abs() < NO_AIR_MM);
    let name = metric.map_or_else(|| fraction_of_inch(bolt_mm, 32), |bolt| bolt.0.to_string());
    let first: String = name.chars().take_while(char::is_ascii_digit).collect();
    // An eight, eleven or eighteen of anything, and an em.
    let vowel = first == "11" || first == "18" || name.starts_with(['8', 'M']);
    format!("{} {name}", if vowel { "an" } else { "a" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::hole;
    use cloud::Point;
    use cloud::unit::MM_PER_INCH;

    fn inch(diameter: f64, length: Option<f64>, x: f64, y: f64) -> Hole {
        hole(
            Point::new(x, y, 0.0) * MM_PER_INCH,
            diameter * MM_PER_INCH,
            length.map(|l| l * MM_PER_INCH),
        )
    }

    /// What is said of a bolt in a hole of both sets.
    fn bolt(ours: Hole, theirs: Hole, bolt_in: f64) -> Bolt {
        let pair = Pair::new(Some(ours), Some(theirs), None);
        let bolt = pair.bolt_goes(bolt_in * MM_PER_INCH).unwrap();
        let clear = pair.clear().unwrap();
        // The two lines of a page can't part.
        assert!((bolt.spare_mm + bolt_in * MM_PER_INCH - clear.mm).abs() < 1e-9 || clear.mm == 0.0);
        assert_eq!(bolt.pm_mm, clear.pm_mm);
        bolt
    }

    #[test]
    fn a_bolt_goes_by_the_clear_circle_and_else_says_what_is_filed() {
        let half = |x: f64, y: f64| inch(0.5, None, x, y);
        let home = bolt(half(0.0, 0.0), half(0.0, 0.0), 0.4375);
        assert!((home.spare_mm - MM_PER_INCH / 16.0).abs() < 1e-9);
        assert_eq!(
            (home.verdict, home.words.as_str()),
            (
                Verdict::Within,
                "a 7/16 bolt goes through both as they lie, 1/16 to spare"
            )
        );
        // It is off by more than half of the play, and a man who lets the bolt hang over gets it in.
        let hangs = bolt(half(0.0, 0.0), half(0.05, 0.0), 0.4375);
        assert_eq!(hangs.verdict, Verdict::Within);
        let off = bolt(half(0.0, 0.0), half(0.125, 0.0), 0.4375);
        assert!((off.spare_mm + MM_PER_INCH / 16.0).abs() < 1e-9);
        assert_eq!(
            (off.verdict, off.words.as_str()),
            (
                Verdict::Outside,
                "a 7/16 bolt does not go through both as they lie: file or move the hole 1/16 forward"
            )
        );
        let close = bolt(half(0.0, 0.0), half(0.0625, 0.0), 0.4375);
        assert_eq!(
            (close.verdict, close.words.as_str()),
            (Verdict::TooClose, "a 7/16 bolt is too close to call")
        );
        let small = bolt(half(0.0, 0.0), inch(0.375, None, 0.0, -0.125), 0.4375);
        assert_eq!(
            small.words,
            "a 7/16 bolt does not go through both as they lie: open the hole out to 7/16 and file or move it 3/32 to the right"
        );
        assert_eq!(
            bolt(half(0.0, 0.0), inch(0.75, None, 0.0, 0.0), 0.625).words,
            "a 5/8 bolt does not go through both as they lie: the reference's own hole is too small for it"
        );
        // In a slot the bolt slides.
        let slid = bolt(half(0.2, 0.0), inch(0.5, Some(1.0), 0.0, 0.0), 0.4375);
        assert_eq!(slid.verdict, Verdict::Within);
        assert_eq!(
            bolt(
                inch(0.75, None, 0.0, 0.0),
                inch(0.75, None, 0.0, 0.0),
                12.0 / MM_PER_INCH
            )
            .words,
            "an M12 bolt goes through both as they lie, 9/32 to spare"
        );
    }

    /// The circle that is filed to is one that holds the bolt.
    #[test]
    fn moved_by_what_is_said_the_bolt_just_goes() {
        let (ours, bolt_mm) = (inch(0.5, None, 0.0, 0.0), 0.4375 * MM_PER_INCH);
        let theirs = inch(0.53, None, 0.12, 0.05);
        let spare_mm = |theirs: Hole| {
            let pair = Pair::new(Some(ours), Some(theirs), None);
            pair.bolt_goes(bolt_mm).unwrap().spare_mm
        };
        let mut moved = theirs;
        moved.at += gap(&ours, &theirs).normalize() * -spare_mm(theirs);
        assert!(spare_mm(moved).abs() < 1e-9);
    }

    #[test]
    fn where_nothing_holds_the_set_neither_line_says_what_goes() {
        let mut pair = Pair::new(
            Some(inch(0.5, None, 0.0, 0.0)),
            Some(inch(0.75, None, 0.0, 0.0)),
            None,
        );
        pair.pm_mm = 1_000.0;
        assert_eq!(pair.clear().unwrap().words, NOT_HELD);
        let bolt = pair.bolt_goes(6.35).unwrap();
        assert_eq!(
            (bolt.verdict, bolt.words.as_str()),
            (Verdict::NotMeasured, NOT_HELD)
        );
    }
}
