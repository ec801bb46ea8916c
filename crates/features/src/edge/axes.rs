//! The runs of an edge: half an inch to an inch each, with directions to read along.

use cloud::{Matrix3, Point, Vector};

use super::line::Line;
use super::pieces::Piece;

/// A run is as long as twelve points at the coarser spacing want it, within these, mm.
const POINTS: f64 = 12.0;
const SHORTEST_MM: f64 = 12.7;
const LONGEST_MM: f64 = 25.4;
/// Pieces shorter than this are not read, mm.
const LEAST_MM: f64 = 9.5;
/// What a corner of random points cuts off, in steps.
const CORNER: f64 = 1.5;
/// An edge that bows by less than this over a run's neighbourhood is straight, in steps: of edges that are, chance bows
/// one in a hundred by more.
const BOW: f64 = 0.7;
/// How far a run's neighbourhood reaches past its ends for its directions, in lengths of the run: the outermost points of
/// the run alone would turn the directions to suit themselves, and the other set would seem long.
const PAST: f64 = 1.5;

/// A run's place and directions, in the body's frame.
pub(super) struct Axes {
    /// Its middle, on the line of the edge, mm.
    pub middle: Point,
    /// Unit, along the edge.
    pub along: Vector,
    /// Unit, off the metal.
    pub outward: Vector,
    /// Unit, off the surface.
    pub normal: Vector,
    /// mm.
    pub length_mm: f64,
    /// How the edge bends within the surface, 1/mm; positive to the outside.
    bend_per_mm: f64,
    /// Whether the edge about it bends by no more than the points' own scatter.
    pub straight: bool,
    /// Whether the metal may end at its first, its last end.
    pub loose: [bool; 2],
}

impl Axes {
    /// Where a place lies: along the run, outward of the bent line, and off the surface, mm.
    pub fn coordinates(&self, place: &Point) -> [f64; 3] {
        let d = place - self.middle;
        let along = d.dot(&self.along);
        [
            along,
            d.dot(&self.outward) - self.bow_mm(along),
            d.dot(&self.normal),
        ]
    }

    /// Where a place lies along the run and outward of the straight line through its middle, mm.
    pub fn level(&self, place: &Point) -> (f64, f64) {
        let d = place - self.middle;
        (d.dot(&self.along), d.dot(&self.outward))
    }

    /// The place on the surface at `along_mm` along the run and `out_mm` outward of its bent line.
    pub fn place(&self, along_mm: f64, out_mm: f64) -> Point {
        self.middle + self.along * along_mm + self.outward * (out_mm + self.bow_mm(along_mm))
    }

    /// How far out the bent line lies, mm; nothing in the mean over the run.
    fn bow_mm(&self, along_mm: f64) -> f64 {
        self.bend_per_mm / 2.0 * (along_mm * along_mm - self.length_mm * self.length_mm / 12.0)
    }
}

/// The runs of a piece in order: as many of one length as fit. `step_mm` is that of the edge's places, `spacing_mm` that of
/// the coarser set. None where the piece is too short.
pub(super) fn runs(piece: &Piece, step_mm: f64, spacing_mm: f64) -> Vec<Axes> {
    let line = Line::new(&piece.at, piece.closed);
    if line.length_mm < LEAST_MM {
        return Vec::new();
    }
    let cut = if piece.closed {
        0.0
    } else {
        (CORNER * step_mm).min(line.length_mm / 6.0)
    };
    let whole = line.length_mm - 2.0 * cut;
    let wanted = (POINTS * spacing_mm).clamp(SHORTEST_MM, LONGEST_MM);
    let count = (whole / wanted).round().max((whole / LONGEST_MM).ceil());
    let count = count.min((whole / SHORTEST_MM).floor()).max(1.0);
    let length = whole / count;
    let count = count as usize;
    let limits = if piece.closed {
        [f64::NEG_INFINITY, f64::INFINITY]
    } else {
        [cut, cut + whole]
    };
    (0..count)
        .filter_map(|k| {
            let from = cut + k as f64 * length;
            let mut axes = run(piece, &line, [from, length], limits, step_mm)?;
            axes.loose = [!piece.closed && k == 0, !piece.closed && k + 1 == count];
            Some(axes)
        })
        .collect()
}

