//! Points in order held against the metal: a pad, a line point, a stop or a datum hole that is not where it was tilts or turns the
//! whole set, and a whole false job comes of it on sound metal.

use ::register::icp::{Fixed, Settled, explained_rms_mm, settle_at_home};
use cloud::unit::{MM_PER_INCH, decimal};
use cloud::{Body, Point, Surface, Vector, Warning};
use compare::{Region, Status, region};

use super::Setting;
use super::by_surface::LEAST_KEPT;
use super::kept_parted::ways;
use crate::job::Comparison;
use crate::stages::scale::Scaled;

/// Metal that comes to lie elsewhere by less than this is not told, mm (1/32 in), …
const LEAST_MM: f64 = MM_PER_INCH / 32.0;
/// … nor by less than so many times the ± of both.
const OVER_PM: f64 = 2.0;
/// More than this share of the metal that may tell must lie on the reference as one piece.
const AS_ONE_PIECE: f64 = 0.7;
/// … and lie so many times better there than it is put off: a shell that is bent comes to rest in between, and tells nothing.
const CLEARLY_BETTER: f64 = 8.0;
/// About so many places are asked.
const PLACES: usize = 2_000;

/// What the metal says of a set by points in order: let settle from there, all of it (where metal is kept, that alone) comes to
/// rest as one piece, to within its noise, clearly elsewhere.
pub fn against_metal(comparison: &Comparison, scaled: &Scaled, setting: &Setting) -> Option<Warning> {
    let (reference, measured) = (&scaled.reference, &scaled.measured);
    let may_tell = may_tell(comparison, reference);
    let share = may_tell.iter().filter(|tells| **tells).count() as f64 / may_tell.len().max(1) as f64;
    let reach_mm = comparison.reach_mm.max(12.0 * reference.spacing_mm);
    let home = &setting.reference_from_measured;
    let metal = settle_at_home(&Fixed::kept_of(reference, &may_tell), measured, home, reach_mm);
    if metal.share < AS_ONE_PIECE * share || metal.rms_mm > explained_rms_mm(reference, measured) {
        return None;
    }
    let (at, off_mm) = farthest(reference, &may_tell, setting, &metal)?;
    let pm_mm = setting.pm_at_mm(&at).hypot(metal.motions.pm_at_mm(&at));
    let least_mm = LEAST_MM.max(OVER_PM * pm_mm).max(CLEARLY_BETTER * metal.rms_mm);
    (off_mm.norm() > least_mm).then(|| {
        let [x, y, z] = [at.x, at.y, at.z].map(|mm| decimal(mm / MM_PER_INCH, 1));
        Warning::new(
            "metal-against-points",
            format!(
                "as the points set it all of the metal lies tilted, turned or shifted alike, at ({x}, {y}, {z}) in by {}; left to itself {:.0} % of it lies on the reference, to {:.1} mm in the mean. Most likely a pad, a line point, a stop or a datum hole is not where it was; or all of the metal has moved on them. Look at those points, or set it by what was left alone or all over",
                ways(&off_mm),
                100.0 * metal.share,
                metal.rms_mm
            ),
        )
    })
}

/// Which points of the reference may tell: what was kept, or where that is too little all but what was worked or is new.
fn may_tell(comparison: &Comparison, reference: &Surface<Body>) -> Vec<bool> {
    let kept = region::left_alone(&comparison.regions, reference).unwrap_or_default();
    if kept.iter().filter(|k| **k).count() as f64 > LEAST_KEPT * reference.points().len() as f64 {
        return kept;
    }
    let touched = |r: &&Region| matches!(r.status, Status::Worked | Status::New);
    let regions = comparison.regions.iter().filter(touched);
    let boxes: Vec<_> = regions.map(|r| r.bounds.grown(region::DRAWN_IN_MM)).collect();
    let points = reference.points().iter();
    points.map(|at| !boxes.iter().any(|b| b.contains(at))).collect()
}

/// Where the points put the metal farthest from where it comes to rest by itself, and how it lies off there.
fn farthest(
    reference: &Surface<Body>,
    may_tell: &[bool],
    points: &Setting,
    metal: &Settled,
) -> Option<(Point, Vector)> {
    let there = metal.reference_from_measured.inverse();
    let between = there.then(&points.reference_from_measured);
    let places = reference
        .points()
        .iter()
        .zip(may_tell)
        .filter(|(_, tells)| **tells);
    places
        .step_by((reference.points().len() / PLACES).max(1))
        .map(|(at, _)| (*at, between.apply(at) - at))
        .max_by(|a, b| a.1.norm().total_cmp(&b.1.norm()))
}
