//! A hole of both sets, or of one: how it has moved, and what is said of it.

use cloud::Vector;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use compare::verdict::{Verdict, decide};

use super::lie::Tip;
use super::{Hole, Lip};

/// Two edges that stand off their sheets by so much more or less are not alike, mm (1/32 in).
const SAME_LIP_MM: f64 = MM_PER_INCH / 32.0;

/// Why a hole of one set has no partner in the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Missing {
    /// The measured set has metal in its place.
    MetalInPlace,
    /// The measured set has metal all round, and no clean hole in it.
    MetalAround,
    /// So narrow a hole may be found in one of two sets that both have it: nothing says whether it is there.
    TooSmall,
}

/// A hole of both sets, or of one.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// `hole 1`, counted from the front.
    pub name: String,
    /// In the reference.
    pub reference: Option<Hole>,
    /// In the measured set, in the reference's frame.
    pub measured: Option<Hole>,
    /// ± of an offset in any one direction across the axis, mm; the setting's share is not in it.
    pub pm_mm: f64,
    /// ± of an offset along the axis, mm; the setting's share is not in it either.
    pub normal_pm_mm: f64,
    /// ± of the angle between the two axes, rad; the setting's share is not in it either.
    pub axis_pm: f64,
    /// ± of a difference in diameter or width, mm.
    pub size_pm_mm: f64,
    /// Why one of the two sets does not have it, where that is known.
    pub missing: Option<Missing>,
}

/// How a hole has moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offset {
    /// From the reference's place to the measured one, mm.
    pub whole: Vector,
    /// Its part across the reference's axis, mm.
    pub across: Vector,
    /// Its part along the reference's axis, mm; positive to the outside.
    pub along_mm: f64,
}

impl Pair {
    /// Without a name yet.
    pub(super) fn new(reference: Option<Hole>, measured: Option<Hole>, missing: Option<Missing>) -> Self {
        let together = |of: fn(&Hole) -> f64| {
            let each = [&reference, &measured].map(|hole| hole.as_ref().map_or(0.0, of));
            each[0].hypot(each[1])
        };
        Self {
            name: String::new(),
            pm_mm: together(|h| h.place_pm_mm),
            normal_pm_mm: together(|h| h.normal_pm_mm),
            axis_pm: together(|h| h.axis_pm),
            size_pm_mm: together(|h| h.size_pm_mm),
            reference,
            measured,
            missing,
        }
    }

    /// How it has moved, where both sets have it.
    pub fn offset(&self) -> Option<Offset> {
        let (ours, theirs) = self.reference.as_ref().zip(self.measured.as_ref())?;
        self.parted(theirs.at - ours.at)
    }

    /// What it is off by, or would be, in its parts in the reference's sheet and out of it.
    pub fn parted(&self, whole: Vector) -> Option<Offset> {
        let axis = self.reference.as_ref()?.axis;
        let along_mm = whole.dot(&axis);
        Some(Offset {
            whole,
            across: whole - axis * along_mm,
            along_mm,
        })
    }

    /// The verdicts on a place that is off so, in the sheet and out of it, each by its own ± with `besides_mm` of ± more: the
    /// one is the hole's own doing, the other that of the metal around it.
    pub fn placed(&self, off: &Offset, besides_mm: f64, limit_mm: f64) -> [Verdict; 2] {
        let each = [(off.across.norm(), self.pm_mm), (off.along_mm, self.normal_pm_mm)];
        each.map(|(mm, pm_mm)| decide(mm, pm_mm.hypot(besides_mm), limit_mm))
    }

    /// How much wider and how much longer it is than the reference's, each with its ±, mm, where both sets have it; a round
    /// hole is as long as it is wide.
    pub fn larger_mm(&self) -> Option<[(f64, f64); 2]> {
        let (ours, theirs) = self.reference.as_ref().zip(self.measured.as_ref())?;
        let long = |hole: &Hole| {
            let slot = hole.slot.map(|slot| (slot.length_mm, slot.length_pm_mm));
            slot.unwrap_or((hole.diameter_mm, hole.size_pm_mm))
        };
        let ((our_mm, our_pm_mm), (their_mm, their_pm_mm)) = (long(ours), long(theirs));
        Some([
            (theirs.diameter_mm - ours.diameter_mm, self.size_pm_mm),
            (their_mm - our_mm, our_pm_mm.hypot(their_pm_mm)),
        ])
    }

