//! What is drawn over the metal: trim edges by their state, outlines of holes and beads, and the way pads must move.

use ::draw::{Arrow, Line, LineKind, View};
use ::features::bead::{Bead, Kind};
use ::features::edge::{EdgeResult, Run, Seen};
use ::features::holes::Hole;
use ::features::shift::{HOME_MM, Shift};
use ::features::words;
use cloud::survey::tangents;
use cloud::{Bounds, Point, Vector};
use compare::verdict::NOT_HELD_MM;
use compare::{Region, Verdict};

use super::Sheet;
use crate::fill::lies;
use crate::stages::features::Found;
use crate::work::Part;

/// Corners of the polygon that a round hole is drawn as.
const ROUND: usize = 48;

impl Sheet<'_> {
    /// Every line.
    pub(super) fn lines(&self) -> Vec<Line> {
        let Found {
            edges, holes, beads, ..
        } = self.found;
        let mut lines: Vec<Line> = edges.iter().flat_map(lines_of_edge).collect();
        for hole in holes {
            if let Some(hole) = hole.pair.reference.as_ref().or(hole.pair.measured.as_ref()) {
                lines.push(outline_of_hole(hole));
            }
        }
        for bead in beads {
            if let Some(bead) = bead.pair.reference.as_ref().or(bead.pair.measured.as_ref()) {
                lines.extend(outlines_of_bead(bead));
            }
        }
        lines
    }

    /// What of the lines lies in the box whose metal is drawn: beyond it they would stand on bare paper.
    pub(super) fn lines_within(&self, around: &Bounds) -> Vec<Line> {
        let lines = self.lines();
        lines.iter().flat_map(|line| parts_within(line, around)).collect()
    }

    /// The way each pad of a region must move, where it must; of a region without pads the way that all of it must.
    pub(super) fn arrows_of_region(&self, region: &Region, view: &View) -> Vec<Arrow> {
        let found = self
            .compared
            .regions
            .iter()
            .position(|r| r.region.name == region.name);
        let Some((k, shift)) = found.and_then(|k| Some((k, self.found.shifts[k].as_ref()?))) else {
            return Vec::new();
        };
        if shift.pads.is_empty() {
            return self.arrow_of_all(k, shift, view).into_iter().collect();
        }
        shift
            .pads
            .iter()
            .filter(|pad| pad.words != "can't tell" && pad.words != "home")
            .filter_map(|pad| {
                Some(Arrow {
                    at: pad.at,
                    along: pad.shim_mm.try_normalize(1e-9)?,
                    mm: pad.shim_mm.norm(),
                    lines: vec![pad.words.clone(), format!("pad {}", pad.name)],
                })
            })
            .collect()
    }

    /// The way the middle of a region must move, where what was found of it says that it has moved.
    fn arrow_of_all(&self, region: usize, shift: &Shift, view: &View) -> Option<Arrow> {
        let result = &self.compared.regions[region];
        let name = &result.region.name;
        let part = Part {
            reference: &self.scaled.reference,
            compared: self.compared,
            found: self.found,
        };
        let told = self.found.folds.iter().any(|f| f.name == *name)
            || lies::moved_with(part, name, self.comparison).is_some();
        if told
            || self.comparison.against_image()
            || result.verdict == Verdict::Within
            || !shift.words.contains("shim")
            || shift.translation_mm.norm() < HOME_MM
        {
            return None;
        }
        let back_mm = -shift.translation_mm;
        let words = words::correction(&back_mm, shift.pm_mm.max(HOME_MM / 4.0));
        let reference = &self.scaled.reference;
        let toward = view.toward();
        let faces = |i: u32| {
            let cosine = reference.normals()[i as usize].dot(&toward);
            cosine > 0.5 || (!reference.sides_known && cosine < -0.5)
        };
        let away = |i: u32| (reference.points()[i as usize] - shift.about).norm_squared();
        let middle = result
            .members
            .iter()
            .copied()
            .filter(|&i| faces(i))
            .min_by(|&a, &b| away(a).total_cmp(&away(b)).then(a.cmp(&b)))?;
        let all = shift.words.contains("all of it");
        Some(Arrow {
            at: reference.points()[middle as usize],
            along: back_mm.try_normalize(1e-9)?,
            mm: back_mm.norm(),
            lines: vec![words, if all { "all of it" } else { "the middle" }.to_string()],
        })
    }
}

/// The parts of a line that lie in a box.
fn parts_within(line: &Line, around: &Bounds) -> Vec<Line> {
    let mut parts: Vec<Line> = Vec::new();
    for ends in line.at.windows(2) {
        let Some([from, to]) = clipped([ends[0], ends[1]], around) else {
            continue;
        };
        match parts.last_mut() {
            Some(part) if part.at.last() == Some(&from) => part.at.push(to),
            _ => parts.push(Line {
                at: vec![from, to],
                kind: line.kind,
            }),
        }
    }
    parts
}

