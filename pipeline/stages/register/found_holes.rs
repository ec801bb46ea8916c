//! Which hole is which: named places sought among the holes of the reference, and their partners among the measured ones.

use ::features::holes::Hole;
use cloud::named::Datum;
use cloud::{Body, Motion, NamedPoint, Scan};

/// A hole within this of where it is sought may be the one that is meant, mm (half an inch); of a larger one the place may be
/// anywhere in it.
const REACH_MM: f64 = 12.7;
/// … and is it for sure where the next one is so many times as far.
const CLEARLY: f64 = 2.0;
/// A hole and its partner differ in diameter or width by no more than this, mm (an eighth).
const SAME_SIZE_MM: f64 = 25.4 / 8.0;
/// Cosine of the angle between their axes: 37°.
const SAME_WAY: f64 = 0.8;

/// A named hole that both sets have.
pub struct Found<'a> {
    /// What the owner declared of it.
    pub declared: &'a Datum,
    /// In the reference.
    pub ours: Hole,
    /// In the measured set, in its own frame.
    pub theirs: Hole,
}

impl Found<'_> {
    /// Both centres under a name, each with its ± (one that the owner declared can only make it larger); nothing of an order.
    pub fn datums(&self, name: &str, pm_mm: impl Fn(&Hole) -> f64) -> (Datum, Datum) {
        let datum = |hole: &Hole, pm_mm: f64| Datum {
            pm_mm: Some(pm_mm),
            ..Datum::from(NamedPoint {
                name: name.to_string(),
                at_mm: hole.at,
            })
        };
        let declared = self.declared.pm_mm.unwrap_or(0.0);
        (
            datum(&self.ours, pm_mm(&self.ours).max(declared)),
            datum(&self.theirs, pm_mm(&self.theirs)),
        )
    }
}

/// Names, and the holes among which they are sought.
pub struct Sought<'a> {
    /// The names with their places on the reference.
    pub named: &'a [Datum],
    /// All holes of the reference.
    pub ours: &'a [Hole],
    /// All holes of the measured set, in its own frame.
    pub theirs: &'a [Hole],
}

/// Why a name has no hole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Why {
    NoneThere,
    SeveralThere,
    SameHole,
    NoneMeasured,
    SeveralMeasured,
}

impl Why {
    const ALL: [Why; 5] = [
        Why::NoneThere,
        Why::SeveralThere,
        Why::SameHole,
        Why::NoneMeasured,
        Why::SeveralMeasured,
    ];

    fn words(self, names: &str) -> String {
        match self {
            Why::NoneThere => format!(
                "no hole was found within 1/2 in of {names} on the reference: check the place and its unit; a hole narrower than about five spacings of the points is not found"
            ),
            Why::SeveralThere => format!(
                "more than one hole was found at {names} on the reference, and nothing tells which is meant: give the place more closely"
            ),
            Why::SameHole => format!("{names}: another name has the same hole of the reference already"),
            Why::NoneMeasured => format!(
                "no hole that could be {names} was found in the measured set within 1/2 in of where it should be"
            ),
            Why::SeveralMeasured => format!(
                "more than one hole that could be {names} was found in the measured set, and nothing tells which it is"
            ),
        }
    }
}

impl<'a> Sought<'a> {
    /// The names that have a hole of the reference, and in words those that have none.
    pub fn on_reference(&self) -> (Vec<&'a str>, Vec<String>) {
        let mut known = Vec::new();
        let mut without = Vec::new();
        for datum in self.named {
            match self.there(datum) {
                Ok(_) => known.push(datum.point.name.as_str()),
                Err(why) => without.push((why, datum.point.name.as_str())),
            }
        }
        (known, told(&without))
    }

    /// The names that both sets have a hole for when the measured set lies as `reference_from_measured` lays it, in the
    /// order in which they were named; and in words those that have none. Two names may be one hole where each holds
    /// another direction of it (`shared`).
    pub fn found(
        &self,
        reference_from_measured: &Motion<Scan, Body>,
        shared: bool,
    ) -> (Vec<Found<'a>>, Vec<String>) {
        let mut found: Vec<Found<'a>> = Vec::new();
        let mut taken: Vec<usize> = Vec::new();
        let mut without = Vec::new();
        for declared in self.named {
            let both = self.there(declared).and_then(|i| {
                if taken.contains(&i) && !shared {
                    return Err(Why::SameHole);
                }
                Ok((i, self.partner(i, reference_from_measured)?))
            });
            match both {
                Ok((i, k)) => {
                    taken.push(i);
                    found.push(Found {
                        declared,
                        ours: self.ours[i],
                        theirs: self.theirs[k],
                    });
                }
                Err(why) => without.push((why, declared.point.name.as_str())),
            }
        }
        (found, told(&without))
    }

    /// The hole of the reference at a named place.
    fn there(&self, named: &Datum) -> Result<usize, Why> {
        let near = self.ours.iter().enumerate().filter_map(|(i, hole)| {
            let apart = (hole.at - named.point.at_mm).norm();
            (apart <= REACH_MM.max(hole.diameter_mm / 2.0)).then_some((apart, i))
        });
        nearest(near.collect(), Why::NoneThere, Why::SeveralThere)
    }

