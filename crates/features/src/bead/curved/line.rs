//! A line on the plane that may bend and close: a smooth curve through nodes, kept as short straight pieces.

use cloud::{Near, Point};

use crate::bead::sheet::Flat;

/// Fewest nodes.
const FEWEST: usize = 4;
/// Longest piece, mm: on a curve of 50 mm radius its middle lies 0.003 mm off.
const STEP_MM: f64 = 1.0;

/// A line with its length.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::bead) struct Line {
    /// Its places; the last of a closed line is its first.
    points: Vec<Flat>,
    /// How far along each of them lies, mm: from the first node on.
    along_mm: Vec<f64>,
    /// Whether it closes in itself.
    pub closed: bool,
}

impl Line {
    /// The line through `nodes` (Catmull & Rom 1974, in *Computer Aided Geometric Design*, 317-326); one that is not closed goes
    /// on straight by `beyond_mm` at either end. `None` with fewer than four nodes, or where two lie on one another at an end.
    pub fn through(nodes: &[Flat], closed: bool, beyond_mm: f64) -> Option<Self> {
        let count = nodes.len();
        if count < FEWEST {
            return None;
        }
        let ways = [nodes[0] - nodes[1], nodes[count - 1] - nodes[count - 2]];
        let outward = [ways[0].try_normalize(1e-9)?, ways[1].try_normalize(1e-9)?];
        let node = |k: usize, off: isize| match k.checked_add_signed(off) {
            _ if closed => nodes[(k as isize + off).rem_euclid(count as isize) as usize],
            Some(at) if at < count => nodes[at],
            Some(_) => nodes[count - 1] + ways[1],
            None => nodes[0] + ways[0],
        };
        let beyond = if closed {
            0
        } else {
            (beyond_mm / STEP_MM).ceil() as usize
        };
        let mut points: Vec<Flat> = (1..=beyond)
            .rev()
            .map(|k| nodes[0] + outward[0] * (k as f64 * STEP_MM))
            .collect();
        let spans = if closed { count } else { count - 1 };
        for k in 0..spans {
            let around = [node(k, -1), node(k, 0), node(k, 1), node(k, 2)];
            let pieces = ((around[2] - around[1]).norm() / STEP_MM).ceil().max(1.0) as usize;
            points.extend((0..pieces).map(|i| between(&around, i as f64 / pieces as f64)));
        }
        if closed {
            points.push(nodes[0]);
        } else {
            points.extend((0..=beyond).map(|k| nodes[count - 1] + outward[1] * (k as f64 * STEP_MM)));
        }
        let mut way = 0.0;
        let mut along_mm = vec![0.0];
        for pair in points.windows(2) {
            way += (pair[1] - pair[0]).norm();
            along_mm.push(way);
        }
        let first = along_mm[beyond];
        along_mm.iter_mut().for_each(|along| *along -= first);
        Some(Self {
            points,
            along_mm,
            closed,
        })
    }

    /// How far it is once round a closed line, mm.
    pub fn round_mm(&self) -> f64 {
        self.along_mm.last().copied().unwrap_or(0.0)
    }

    /// The place so far along, and the direction of the line there.
    pub fn at(&self, along_mm: f64) -> (Flat, Flat) {
        let along = if self.closed {
            along_mm.rem_euclid(self.round_mm().max(f64::MIN_POSITIVE))
        } else {
            along_mm
        };
        let next = self
            .along_mm
            .partition_point(|s| *s <= along)
            .clamp(1, self.points.len() - 1);
        let way = self.points[next] - self.points[next - 1];
        let length = way.norm().max(f64::MIN_POSITIVE);
        let share = (along - self.along_mm[next - 1]) / length;
        (self.points[next - 1] + way * share, way / length)
    }

    /// The place so far along and across (above 0 to the left of its direction).
    pub fn beside(&self, along_mm: f64, across_mm: f64) -> Flat {
        let (at, way) = self.at(along_mm);
        at + Flat::new(-way.y, way.x) * across_mm
    }

    /// How much it turns over `over_mm` about a place, rad; above 0 to the left.
    pub fn turns(&self, along_mm: f64, over_mm: f64) -> f64 {
        let from = self.at(along_mm - over_mm / 2.0).1;
        let to = self.at(along_mm + over_mm / 2.0).1;
        from.perp(&to).atan2(from.dot(&to))
    }

    /// How far apart two places along lie, mm: the shorter way round where it is closed.
    pub fn apart_mm(&self, a_mm: f64, b_mm: f64) -> f64 {
        let way = (a_mm - b_mm).abs();
        if self.closed {
            way.min((self.round_mm() - way).abs())
        } else {
            way
        }
    }

