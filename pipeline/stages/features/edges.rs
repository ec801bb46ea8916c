//! Trim edges: found on the reference, read on both sets, named after the regions that they bound.

use ::features::edge::{self, EdgeResult};
use cloud::{Point, Vector};

use crate::job::{CheckKind, Comparison, Straight};
use crate::stages::register::Setting;
use crate::stages::scale::Scaled;

/// An edge is of the region whose box it lies in or beside, mm.
const BESIDE_MM: f64 = 5.0;

/// Finds and reads the edges where they are asked for, or where a check leans on them.
pub fn edges(comparison: &Comparison, scaled: &Scaled, setting: &Setting) -> Vec<EdgeResult> {
    let asked = &comparison.asked;
    let gaps = asked
        .checks
        .iter()
        .any(|c| matches!(c.kind, CheckKind::Gap { .. }));
    if !asked.edges && !gaps && !asked.checks.iter().any(|c| leans_on_edges(&c.kind)) {
        return Vec::new();
    }
    let name_of = |at: &Point| {
        comparison
            .regions
            .iter()
            .filter(|r| r.bounds.grown(BESIDE_MM).contains(at))
            // Of two boxes that hold it, the smaller one says more.
            .min_by(|a, b| a.bounds.size().product().total_cmp(&b.bounds.size().product()))
            .map(|r| r.name.clone())
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

/// Whether a check of form alone may need an edge.
fn leans_on_edges(kind: &CheckKind) -> bool {
    match kind {
        CheckKind::Round { .. } => true,
        CheckKind::Straight { of, .. } => *of == Straight::Edge,
        _ => false,
    }
}