    /// The measured hole that is the reference's hole `i`. One that lies nearer to another hole of the reference is that
    /// other's.
    fn partner(&self, i: usize, reference_from_measured: &Motion<Scan, Body>) -> Result<usize, Why> {
        let apart = |ours: &Hole, theirs: &Hole| -> Option<f64> {
            let one_way = ours.axis.dot(&reference_from_measured.turn(&theirs.axis)).abs() > SAME_WAY;
            let one_size = (ours.diameter_mm - theirs.diameter_mm).abs() <= SAME_SIZE_MM;
            let apart = (reference_from_measured.apply(&theirs.at) - ours.at).norm();
            (one_way && one_size && apart <= REACH_MM).then_some(apart)
        };
        let near = self
            .theirs
            .iter()
            .enumerate()
            .filter_map(|(k, hole)| Some((apart(&self.ours[i], hole)?, k)));
        let k = nearest(near.collect(), Why::NoneMeasured, Why::SeveralMeasured)?;
        let own = apart(&self.ours[i], &self.theirs[k]);
        let anothers = self
            .ours
            .iter()
            .filter_map(|hole| apart(hole, &self.theirs[k]))
            .any(|other| own.is_some_and(|own| other < own));
        if anothers { Err(Why::NoneMeasured) } else { Ok(k) }
    }
}

/// The nearest of those within reach, each as far as it is.
fn nearest(mut near: Vec<(f64, usize)>, none: Why, several: Why) -> Result<usize, Why> {
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    match near.as_slice() {
        [] => Err(none),
        [first, second, ..] if second.0 < CLEARLY * first.0 => Err(several),
        [first, ..] => Ok(first.1),
    }
}

/// One sentence for all names that lack their hole for one reason.
fn told(without: &[(Why, &str)]) -> Vec<String> {
    Why::ALL
        .into_iter()
        .filter_map(|why| {
            let of_this = without.iter().filter(|(w, _)| *w == why);
            let names: Vec<&str> = of_this.map(|(_, name)| *name).collect();
            (!names.is_empty()).then(|| why.words(&names.join(", ")))
        })
        .collect()
}

#[cfg(test)]
pub mod made {
    use super::*;
    use ::features::holes::{Lip, Slot};
    use cloud::{Point, Vector};

    /// A hole in a level sheet, a slot where it has a length along X or Y.
    pub fn hole(x: f64, y: f64, diameter_mm: f64, along: Option<Vector>) -> Hole {
        Hole {
            at: Point::new(x, y, 0.0),
            axis: Vector::z(),
            axis_pm: 0.01,
            diameter_mm,
            slot: along.map(|along| Slot {
                length_mm: 3.0 * diameter_mm,
                along,
                length_pm_mm: 0.2,
            }),
            lip: Lip::CantTell,
            place_pm_mm: 0.2,
            normal_pm_mm: 0.05,
            size_pm_mm: 0.2,
        }
    }

    pub fn datum(name: &str, x: f64, y: f64) -> Datum {
        Datum::from(NamedPoint {
            name: name.to_string(),
            at_mm: Point::new(x, y, 0.0),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::made::{datum, hole};
    use super::*;
    use cloud::Vector;

    fn names(found: &[Found<'_>]) -> String {
        let names: Vec<&str> = found.iter().map(|f| f.declared.point.name.as_str()).collect();
        names.join(" ")
    }

    #[test]
    fn each_name_has_its_own_hole_or_is_told_why_not() {
        let ours = [
            hole(0.0, 0.0, 10.0, None),
            hole(100.0, 0.0, 10.0, None),
            hole(200.0, 0.0, 10.0, None),
            hole(212.0, 0.0, 10.0, None),
            hole(300.0, 0.0, 10.0, None),
            hole(400.0, 0.0, 40.0, None),
        ];
        // Of the two that lie side by side one was filled; the fifth was drilled out, and lies between two that could be it.
        let theirs = [
            hole(3.0, 1.0, 10.5, None),
            hole(100.0, -2.0, 20.0, None),
            hole(211.0, 0.0, 10.0, None),
            hole(306.0, 0.0, 10.0, None),
            hole(293.0, 0.0, 10.0, None),
            hole(400.0, 5.0, 40.0, None),
        ];
        let named = [
            datum("near", 4.0, 0.0),
            datum("other size", 100.0, 3.0),
            datum("filled", 200.0, 1.0),
            datum("between", 206.5, 0.0),
            datum("of two", 300.0, 0.0),
            datum("large", 400.0, -15.0),
            datum("nowhere", 50.0, 50.0),
            datum("large again", 400.0, 0.0),
        ];
        let sought = Sought {
            named: &named,
            ours: &ours,
            theirs: &theirs,
        };
        let (found, words) = sought.found(&Motion::identity(), false);
        assert_eq!(names(&found), "near large");
        assert_eq!(found[0].theirs.at.x, 3.0);
        let told = [
            "within 1/2 in of nowhere on the reference",
            "at between on the reference",
            "large again: another name",
            "could be other size, filled was found in the measured set within",
            "could be of two was found",
        ];
        assert_eq!(words.len(), told.len(), "{words:?}");
        for (words, expected) in words.iter().zip(told) {
            assert!(words.contains(expected), "{expected}\n{words}");
        }
        assert_eq!(
            names(&sought.found(&Motion::identity(), true).0),
            "near large large again"
        );
        assert_eq!(sought.on_reference().0.len(), 6);
    }

    #[test]
    fn a_hole_of_another_sheet_is_no_partner() {
        let mut across = hole(0.0, 0.0, 10.0, None);
        across.axis = Vector::x();
        let named = [datum("H1", 0.0, 0.0)];
        let sought = |theirs: &[Hole]| {
            let one = Sought {
                named: &named,
                ours: &[hole(0.0, 0.0, 10.0, None)],
                theirs,
            };
            one.found(&Motion::identity(), false).0.len()
        };
        assert_eq!(sought(&[across]), 0);
        across.axis = -Vector::z();
        assert_eq!(sought(&[across]), 1);
    }
}
