//! Points on a plane strung into lines: smoothed by a moving line, then walked from point to point.

use cloud::survey::tangents;
use cloud::{Near, Point, Vector};
use rayon::prelude::*;

use super::{CutPoint, Line, line};

/// The line that smooths runs over this many spacings either way.
const WINDOW: f64 = 2.5;
/// Normals within 37° are of one face, so that a fold is not rounded.
const ONE_FACE: f64 = 0.8;
/// Normals that part by more than 120° are of the other side of the metal.
const OTHER_SIDE: f64 = -0.5;
/// A line breaks where no point follows within this many spacings.
const GAP: f64 = 3.5;
/// What lies within this many spacings of a point of the line is passed with it.
const PASSED: f64 = 0.6;
/// The next point may lie this far behind, as a cosine: at a fold the line turns.
const BEHIND: f64 = -0.2;
/// Lines shorter than this many spacings, or of fewer points, are crumbs.
const SHORTEST: f64 = 3.0;
const FEWEST: usize = 4;

/// The lines through the points `cut` of the plane that faces `facing`; the points are `spacing_mm` apart on their sheet.
pub(super) fn chained(cut: &[CutPoint], facing: &Vector, spacing_mm: f64) -> Vec<Line> {
    let smooth = smoothed(cut, facing, spacing_mm);
    let places: Vec<Point> = smooth.iter().map(|c| c.at).collect();
    let mut walk = Walk {
        near: Near::new(&places),
        taken: vec![false; smooth.len()],
        cut: &smooth,
        facing: *facing,
        spacing_mm,
    };
    let (u, v) = tangents(facing);
    let mut starts: Vec<usize> = (0..smooth.len()).collect();
    let key = |i: usize| (places[i].coords.dot(&u), places[i].coords.dot(&v));
    starts.sort_by(|&a, &b| {
        let ((ua, va), (ub, vb)) = (key(a), key(b));
        ua.total_cmp(&ub).then(va.total_cmp(&vb)).then(a.cmp(&b))
    });
    let mut lines = Vec::new();
    for start in starts {
        if walk.taken[start] {
            continue;
        }
        let ahead = facing.cross(&smooth[start].normal);
        walk.take(start);
        let onward = walk.from(start, ahead);
        let mut order = walk.from(start, -ahead);
        order.reverse();
        order.push(start);
        order.extend(onward);
        let mut points: Vec<Point> = order.iter().map(|&i| places[i]).collect();
        if points.len() < FEWEST {
            continue;
        }
        close(&mut points, GAP * spacing_mm);
        lines.extend(line(points).filter(|l| l.length_mm >= SHORTEST * spacing_mm));
    }
    lines
}

/// Closes a line whose end looks at its beginning within `gap_mm`.
fn close(points: &mut Vec<Point>, gap_mm: f64) {
    let n = points.len();
    let (first, last) = (points[0], points[n - 1]);
    let (ahead, closing) = (last - points[n - 2], first - last);
    let far = points.iter().map(|p| (p - first).norm()).fold(0.0, f64::max);
    if n > 8 && far > 2.0 * gap_mm && closing.norm() <= gap_mm && closing.dot(&ahead) > 0.0 {
        points.push(first);
    }
}

/// Every point moved along its normal onto the line through its neighbours of the same face.
fn smoothed(cut: &[CutPoint], facing: &Vector, spacing_mm: f64) -> Vec<CutPoint> {
    let places: Vec<Point> = cut.iter().map(|c| c.at).collect();
    let near = Near::new(&places);
    let reach_mm = WINDOW * spacing_mm;
    cut.par_iter()
        .with_min_len(256)
        .map(|c| {
            let along = facing.cross(&c.normal);
            let (mut w, mut wx, mut wxx, mut wh, mut wxh) = (0.0f64, 0.0f64, 0.0f64, 0.0f64, 0.0f64);
            near.visit_within(&c.at, reach_mm, |n| {
                let other = &cut[n.index as usize];
                let d = other.at - c.at;
                let (x, height) = (d.dot(&along) / reach_mm, d.dot(&c.normal));
                // A second sheet that lies a spacing off is not averaged with this one.
                if other.normal.dot(&c.normal) > ONE_FACE && height.abs() < spacing_mm {
                    let weight = (1.0 - x * x).max(0.0);
                    w += weight;
                    wx += weight * x;
                    wxx += weight * x * x;
                    wh += weight * height;
                    wxh += weight * x * height;
                }
            });
            // A little stiffness, so that two points close together don't tilt it.
            wxx += 1e-3 * w;
            let determinant = w * wxx - wx * wx;
            let height = if determinant > 1e-9 * w * w {
                (wxx * wh - wx * wxh) / determinant
            } else {
                0.0
            };
            CutPoint {
                at: c.at + c.normal * height,
                normal: c.normal,
            }
        })
        .collect()
}