/// What of a straight piece lies in a box (Liang & Barsky 1984, ACM TOG 3(1) 1-22).
fn clipped([from, to]: [Point; 2], around: &Bounds) -> Option<[Point; 2]> {
    let way = to - from;
    let (mut enters, mut leaves) = (0.0f64, 1.0f64);
    for k in 0..3 {
        let (low, high) = (around.low[k] - from[k], around.high[k] - from[k]);
        if way[k] == 0.0 {
            if low > 0.0 || high < 0.0 {
                return None;
            }
            continue;
        }
        let (near, far) = (low / way[k], high / way[k]);
        enters = enters.max(near.min(far));
        leaves = leaves.min(near.max(far));
    }
    if enters >= leaves {
        return None;
    }
    let end = if leaves == 1.0 { to } else { from + way * leaves };
    Some([from + way * enters, end])
}

/// Where each run begins and ends as it is drawn. Each was read by itself, so that its ends miss those of its neighbours by what
/// the reading scatters: drawn so, one edge would be many. Neighbours meet half way.
fn meeting(runs: &[Run], closed: bool) -> Vec<[Point; 2]> {
    let mut drawn: Vec<[Point; 2]> = runs.iter().map(|run| [run.from, run.to]).collect();
    let count = runs.len();
    let meetings = if closed { count } else { count.saturating_sub(1) };
    for before in 0..meetings {
        let after = (before + 1) % count;
        let apart = runs[after].from - runs[before].to;
        // A run that could not be read at all leaves a gap as long as itself.
        if apart.norm() < (runs[before].to - runs[before].from).norm() / 2.0 {
            let between = runs[before].to + apart / 2.0;
            drawn[before][1] = between;
            drawn[after][0] = between;
        }
    }
    drawn
}

/// Neighbouring runs of one state are one line.
fn lines_of_edge(edge: &EdgeResult) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let mut off = vec![0.0; edge.runs.len()];
    for stretch in &edge.stretches {
        for &run in &stretch.runs {
            off[run] = stretch.short_mm;
        }
    }
    let drawn = meeting(&edge.runs, edge.closed);
    for ((run, off_mm), [from, to]) in edge.runs.iter().zip(off).zip(drawn) {
        let kind = kind_of(run, off_mm);
        match lines.last_mut() {
            Some(line) if line.kind == kind && line.at.last() == Some(&from) => line.at.push(to),
            _ => lines.push(Line {
                at: vec![from, to],
                kind,
            }),
        }
    }
    lines
}

/// How a run is drawn: by the stretch that it is part of, since a single run is rarely known well enough by itself; what nothing
/// holds is not called home.
fn kind_of(run: &Run, off_mm: f64) -> LineKind {
    match run.seen {
        Seen::NotSeen => LineKind::EdgeNotSeen,
        Seen::Short { pm_mm, .. } if pm_mm > NOT_HELD_MM => LineKind::EdgeNotSeen,
        Seen::Short { .. } if off_mm > 0.0 => LineKind::EdgeShort,
        Seen::Short { .. } if off_mm < 0.0 => LineKind::EdgeLong,
        Seen::Short { .. } => LineKind::EdgeHome,
    }
}

/// A bead is drawn as the box that it fills, along both of its walls where it bends, a recess as an oval.
fn outlines_of_bead(bead: &Bead) -> Vec<Line> {
    let half = bead.across * (bead.width_mm / 2.0);
    // Its places lie on the sheet under it, its walls at half depth: there its own metal does not hide the line.
    let lifted = bead.up * (bead.depth_mm / 2.0);
    let [a, b] = bead.ends;
    let drawn = match bead.kind {
        Kind::Bead if bead.closed => vec![wall_of_bead(bead, 0.5), wall_of_bead(bead, -0.5)],
        Kind::Bead if !bead.middle_line.is_empty() => {
            let mut round = wall_of_bead(bead, 0.5);
            round.extend(wall_of_bead(bead, -0.5).into_iter().rev());
            round.extend(round.first().copied());
            vec![round]
        }
        Kind::Bead => vec![vec![a + half, b + half, b - half, a - half, a + half]],
        Kind::Recess => {
            let along = bead.along * (bead.length_mm / 2.0);
            vec![round(&bead.at, &along, &half)]
        }
    };
    let line = |at: Vec<Point>| Line {
        at: at.into_iter().map(|place| place + lifted).collect(),
        kind: LineKind::Outline,
    };
    drawn.into_iter().map(line).collect()
}

/// The line a share of the width to the left of the middle line of a bead that bends.
fn wall_of_bead(bead: &Bead, share: f64) -> Vec<Point> {
    let places = &bead.middle_line;
    let count = places.len();
    let drawn = if bead.closed { count + 1 } else { count };
    (0..drawn)
        .map(|k| {
            let (before, after) = if bead.closed {
                ((k + count - 1) % count, (k + 1) % count)
            } else {
                (k.saturating_sub(1), (k + 1).min(count - 1))
            };
            let left = bead.up.cross(&(places[after] - places[before]));
            let left = left.try_normalize(1e-9).unwrap_or(bead.across);
            places[k % count] + left * (share * bead.width_mm)
        })
        .collect()
}

