//! Free against held: what goes when the part is held on its pads is arrangement (it was sprung), what stays is shape.

mod found;

use ::compare::Verdict;
use cloud::unit::{fraction_of_inch, signed_decimal};

use super::again::again;
use super::compare::Compared;
use super::features::Found;
use crate::job::Comparison;
use crate::trouble::Trouble;

/// What holding the part did to one figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrangement {
    /// Of what: a region, a fold, a stretch of an edge, a figure of a recess, a bead or a hole, of the shell, a check.
    pub what: String,
    /// How far it is off as the part lies free, mm (degrees for an angle).
    pub free: f64,
    /// How far it is off when the part is held.
    pub held: f64,
    /// Whether it goes, stays, or goes in part.
    pub kind: Kind,
    /// In words.
    pub words: String,
}

/// What holding does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// It goes: the part was sprung.
    Arrangement,
    /// It stays: the part is bent so.
    Shape,
    /// Some goes and some stays.
    Both,
}

impl Kind {
    /// The word, as written.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Arrangement => "arrangement",
            Kind::Shape => "shape",
            Kind::Both => "both",
        }
    }
}

/// What is left of it when held, as a share: under the first it has gone, over the second it has stayed.
const GONE: f64 = 0.25;
const STAYED: f64 = 0.75;

/// Said of what is out as the part lies free, and in when it is held.
const SPRUNG: &str = "home when held: only sprung";

/// Holds the free set against the held one, figure by figure; nothing where no held set is given. What is out as it lies
/// free and in when held is judged as held, since so it will be fitted.
///
/// # Errors
/// Where the held set can't be read or set.
pub fn arrangements(
    comparison: &Comparison,
    compared: &mut Compared,
    found: &mut Found,
) -> Result<Vec<Arrangement>, Trouble> {
    let Some(held_set) = &comparison.held else {
        return Ok(Vec::new());
    };
    let again = again(comparison, held_set)?;
    let mut arrangements = Vec::new();
    let both = compared.regions.iter_mut().zip(&again.compared.regions);
    for ((free, held), shift) in both.zip(&mut found.shifts) {
        let (Some(a), Some(b)) = (&free.figures.spread, &held.figures.spread) else {
            continue;
        };
        if free.verdict == Verdict::Within || free.verdict == Verdict::NotMeasured {
            continue;
        }
        let largest = |s: &::compare::Spread| if s.max_mm > -s.min_mm { s.max_mm } else { s.min_mm };
        let (free_mm, held_mm) = (largest(a), largest(b));
        let limit_mm = free.region.limit_mm;
        let found_out = arrangement(&free.region.name, free_mm, held_mm, limit_mm, &size_mm);
        if held.verdict == Verdict::Within {
            free.verdict = Verdict::Within;
            if let Some(shift) = shift {
                shift.words = format!("sprung: {} off free, home when held", size_mm(free_mm));
            }
        }
        arrangements.push(found_out);
    }
    compared.judge_again();
    found::arrangements(comparison, found, &again.found, &mut arrangements);
    Ok(arrangements)
}

fn arrangement(what: &str, free: f64, held: f64, limit: f64, size: &dyn Fn(f64) -> String) -> Arrangement {
    let share = if free == 0.0 { 1.0 } else { held / free };
    let (kind, said) = if held.abs() <= limit && share.abs() < STAYED || share.abs() <= GONE {
        (Kind::Arrangement, "it goes when held: arrangement, only sprung")
    } else if share >= STAYED {
        (Kind::Shape, "it stays when held: shape")
    } else {
        (Kind::Both, "held, a part of it stays: arrangement and shape")
    };
    Arrangement {
        what: what.to_string(),
        free,
        held,
        kind,
        words: format!("{} off free, {} held: {said}", size(free), size(held)),
    }
}

fn size_mm(mm: f64) -> String {
    fraction_of_inch(mm, 32)
}

fn size_deg(deg: f64) -> String {
    format!("{}°", signed_decimal(deg, 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_goes_is_arrangement_and_what_stays_is_shape() {
        let of = |free, held| arrangement("pan", free, held, 1.6, &size_mm);
        assert_eq!(of(4.8, 0.2).kind, Kind::Arrangement);
        assert_eq!(of(4.8, 4.6).kind, Kind::Shape);
        assert_eq!(of(9.6, 4.8).kind, Kind::Both);
        assert_eq!(of(4.8, 1.0).kind, Kind::Arrangement);
        // What turns to the other side when held has not gone.
        assert_eq!(of(4.8, -4.8).kind, Kind::Both);
        assert_eq!(
            of(4.8, 0.2).words,
            "3/16 off free, 0 held: it goes when held: arrangement, only sprung"
        );
    }
}