    /// In the shop's words, lengths in inches: `1-3/8 for 1-1/2, 1/16 forward`, `3/8 hole, in its place`, `extra 3/4 hole`,
    /// `3/8 hole missing, metal in its place`; the place by the directions of the sheet. A difference within its ± is not
    /// told.
    pub fn words(&self) -> String {
        match (&self.reference, &self.measured) {
            (Some(ours), Some(theirs)) => {
                let mut parts = vec![self.sizes(ours, theirs)];
                parts.extend(self.lie().map(|lie| lie.words));
                parts.extend(self.tip().filter(Tip::is_told).map(|tip| tip.words));
                parts.extend(edges(&ours.lip, &theirs.lip));
                parts.join(", ")
            }
            (Some(ours), None) => match self.missing {
                Some(Missing::MetalInPlace) => format!("{} missing, metal in its place", ours.called()),
                Some(Missing::MetalAround) => {
                    format!(
                        "{} can't be read: metal all round and no clean hole in it, look at it",
                        ours.called()
                    )
                }
                Some(Missing::TooSmall) => too_small(ours, "the reference"),
                None => format!("{} missing", ours.called()),
            },
            (None, Some(theirs)) if self.missing == Some(Missing::TooSmall) => {
                too_small(theirs, "the measured set")
            }
            (None, Some(theirs)) => format!("extra {}", theirs.called()),
            (None, None) => String::new(),
        }
    }

    fn sizes(&self, ours: &Hole, theirs: &Hole) -> String {
        let same = |a_mm: f64, b_mm: f64, pm_mm: f64| {
            (a_mm - b_mm).abs() <= pm_mm || fraction_of_inch(a_mm, 32) == fraction_of_inch(b_mm, 32)
        };
        let same_width = same(ours.diameter_mm, theirs.diameter_mm, self.size_pm_mm);
        match (&ours.slot, &theirs.slot) {
            (None, None) if same_width => ours.called(),
            (None, None) => format!("{} for {}", theirs.size(), ours.size()),
            (Some(our), Some(their)) => {
                let pm_mm = our.length_pm_mm.hypot(their.length_pm_mm);
                if same_width && same(our.length_mm, their.length_mm, pm_mm) {
                    ours.called()
                } else {
                    format!("{} for {}", theirs.called(), ours.size())
                }
            }
            (Some(_), None) | (None, Some(_)) => format!("{} for a {}", theirs.called(), ours.called()),
        }
    }
}

/// What is said of a hole that one set alone shows and the other may have and not show.
fn too_small(hole: &Hole, shown_by: &str) -> String {
    format!(
        "{} can't be read: only {shown_by} shows it, and points so far apart may not show so small a hole",
        hole.called()
    )
}

