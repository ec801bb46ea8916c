//! What is drawn over the metal: trim edges by their state, outlines of holes and beads, and the way pads must move.

use ::draw::{Arrow, Line, LineKind, View};
use ::features::bead::{Bead, Kind};
use ::features::edge::{EdgeResult, Run, Seen};
use ::features::holes::Hole;
use ::features::shift::{HOME_MM, Shift};
use ::features::words;
use cloud::survey::tangents;
use cloud::{Bounds, Point, Vector};
use compare::{Region, Verdict};

use super::Sheet;
use crate::stages::features::Found;

/// Corners of the polygon that a round hole is drawn as.
const ROUND: usize = 48;

impl Sheet<'_> {
    /// Every line that has a place in the frame.
    pub(super) fn lines(&self, frame: &Bounds) -> Vec<Line> {
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
        lines.retain(|line| line.at.iter().any(|p| frame.contains(p)));
        lines
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
        let told = self.found.folds.iter().any(|f| f.name == result.region.name);
        if told
            || self.comparison.mirror
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

/// Neighbouring runs of one state are one line.
fn lines_of_edge(edge: &EdgeResult) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let mut off = vec![0.0; edge.runs.len()];
    for stretch in &edge.stretches {
        for &run in &stretch.runs {
            off[run] = stretch.short_mm;
        }
    }
    for (run, off_mm) in edge.runs.iter().zip(off) {
        let kind = kind_of(run, off_mm);
        match lines.last_mut() {
            Some(line)
                if line.kind == kind && line.at.last().is_some_and(|end| (end - run.from).norm() < 1e-6) =>
            {
                line.at.push(run.to);
            }
            _ => lines.push(Line {
                at: vec![run.from, run.to],
                kind,
            }),
        }
    }
    lines
}

/// How a run is drawn: by the stretch that it is part of, since a single run is rarely known well enough by itself.
fn kind_of(run: &Run, off_mm: f64) -> LineKind {
    match run.seen {
        Seen::NotSeen => LineKind::EdgeNotSeen,
        Seen::Short { .. } if off_mm > 0.0 => LineKind::EdgeShort,
        Seen::Short { .. } if off_mm < 0.0 => LineKind::EdgeLong,
        Seen::Short { .. } => LineKind::EdgeHome,
    }
}

/// A bead is drawn as the box that it fills, along both of its walls where it bends, a recess as an oval.
fn outlines_of_bead(bead: &Bead) -> Vec<Line> {
    let half = bead.across * (bead.width_mm / 2.0);
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
    let line = |at| Line {
        at,
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
