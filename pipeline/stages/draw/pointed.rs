//! Where beads and edges are pointed at: beside what they are, by the name of their side.

use ::draw::Mark;
use ::features::bead::{Bead, Kind};
use ::features::edge::EdgeResult;
use cloud::Point;
use compare::{Region, Verdict};

use super::Sheet;

/// Most edges that are named in the picture of a region; those that are out are named besides.
const MOST_EDGES: usize = 3;
/// An edge that is home and shorter than this share of the region's longest is not named.
const LEAST_EDGE: f64 = 0.1;
/// A ring whose middle line's nearest place lies at least this share of its farthest from the middle is round.
const ROUND: f64 = 0.85;

impl Sheet<'_> {
    /// Which edge of a region lies where and how it is: those that are out, and the longest of the others.
    pub(super) fn marks_of_edges(&self, region: &Region, taken: &[Point]) -> Vec<Mark> {
        let edges = self.found.edges.iter();
        let mut own: Vec<&EdgeResult> = edges
            .filter(|e| e.region.as_deref() == Some(region.name.as_str()))
            .collect();
        let longest_mm = own.iter().map(|e| e.length_mm).fold(0.0, f64::max);
        let is_out = |e: &EdgeResult| e.verdict == Verdict::Outside;
        own.retain(|e| is_out(e) || e.length_mm >= LEAST_EDGE * longest_mm);
        own.sort_by(|a, b| {
            let out_first = is_out(b).cmp(&is_out(a));
            out_first.then(b.length_mm.total_cmp(&a.length_mm))
        });
        let out = own.iter().filter(|e| is_out(e)).count();
        own.truncate(out.max(MOST_EDGES));
        own.into_iter()
            .map(|edge| Mark {
                choices: choices_of_edge(edge, &region.name, taken),
                hidden_too: false,
                ring_mm: None,
            })
            .collect()
    }
}

/// Where a bead is pointed at and the ring around it, mm: a round one and a recess at their own wall, as a hole is, for the metal
/// within is not the bead; one that bends at a place on its line.
pub(super) fn place_of_bead(bead: &Bead) -> (Point, Option<f64>) {
    let half = bead.width_mm / 2.0;
    if bead.kind == Kind::Recess {
        return (bead.at, Some(half.max(bead.length_mm / 2.0)));
    }
    let away = |p: &Point| (p - bead.at).norm();
    let line = &bead.middle_line;
    let farthest = line.iter().copied().max_by(|a, b| away(a).total_cmp(&away(b)));
    match farthest {
        Some(farthest) if bead.closed => {
            let reach = away(&farthest);
            let nearest = line.iter().map(away).fold(f64::INFINITY, f64::min);
            if nearest >= ROUND * reach {
                (bead.at, Some(reach + half))
            } else {
                (farthest, None)
            }
        }
        _ => (line.get(line.len() / 2).copied().unwrap_or(bead.at), None),
    }
}

/// Where an edge can be pointed at, best first: where it is off, else about its middle, and away from what else is pointed at.
/// The region's own name stands above the picture and is left out.
fn choices_of_edge(edge: &EdgeResult, region: &str, taken: &[Point]) -> Vec<(Point, Vec<String>)> {
    let mut lines = vec![edge.name.replace(&format!(" of the {region}"), "")];
    lines.extend(edge.words.iter().take(2).cloned());
    let off = edge
        .longest_off()
        .and_then(|stretch| stretch.runs.get(stretch.runs.len() / 2).copied());
    let count = edge.runs.len();
    let along = [count / 2, count / 4, 3 * count / 4, count / 8, 7 * count / 8];
    let mut at: Vec<Point> = off
        .into_iter()
        .chain(along)
        .filter_map(|run| Some(edge.runs.get(run)?.middle))
        .collect();
    let apart_mm = edge.length_mm / 8.0;
    // A stable sort: of those that are alike the first stays the first.
    at.sort_by_key(|place| taken.iter().any(|other| (place - other).norm() < apart_mm));
    at.into_iter().map(|place| (place, lines.clone())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use ::features::edge::{Run, Seen};
    use cloud::Vector;

    fn bead(middle_line: Vec<Point>, closed: bool) -> Bead {
        Bead {
            at: Point::new(100.0, 50.0, 0.0),
            length_mm: 60.0,
            width_mm: 12.0,
            flat: false,
            ends: [Point::new(70.0, 50.0, 0.0), Point::new(130.0, 50.0, 0.0)],
            straight: false,
            closed,
            middle_line,
            ..made::bead(50.0)
        }
    }

    /// An oval about the bead's middle.
    fn oval(long: f64, wide: f64) -> Vec<Point> {
        (0..60)
            .map(|k| {
                let turn = std::f64::consts::TAU * f64::from(k) / 60.0;
                Point::new(100.0 + long * turn.cos(), 50.0 + wide * turn.sin(), 0.0)
            })
            .collect()
    }

    #[test]
    fn a_ring_is_pointed_at_from_its_wall_and_no_bead_at_bare_metal() {
        let (at, ring_mm) = place_of_bead(&bead(oval(30.0, 30.0), true));
        assert_eq!(at, Point::new(100.0, 50.0, 0.0));
        assert!((ring_mm.unwrap() - 36.0).abs() < 1e-9);
        let (at, ring_mm) = place_of_bead(&bead(oval(60.0, 20.0), true));
        assert!(
            ring_mm.is_none() && ((at.x - 100.0).abs() - 60.0).abs() < 1e-9,
            "{at:?}"
        );
        // An arc: its middle lies off the line between its ends.
        let arc: Vec<Point> = oval(30.0, 30.0)[..31].to_vec();
        let (at, _) = place_of_bead(&bead(arc, false));
        assert!((at - Point::new(100.0, 80.0, 0.0)).norm() < 1e-9, "{at:?}");
        let straight = place_of_bead(&bead(Vec::new(), false));
        assert_eq!(straight, (Point::new(100.0, 50.0, 0.0), None));
    }

    #[test]
    fn an_edge_is_named_by_its_side_clear_of_other_marks() {
        let runs: Vec<Run> = (0..8)
            .map(|k| {
                let place = |mm: f64| Point::new(20.0 * f64::from(k) + mm, 0.0, 0.0);
                Run {
                    from: place(0.0),
                    to: place(20.0),
                    middle: place(10.0),
                    outward: Vector::y(),
                    normal: Vector::z(),
                    seen: Seen::NotSeen,
                }
            })
            .collect();
        let region = "rear flange";
        let edge = crate::made::edge("bottom edge of the rear flange", Some(region), runs, Vec::new());
        let first = |taken: &[Point]| choices_of_edge(&edge, "rear flange", taken)[0].clone();
        let (at, lines) = first(&[]);
        assert_eq!(
            (at.x, lines),
            (90.0, vec!["bottom edge".to_string(), "home".to_string()])
        );
        assert_eq!(first(&[Point::new(88.0, 4.0, 0.0)]).0.x, 50.0);
    }
}