/// What the two edges differ in.
fn edges(ours: &Lip, theirs: &Lip) -> Option<String> {
    let signed = |lip: &Lip| match lip {
        Lip::Flat => Some(0.0),
        Lip::Tipped { mm, up } => Some(if *up { *mm } else { -*mm }),
        Lip::CantTell => None,
    };
    if (signed(ours)? - signed(theirs)?).abs() <= SAME_LIP_MM {
        return None;
    }
    let said = |lip: &Lip| match lip {
        Lip::Tipped { mm, up } => format!(
            "tipped {} {}",
            fraction_of_inch(*mm, 32),
            if *up { "out" } else { "in" }
        ),
        _ => "flat".to_string(),
    };
    Some(format!(
        "edge {}, the reference's is {}",
        said(theirs),
        said(ours)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::hole;
    use cloud::Point;

    fn at(x: f64, y: f64) -> Point {
        Point::new(x, y, 0.0)
    }

    fn pair(ours: Option<Hole>, theirs: Option<Hole>) -> Pair {
        Pair::new(ours, theirs, None)
    }

    fn inch(parts: f64, x: f64) -> Hole {
        hole(at(x * MM_PER_INCH, 0.0), parts * MM_PER_INCH, None)
    }

    #[test]
    fn sizes_places_and_edges_are_said_as_in_the_shop() {
        let slot = |width: f64, length: f64| {
            Some(hole(
                at(0.0, 0.0),
                width * MM_PER_INCH,
                Some(length * MM_PER_INCH),
            ))
        };
        let tipped = |up: bool| {
            let lip = Lip::Tipped {
                mm: MM_PER_INCH / 16.0,
                up,
            };
            Some(Hole {
                lip,
                ..inch(0.5, 0.0)
            })
        };
        let flat = Some(Hole {
            lip: Lip::Flat,
            ..inch(0.5, 0.0)
        });
        for (ours, theirs, words) in [
            (
                Some(inch(1.5, 0.0)),
                Some(inch(1.375, -1.0 / 16.0)),
                "1-3/8 for 1-1/2, 1/16 forward",
            ),
            (
                Some(inch(0.375, 0.0)),
                Some(inch(0.377, 0.0)),
                "3/8 hole, in its place",
            ),
            (
                slot(0.5, 0.75),
                slot(0.5, 1.0),
                "slot 1/2 × 1 for 1/2 × 3/4, in its place",
            ),
            (
                Some(inch(0.5, 0.0)),
                slot(0.5, 1.0),
                "slot 1/2 × 1 for a 1/2 hole, in its place",
            ),
            (None, Some(inch(0.75, 0.0)), "extra 3/4 hole"),
            (
                flat,
                tipped(false),
                "1/2 hole, in its place, edge tipped 1/16 in, the reference's is flat",
            ),
            (
                tipped(true),
                flat,
                "1/2 hole, in its place, edge flat, the reference's is tipped 1/16 out",
            ),
            (tipped(true), Some(inch(0.5, 0.0)), "1/2 hole, in its place"),
        ] {
            assert_eq!(pair(ours, theirs).words(), words);
        }
    }

    #[test]
    fn a_hole_that_points_so_far_apart_may_not_show_is_neither_missing_nor_extra() {
        let alone = |ours, theirs| Pair::new(ours, theirs, Some(Missing::TooSmall)).words();
        let hole = Some(inch(0.5, 0.0));
        for (words, set) in [
            (alone(hole, None), "the reference"),
            (alone(None, hole), "the measured set"),
        ] {
            let said = format!("1/2 hole can't be read: only {set} shows it, ");
            assert!(words.starts_with(&said), "{words}");
        }
    }

    #[test]
    fn an_offset_is_parted_along_and_across_the_axis() {
        let mut there = hole(Point::new(3.0, 4.0, -2.0), 10.0, None);
        there.place_pm_mm = 0.2;
        let moved = pair(Some(hole(at(0.0, 0.0), 10.0, None)), Some(there));
        let offset = moved.offset().unwrap();
        assert!((offset.across - Vector::new(3.0, 4.0, 0.0)).norm() < 1e-12);
        assert!((offset.along_mm + 2.0).abs() < 1e-12);
        assert!((moved.pm_mm - 0.05f64.sqrt()).abs() < 1e-12);
        assert_eq!(pair(None, Some(there)).offset(), None);
    }

    /// A set that three points near a line hold: known to half a millimetre in the sheet, and to 5 out of it.
    #[test]
    fn each_direction_of_a_place_is_judged_by_its_own_plus_minus() {
        let mut held = pair(Some(inch(1.0, 0.0)), Some(inch(1.0, 0.0)));
        (held.pm_mm, held.normal_pm_mm) = (0.7, 5.2);
        let placed = |x: f64, z: f64| held.placed(&held.parted(Vector::new(x, 0.0, z)).unwrap(), 0.0, 1.6);
        assert_eq!(placed(0.1, -2.3), [Verdict::Within, Verdict::TooClose]);
        assert_eq!(placed(3.2, -2.3), [Verdict::Outside, Verdict::TooClose]);
        assert_eq!(placed(0.1, 7.3), [Verdict::Within, Verdict::Outside]);
    }
}
