//! Holes, beads and edges by hand, for tests.

use ::features::bead::{Bead, Kind};
use ::features::edge::{EdgeResult, Run, Stretch};
use ::features::holes::{Hole, Lip, Pair};
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

/// A hole of both sets, or of one.
pub fn pair(reference: Option<Hole>, measured: Option<Hole>) -> Pair {
    Pair {
        name: "hole 1".to_string(),
        reference,
        measured,
        pm_mm: 0.1,
        normal_pm_mm: 0.1,
        axis_pm: 0.01,
        size_pm_mm: 0.1,
        missing: None,
    }
}

/// A bead along x at a y of a sheet that faces up: 900 long, 16 wide and 6 high.
pub fn bead(y: f64) -> Bead {
    let at = |x: f64| Point::new(x, y, 0.0);
    Bead {
        kind: Kind::Bead,
        at: at(0.0),
        along: Vector::x(),
        across: Vector::y(),
        up: Vector::z(),
        length_mm: 900.0,
        width_mm: 16.0,
        depth_mm: 6.0,
        flat: true,
        wall: None,
        outer_radius_mm: None,
        inner_radius_mm: None,
        ends: [at(-450.0), at(450.0)],
        open: [false; 2],
        straight: true,
        closed: false,
        middle_line: Vec::new(),
        sections: Vec::new(),
        pm_depth_mm: 0.05,
        pm_place_mm: 0.05,
        pm_width_mm: 0.1,
        pm_ends_mm: [0.4; 2],
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