/// The walk along the points, each taken once.
struct Walk<'a> {
    cut: &'a [CutPoint],
    near: Near,
    taken: Vec<bool>,
    facing: Vector,
    spacing_mm: f64,
}

impl Walk<'_> {
    /// Takes a point, and with it what lies close on the same side of the metal.
    fn take(&mut self, i: usize) {
        let here = self.cut[i];
        self.taken[i] = true;
        let (cut, taken) = (self.cut, &mut self.taken);
        self.near.visit_within(&here.at, PASSED * self.spacing_mm, |n| {
            let k = n.index as usize;
            if cut[k].normal.dot(&here.normal) > OTHER_SIDE {
                taken[k] = true;
            }
        });
    }

    /// The nearest point that is not taken yet, one straight ahead before one beside.
    fn next(&self, i: usize, ahead: &Vector) -> Option<usize> {
        let here = self.cut[i];
        let mut best: Option<(f64, u32)> = None;
        self.near.visit_within(&here.at, GAP * self.spacing_mm, |n| {
            let k = n.index as usize;
            if self.taken[k] || self.cut[k].normal.dot(&here.normal) < OTHER_SIDE {
                return;
            }
            let step = self.cut[k].at - here.at;
            let length = step.norm();
            let cosine = step.dot(ahead) / length.max(1e-12);
            let cost = (length * (2.0 - cosine), n.index);
            if cosine > BEHIND && best.is_none_or(|b| cost < b) {
                best = Some(cost);
            }
        });
        best.map(|(_, k)| k as usize)
    }

    /// The points met from `start` on, without it.
    fn from(&mut self, start: usize, ahead: Vector) -> Vec<usize> {
        let (mut here, mut ahead) = (start, ahead);
        let mut met = Vec::new();
        while let Some(next) = self.next(here, &ahead) {
            self.take(next);
            met.push(next);
            let step = (self.cut[next].at - self.cut[here].at)
                .try_normalize(1e-12)
                .unwrap_or(ahead);
            // The sheet's own direction is steadier than the last step, except where the line turns a fold.
            let along = self.facing.cross(&self.cut[next].normal);
            let with = along.dot(&step);
            ahead = if with.abs() > 0.3 {
                along * with.signum()
            } else {
                step
            };
            here = next;
        }
        met
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square tube of 40 a side as seen along X, its points shuffled: one closed line of four sides.
    #[test]
    fn a_square_tube_closes() {
        let cut: Vec<CutPoint> = (0..160usize)
            .map(|i| (i * 67) % 160)
            .map(|i| {
                let along = (i % 40) as f64 + 0.5;
                let (a, b, normal) = match i / 40 {
                    0 => (along, 0.0, -Vector::z()),
                    1 => (40.0, along, Vector::y()),
                    2 => (40.0 - along, 40.0, Vector::z()),
                    _ => (0.0, 40.0 - along, -Vector::y()),
                };
                CutPoint {
                    at: Point::new(0.0, a, b),
                    normal,
                }
            })
            .collect();
        let lines = chained(&cut, &Vector::x(), 1.0);
        assert_eq!(lines.len(), 1);
        let points = &lines[0].points;
        assert!((points[0] - points[points.len() - 1]).norm() < 1e-12);
        // Each corner is cut from half a step before it to half a step behind it.
        let expected = 4.0 * (39.0 + 0.5f64.sqrt());
        assert!(
            (lines[0].length_mm - expected).abs() < 1e-6,
            "{}",
            lines[0].length_mm
        );
    }

    /// Two sheets back to back, closer than the spacing, stay two lines.
    #[test]
    fn back_to_back_sheets_stay_apart() {
        let cut: Vec<CutPoint> = (0..200usize)
            .map(|i| {
                let top = i % 2 == 0;
                CutPoint {
                    at: Point::new(0.0, (i / 2) as f64, if top { 0.8 } else { 0.0 }),
                    normal: if top { Vector::z() } else { -Vector::z() },
                }
            })
            .collect();
        let lines = chained(&cut, &Vector::x(), 1.0);
        assert_eq!(lines.len(), 2);
        for line in lines {
            assert!((line.length_mm - 99.0).abs() < 1e-6);
            let z = line.points[0].z;
            assert!(line.points.iter().all(|p| (p.z - z).abs() < 1e-9));
        }
    }
}