    /// How far from a place the part of it between two places along passes, mm.
    pub fn passes_mm(&self, at: &Flat, range_mm: [f64; 2]) -> f64 {
        self.points
            .iter()
            .zip(&self.along_mm)
            .filter(|(_, along)| (range_mm[0]..=range_mm[1]).contains(*along))
            .map(|(p, _)| (p - at).norm())
            .fold(f64::INFINITY, f64::min)
    }

    /// What lays places along it.
    pub fn ruler(&self) -> Ruler<'_> {
        let plan: Vec<Point> = self.points.iter().map(|p| Point::new(p.x, p.y, 0.0)).collect();
        Ruler {
            line: self,
            near: Near::new(&plan),
        }
    }

    /// The way from the piece number `k` to a place: how long it is, from how far along, and how far across, mm.
    fn off_piece(&self, k: usize, at: &Flat) -> (f64, f64, f64) {
        let way = self.points[k + 1] - self.points[k];
        let d = at - self.points[k];
        let share = (d.dot(&way) / way.norm_squared().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
        let off = (d - way * share).norm();
        let along = self.along_mm[k] + share * (self.along_mm[k + 1] - self.along_mm[k]);
        (off, along, off * way.perp(&d).signum())
    }
}

/// Lays places along a line.
pub(in crate::bead) struct Ruler<'a> {
    line: &'a Line,
    near: Near,
}

impl Ruler<'_> {
    /// A place as (along, across) by its nearest place on the line, mm; above 0 across to the left.
    pub fn laid(&self, at: &Flat) -> Option<(f64, f64)> {
        let nearest = self.near.nearest(&Point::new(at.x, at.y, 0.0))?.index as usize;
        let pieces = self.line.points.len() - 1;
        let before = match nearest.checked_sub(1) {
            Some(before) => before,
            None if self.line.closed => pieces - 1,
            None => 0,
        };
        let after = match nearest {
            last if last == pieces && self.line.closed => 0,
            last if last == pieces => pieces - 1,
            inside => inside,
        };
        let (a, b) = (self.line.off_piece(before, at), self.line.off_piece(after, at));
        let (_, along, across) = if a.0 < b.0 { a } else { b };
        Some((along, across))
    }
}

/// Between the second and the third of four nodes, at a share of the way.
fn between([a, b, c, d]: &[Flat; 4], t: f64) -> Flat {
    let bend = a * 2.0 - b * 5.0 + c * 4.0 - d;
    let twist = (b - c) * 3.0 + d - a;
    b + ((c - a) * t + bend * (t * t) + twist * (t * t * t)) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn circle(count: usize) -> Vec<Flat> {
        (0..count)
            .map(|k| TAU * k as f64 / count as f64)
            .map(|turn| Flat::new(50.0 * turn.cos(), 50.0 * turn.sin()))
            .collect()
    }

    #[test]
    fn a_circle_is_as_long_as_it_is_and_lays_places_by_their_radius() {
        let line = Line::through(&circle(24), true, 0.0).unwrap();
        assert!((line.round_mm() - TAU * 50.0).abs() < 0.05, "{}", line.round_mm());
        let ruler = line.ruler();
        for k in 0..100 {
            let turn = 0.02 + 0.0625 * f64::from(k);
            let radius = 20.0 + 0.7 * f64::from(k);
            let (along, across) = ruler.laid(&(Flat::new(turn.cos(), turn.sin()) * radius)).unwrap();
            // Inside is to the left.
            assert!((across - (50.0 - radius)).abs() < 0.02, "{across} {radius}");
            assert!(
                line.apart_mm(along, 50.0 * turn) < 0.6 + 0.02 * radius,
                "{along} {turn}"
            );
        }
        assert!((line.turns(10.0, 25.0) - 0.5).abs() < 0.03);
    }

    #[test]
    fn an_open_line_goes_on_straight_at_its_ends() {
        let nodes: Vec<Flat> = (0..5).map(|k| Flat::new(10.0 * f64::from(k), 0.0)).collect();
        let line = Line::through(&nodes, false, 30.0).unwrap();
        let ruler = line.ruler();
        for (at, expected) in [
            (Flat::new(-25.0, 3.0), (-25.0, 3.0)),
            (Flat::new(17.3, -4.0), (17.3, -4.0)),
            (Flat::new(66.0, 1.0), (66.0, 1.0)),
        ] {
            let (along, across) = ruler.laid(&at).unwrap();
            assert!((along - expected.0).abs() < 1e-9 && (across - expected.1).abs() < 1e-9);
        }
        assert!((line.beside(35.0, 2.0) - Flat::new(35.0, 2.0)).norm() < 1e-9);
        assert_eq!(line.turns(20.0, 10.0), 0.0);
        assert!(Line::through(&nodes[..3], false, 30.0).is_none());
    }
}
