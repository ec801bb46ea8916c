//! Trim edges: found on the reference, read on both sets, named after the regions that they bound.

use ::features::edge::{self, EdgeResult};
use cloud::{Point, Vector};
use compare::Region;

use crate::job::{CheckKind, Comparison, Straight};
use crate::stages::register::Setting;
use crate::stages::scale::Scaled;

/// What lies in a region's box or this near to it is of its metal, mm.
const BESIDE_MM: f64 = 5.0;

/// Finds and reads the edges where they are asked for, or where a check leans on them.
pub fn edges(comparison: &Comparison, scaled: &Scaled, setting: &Setting) -> Vec<EdgeResult> {
    let asked = &comparison.asked;
    if !asked.edges && !asked.checks.iter().any(|c| leans_on_edges(&c.kind)) {
        return Vec::new();
    }
    let name_of = |at: &Point| {
        let region = smallest_with(&comparison.regions, std::slice::from_ref(at));
        region.map(|r| r.name.clone())
    };
    let pm = |at: &Point, along: &Vector| setting.pm_along_mm(at, along);
    let mut edges = edge::compared(
        &scaled.reference,
        &scaled.measured,
        &setting.reference_from_measured,
        &name_of,
        comparison.limit_mm,
        &pm,
    );
    for edge in &mut edges {
        for stretch in &mut edge.stretches {
            stretch.height_mm = edge::height_mm(&edge.runs, &stretch.runs, &scaled.reference);
        }
    }
    edges
}

/// The smallest region that has all of these places: of two boxes that hold them it says more.
pub fn smallest_with<'a>(regions: &'a [Region], places: &[Point]) -> Option<&'a Region> {
    let has = |region: &Region, at: &Point| region.bounds.grown(BESIDE_MM).contains(at);
    regions
        .iter()
        .filter(|region| places.iter().all(|place| has(region, place)))
        .min_by(|a, b| {
            let volume = |region: &Region| region.bounds.size().product();
            volume(a).total_cmp(&volume(b))
        })
}

/// Whether a check may need an edge.
fn leans_on_edges(kind: &CheckKind) -> bool {
    match kind {
        CheckKind::Gap { .. } | CheckKind::Round { .. } => true,
        CheckKind::Straight { of, .. } => *of == Straight::Edge,
        _ => false,
    }
}