/// An oval with these half axes.
fn round(middle: &Point, u: &Vector, v: &Vector) -> Vec<Point> {
    let turn = |k: usize| std::f64::consts::TAU * k as f64 / ROUND as f64;
    (0..=ROUND)
        .map(|k| middle + u * turn(k).cos() + v * turn(k).sin())
        .collect()
}

fn outline_of_hole(hole: &Hole) -> Line {
    let (u, v) = tangents(&hole.axis);
    let radius = hole.diameter_mm / 2.0;
    // A slot is a hole drawn out along its length.
    let drawn_out: Vector = hole.slot.as_ref().map_or(Vector::zeros(), |slot| {
        slot.along * ((slot.length_mm - hole.diameter_mm) / 2.0).max(0.0)
    });
    let at: Vec<Point> = round(&hole.at, &(u * radius), &(v * radius))
        .into_iter()
        .map(|rim| rim + drawn_out * (rim - hole.at).dot(&drawn_out).signum())
        .collect();
    Line {
        at,
        kind: LineKind::Outline,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Runs of 20 mm along x, each read apart by a little, with the third not seen and a gap after the fifth.
    fn runs() -> Vec<Run> {
        (0..7u32)
            .map(|k| {
                let from = 20.0 * f64::from(k) + if k > 4 { 20.0 } else { 0.0 };
                let off = if k % 2 == 0 { 0.3 } else { -0.3 };
                Run {
                    from: Point::new(from + 0.05, off, 0.0),
                    to: Point::new(from + 20.0, off, 0.0),
                    middle: Point::new(from + 10.0, off, 0.0),
                    outward: Vector::y(),
                    normal: Vector::z(),
                    seen: if k == 2 {
                        Seen::NotSeen
                    } else {
                        Seen::Short { mm: 0.1, pm_mm: 0.5 }
                    },
                }
            })
            .collect()
    }

    fn edge(runs: Vec<Run>) -> EdgeResult {
        crate::made::edge("front edge", None, runs, Vec::new())
    }

    #[test]
    fn an_edge_is_one_line_as_far_as_it_was_seen_and_its_pieces_meet() {
        let lines = lines_of_edge(&edge(runs()));
        let kinds: Vec<LineKind> = lines.iter().map(|line| line.kind).collect();
        let home = LineKind::EdgeHome;
        assert_eq!(kinds, [home, LineKind::EdgeNotSeen, home, home]);
        assert_eq!(lines.iter().map(|l| l.at.len()).collect::<Vec<_>>(), [3, 2, 3, 3]);
        // Half way between the two ends that were read.
        assert!((lines[0].at[1] - Point::new(20.025, 0.0, 0.0)).norm() < 1e-9);
        assert_eq!(lines[0].at.last(), lines[1].at.first());
        assert_eq!(lines[1].at.last(), lines[2].at.first());
        // Where no run is, nothing is drawn.
        let gap = lines[3].at[0] - lines[2].at[2];
        assert!((gap.norm() - 20.0).abs() < 0.7, "{gap:?}");
    }

    #[test]
    fn a_line_ends_at_the_box_and_goes_on_where_it_comes_back() {
        let line = Line {
            at: vec![
                Point::new(-10.0, 0.0, 0.0),
                Point::new(5.0, 0.0, 0.0),
                Point::new(5.0, 30.0, 0.0),
                Point::new(8.0, 30.0, 0.0),
                Point::new(8.0, 1.0, 0.0),
            ],
            kind: LineKind::EdgeHome,
        };
        let around = Bounds {
            low: Point::new(0.0, -1.0, -1.0),
            high: Point::new(10.0, 20.0, 1.0),
        };
        let parts = parts_within(&line, &around);
        assert_eq!(parts.len(), 2);
        let corner = [[0.0, 0.0], [5.0, 0.0], [5.0, 20.0]].map(|[x, y]| Point::new(x, y, 0.0));
        let back = [[8.0, 20.0], [8.0, 1.0]].map(|[x, y]| Point::new(x, y, 0.0));
        for (part, expected) in parts.iter().zip([&corner[..], &back[..]]) {
            assert_eq!(part.at.len(), expected.len());
            let far = part.at.iter().zip(expected).map(|(a, b)| (a - b).norm());
            assert!(far.fold(0.0, f64::max) < 1e-9, "{part:?}");
        }
        let beside = Bounds {
            low: Point::new(0.1, 2.0, 2.0),
            high: Point::new(10.0, 20.0, 3.0),
        };
        assert!(parts_within(&line, &beside).is_empty());
    }
}
