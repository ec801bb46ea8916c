//! Holes and edges by hand, for tests.

use ::features::edge::{EdgeResult, Run, Stretch};
use ::features::holes::{Hole, Lip};
use cloud::{Point, Vector};
use compare::Verdict;

/// A round hole on the x axis whose axis stands upright.
pub fn hole(x: f64, diameter_mm: f64) -> Hole {
    Hole {
        at: Point::new(x, 0.0, 0.0),
        axis: Vector::z(),
        axis_pm: 0.01,
        diameter_mm,
        slot: None,
        lip: Lip::CantTell,
        place_pm_mm: 0.1,
        normal_pm_mm: 0.1,
        size_pm_mm: 0.1,
    }
}

/// An edge of a region, home where it has no stretches and out where it has.
pub fn edge(name: &str, region: Option<&str>, runs: Vec<Run>, stretches: Vec<Stretch>) -> EdgeResult {
    let out = !stretches.is_empty();
    EdgeResult {
        name: name.to_string(),
        region: region.map(str::to_string),
        length_mm: runs.iter().map(|run| (run.to - run.from).norm()).sum(),
        runs,
        closed: false,
        straightness_mm: None,
        stretches,
        verdict: if out { Verdict::Outside } else { Verdict::Within },
        words: if out { Vec::new() } else { vec!["home".to_string()] },
    }
}
