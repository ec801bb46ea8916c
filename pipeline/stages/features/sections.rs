//! Sections: both sets cut where it was asked for, and how far off the metal is along a seam.

use ::compare::verdict::NOT_HELD_MM;
use ::features::cut::{CutPair, Known, Plane, Short, along_seam, pair};
use cloud::Point;

use super::warmth;
use crate::job::Comparison;
use crate::job::asked::{SectionAsked, SectionPlanes};
use crate::stages::compare::Compared;
use crate::stages::register::Setting;
use crate::stages::scale::Scaled;

/// A section with its planes.
pub struct SectionResult {
    /// What the job calls it.
    pub name: String,
    /// Each plane with what it cuts.
    pub planes: Vec<PlaneResult>,
}

/// One plane of a section.
pub struct PlaneResult {
    /// How far along the seam it stands, mm; nothing for a plane by itself.
    pub along_mm: Option<f64>,
    /// The plane.
    pub plane: Plane,
    /// What it cuts out of both sets.
    pub pair: CutPair,
    /// How far off the metal is at the plane's place, with its ±, mm; `None` where there is none, it was not seen, or
    /// nothing holds the set square to it.
    pub off_mm: Option<(f64, f64)>,
    /// How much of the measured length is growth by warmth, mm; `None` where no length or not the warmth of both is known.
    pub grown_mm: Option<f64>,
}

impl PlaneResult {
    /// Whether there is no metal of the reference where it cuts.
    pub fn cuts_nothing(&self) -> bool {
        self.pair.reference.is_empty()
    }

    /// Where the measured metal ends before the reference's does.
    pub fn ends(&self) -> impl Iterator<Item = &Short> {
        self.pair.beyond.iter().filter_map(|beyond| beyond.short.as_ref())
    }
}

/// How far from its place a plane along a seam cuts, mm (six inches).
const BESIDE_SEAM_MM: f64 = 152.4;
/// Metal of the reference this near to the plane's place is what lies there, mm.
const AT_MM: f64 = 12.7;

/// Cuts both sets wherever the comparison asks for it.
pub fn sections(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
) -> Vec<SectionResult> {
    let cutter = Cutter {
        scaled,
        setting,
        compared,
        warmer_kelvin: warmth::warmer_kelvin(comparison),
    };
    let asked = &comparison.asked.sections;
    asked.iter().map(|section| cutter.cut(section)).collect()
}

struct Cutter<'a> {
    scaled: &'a Scaled,
    setting: &'a Setting,
    compared: &'a Compared,
    warmer_kelvin: Option<f64>,
}

impl Cutter<'_> {
    fn cut(&self, asked: &SectionAsked) -> SectionResult {
        let planes = match &asked.planes {
            SectionPlanes::One { through_mm, facing } => {
                let plane = Plane {
                    through: *through_mm,
                    facing: *facing,
                };
                vec![self.plane(plane, None, f64::INFINITY)]
            }
            SectionPlanes::Along { ends_mm, every_mm } => {
                let [from, to] = ends_mm;
                let up = self.facing_at(&cloud::Bounds::of(ends_mm).map_or(*from, |b| b.centre()));
                along_seam(from, to, *every_mm, &up)
                    .into_iter()
                    .map(|plane| {
                        let along = (plane.through - from).norm();
                        self.plane(plane, Some(along), BESIDE_SEAM_MM)
                    })
                    .collect()
            }
        };
        SectionResult {
            name: asked.name.clone(),
            planes,
        }
    }

    fn plane(&self, plane: Plane, along_mm: Option<f64>, reach_mm: f64) -> PlaneResult {
        let pair = pair(
            &self.scaled.reference,
            &self.scaled.measured,
            &self.setting.reference_from_measured,
            &plane,
            0.0,
            reach_mm,
        );
        let pair = pair.with_ends(&Known {
            reference: &self.scaled.reference,
            states: &self.compared.deviations.states,
            measured_spacing_mm: self.scaled.measured.spacing_mm,
            // What the reach cuts off goes on behind it.
            ends_by_itself: &|end| {
                (end - plane.through).norm() < reach_mm - 2.0 * self.scaled.reference.spacing_mm
            },
            setting_pm_mm: &|at, along| self.setting.pm_along_mm(at, along),
        });
        let off_mm = self.nearest(&plane.through).and_then(|i| {
            let (mm, pm) = self.compared.smoothed[i as usize]?;
            let normal = &self.scaled.reference.normals()[i as usize];
            let pm_mm = pm.hypot(self.setting.pm_along_mm(&plane.through, normal));
            (pm_mm < NOT_HELD_MM).then_some((mm, pm_mm))
        });
        let length_mm = pair.reference_length_mm.zip(pair.measured_length_mm);
        PlaneResult {
            along_mm,
            plane,
            grown_mm: length_mm.and_then(|(was_mm, _)| warmth::grown_mm(self.warmer_kelvin, was_mm)),
            pair,
            off_mm,
        }
    }

    /// The way the reference's metal faces nearest to a place; up where there is none.
    fn facing_at(&self, at: &Point) -> cloud::Vector {
        let found = self.scaled.reference.near.nearest(at);
        found.map_or_else(cloud::Vector::z, |n| {
            self.scaled.reference.normals()[n.index as usize]
        })
    }

    fn nearest(&self, at: &Point) -> Option<u32> {
        let found = self.scaled.reference.near.nearest_within(at, AT_MM)?;
        Some(found.index)
    }
}