/// One run that begins at `from` along the line; its directions are taken within `limits`.
fn run(piece: &Piece, line: &Line, [from, length]: [f64; 2], limits: [f64; 2], step_mm: f64) -> Option<Axes> {
    let middle = from + length / 2.0;
    let low = (from - PAST * length).max(limits[0]);
    let high = (from + (1.0 + PAST) * length).min(limits[1]);
    // A bend shows over two lengths; less is the points' own.
    let bent = high - low >= 1.999 * length;
    let (at, along, bend) = fitted(line, low, high, middle, bent)?;
    let along = along.try_normalize(1e-9)?;
    let (mut outward, mut normal) = (Vector::zeros(), Vector::zeros());
    for k in 0..9 {
        let (before, after, share) = line.between(from + length * (f64::from(k) + 0.5) / 9.0);
        let mixed = |of: &[Vector]| of[before] * (1.0 - share) + of[after] * share;
        outward += mixed(&piece.outward);
        let next = mixed(&piece.normal);
        normal += if next.dot(&normal) < 0.0 { -next } else { next };
    }
    let normal = (normal - along * normal.dot(&along)).try_normalize(1e-9)?;
    let outward =
        (outward - along * outward.dot(&along) - normal * outward.dot(&normal)).try_normalize(1e-9)?;
    let bend_per_mm = bend.dot(&outward);
    let reach = (high - middle).max(middle - low);
    Some(Axes {
        // The line is read at its mean over the run.
        middle: at + outward * (bend_per_mm * length * length / 24.0),
        along,
        outward,
        normal,
        length_mm: length,
        bend_per_mm,
        straight: bend_per_mm.abs() / 2.0 * reach * reach <= BOW * step_mm,
        loose: [false; 2],
    })
}

/// The line's place, direction and bend (second derivative) at `middle` along it: the parabola of least squares between
/// `low` and `high`, or the straight line.
fn fitted(line: &Line, low: f64, high: f64, middle: f64, bent: bool) -> Option<(Point, Vector, Vector)> {
    const SAMPLES: u32 = 27;
    let half = (high - middle).max(middle - low);
    let origin = line.place(middle);
    let (mut matrix, mut right) = (Matrix3::zeros(), Matrix3::zeros());
    for k in 0..SAMPLES {
        let mm = low + (high - low) * (f64::from(k) + 0.5) / f64::from(SAMPLES);
        let share = (mm - middle) / half;
        let row = Vector::new(1.0, share, if bent { share * share } else { 0.0 });
        matrix += row * row.transpose();
        right += row * (line.place(mm) - origin).transpose();
    }
    if !bent {
        matrix[(2, 2)] = 1.0;
    }
    let solution = matrix.cholesky()?.solve(&right);
    let row = |k: usize| solution.row(k).transpose();
    Some((origin + row(0), row(1) / half, row(2) * (2.0 / (half * half))))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(at: Vec<Point>, closed: bool, outward: impl Fn(&Point) -> Vector) -> Piece {
        Piece {
            name: None,
            outward: at.iter().map(outward).collect(),
            normal: vec![Vector::z(); at.len()],
            at,
            closed,
        }
    }

    #[test]
    fn a_straight_piece_is_shared_out_evenly_and_its_ends_are_loose() {
        let at: Vec<Point> = (0..=100).map(|i| Point::new(f64::from(i), 3.0, 1.0)).collect();
        let runs = runs(&piece(at, false, |_| Vector::new(0.3, 1.0, 0.1)), 1.0, 1.0);
        assert_eq!(runs.len(), 7);
        for axes in &runs {
            assert!((axes.length_mm - 97.0 / 7.0).abs() < 1e-9);
            assert!((axes.outward - Vector::y()).norm() < 1e-9 && axes.bend_per_mm.abs() < 1e-9);
            assert!(axes.straight);
        }
        assert_eq!(runs[0].loose, [true, false]);
        assert_eq!(runs[6].loose, [false, true]);
        let [along, out, off] = runs[0].coordinates(&Point::new(1.5, 5.0, 0.0));
        assert!((along + runs[0].length_mm / 2.0).abs() < 1e-9);
        assert!((out - 2.0).abs() < 1e-9 && (off + 1.0).abs() < 1e-9);
    }

    /// On a circle of 75 mm radius every run bends by 1/75 to the inside, and the circle lies at nothing all along it.
    #[test]
    fn a_round_edge_is_read_along_its_bend() {
        let circle = (0..300).map(|i| {
            let a = f64::from(i) * std::f64::consts::TAU / 300.0;
            Point::new(75.0 * a.cos(), 75.0 * a.sin(), 0.0)
        });
        let runs = runs(&piece(circle.collect(), true, |p| p.coords.normalize()), 1.5, 1.5);
        assert_eq!(runs.len(), 26);
        for axes in &runs {
            assert!(
                (axes.bend_per_mm * 75.0 + 1.0).abs() < 0.1,
                "{}",
                axes.bend_per_mm
            );
            assert_eq!(axes.loose, [false; 2]);
            assert!(!axes.straight);
            let [_, out, _] = axes.coordinates(&Point::from(axes.middle.coords.normalize() * 75.0));
            assert!(out.abs() < 0.1, "{out}");
        }
    }
}
