//! Named places of both sets: probed points, or the holes that were found there.

use ::features::holes::Pair;
use ::features::shell::Known;
use cloud::named::Datum;
use cloud::{Body, Motion, NamedPoint, Point, Scan};

use crate::job::Comparison;
use crate::stages::register::Setting;
use crate::stages::register::by_points;
use crate::stages::scale::Scaled;
use crate::trouble::Trouble;

/// A hole this near to a named place is the one that was meant, mm.
const HOLE_MM: f64 = 10.0;
/// What a probed point is known to where nothing was said, mm (1/64 in, what a pin repeats to; common practice, no source).
pub const PROBED_PM_MM: f64 = 25.4 / 64.0;

/// A named place as it was and as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenPlace {
    /// Its name.
    pub name: String,
    /// On the reference, mm.
    pub reference: Point,
    /// On the measured set, in the body's frame, mm.
    pub measured: Point,
    /// ± of how it has moved, the setting's share left out.
    pub known: Known,
}

/// Finds named places.
pub struct Places {
    probed: Vec<(Datum, Datum)>,
    holes: Vec<Pair>,
    reference_from_measured: Motion<Scan, Body>,
}

impl Places {
    /// Made ready with the points that were probed in both sets and the holes that both have.
    ///
    /// # Errors
    /// Where a table of points can't be read.
    pub fn new(
        comparison: &Comparison,
        scaled: &Scaled,
        setting: &Setting,
        holes: impl Iterator<Item = Pair>,
    ) -> Result<Self, Trouble> {
        let mut probed = Vec::new();
        if comparison.points.is_some() {
            let (_, reference, measured) = by_points::read(comparison, scaled)?;
            for ours in reference {
                let partner = measured.iter().find(|m| m.point.name == ours.point.name);
                if let Some(theirs) = partner.cloned() {
                    probed.push((ours, theirs));
                }
            }
        }
        Ok(Self {
            probed,
            holes: holes.collect(),
            reference_from_measured: setting.reference_from_measured,
        })
    }

    /// Every place of the reference that has a name: what was probed there, and what the job declares.
    pub fn named<'p>(&'p self, declared: &'p [NamedPoint]) -> impl Iterator<Item = &'p NamedPoint> + Clone {
        self.probed.iter().map(|(ours, _)| &ours.point).chain(declared)
    }

    /// A place as it was and as it is; `None` where it was neither probed nor is there a hole of both sets.
    pub fn seen(&self, place: &NamedPoint) -> Option<SeenPlace> {
        if let Some((ours, theirs)) = self.probed.iter().find(|p| p.0.point.name == place.name) {
            let pm = |d: &Datum| d.pm_mm.unwrap_or(PROBED_PM_MM);
            return Some(SeenPlace {
                name: place.name.clone(),
                reference: ours.point.at_mm,
                measured: self.reference_from_measured.apply(&theirs.point.at_mm),
                known: Known::alike(pm(ours).hypot(pm(theirs))),
            });
        }
        let pair = self.hole(&place.at_mm)?;
        let (ours, theirs) = pair.reference.as_ref().zip(pair.measured.as_ref())?;
        Some(SeenPlace {
            name: place.name.clone(),
            reference: ours.at,
            measured: theirs.at,
            known: Known {
                normal: ours.axis,
                in_sheet_mm: ours.place_pm_mm.hypot(theirs.place_pm_mm),
                out_of_it_mm: ours.normal_pm_mm.hypot(theirs.normal_pm_mm),
            },
        })
    }

    /// The hole of the reference at a place, with its partner where it has one.
    pub fn hole(&self, at: &Point) -> Option<&Pair> {
        let apart = |pair: &Pair| {
            pair.reference
                .as_ref()
                .map_or(f64::INFINITY, |h| (h.at - at).norm())
        };
        self.holes
            .iter()
            .filter(|pair| apart(pair) < HOLE_MM)
            .min_by(|a, b| apart(a).total_cmp(&apart(b)))
    }
}
