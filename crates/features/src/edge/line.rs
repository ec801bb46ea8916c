//! A line of places, open or closed, walked by its length.

use cloud::{Point, Vector};

/// The places and how far along each of them lies.
pub(super) struct Line<'a> {
    at: &'a [Point],
    /// Length from the first place to each, mm.
    pub from_first_mm: Vec<f64>,
    /// The whole length, mm; a closed line's goes back to its first place.
    pub length_mm: f64,
    /// Whether the first place follows the last.
    pub closed: bool,
}

impl<'a> Line<'a> {
    pub fn new(at: &'a [Point], closed: bool) -> Self {
        let mut from_first_mm = Vec::with_capacity(at.len());
        let mut length_mm = 0.0;
        for (i, place) in at.iter().enumerate() {
            if i > 0 {
                length_mm += (place - at[i - 1]).norm();
            }
            from_first_mm.push(length_mm);
        }
        if let (true, Some(first), Some(last)) = (closed, at.first(), at.last()) {
            length_mm += (first - last).norm();
        }
        Self {
            at,
            from_first_mm,
            length_mm,
            closed,
        }
    }

    /// The places from `back_mm` before place `i` to `forth_mm` after it, in order, each with its distance along the line
    /// (negative before), mm.
    pub fn around(&self, i: usize, back_mm: f64, forth_mm: f64) -> Vec<(f64, usize)> {
        let n = self.at.len();
        let here = self.from_first_mm[i];
        let mut found = Vec::new();
        for k in 1..n {
            let (j, rounds) = match i.checked_sub(k) {
                Some(j) => (j, 0.0),
                None if self.closed => (i + n - k, 1.0),
                None => break,
            };
            let off = self.from_first_mm[j] - here - rounds * self.length_mm;
            if -off > back_mm {
                break;
            }
            found.push((off, j));
        }
        found.reverse();
        found.push((0.0, i));
        for k in 1..n {
            let (j, rounds) = match i + k {
                j if j < n => (j, 0.0),
                j if self.closed => (j - n, 1.0),
                _ => break,
            };
            let off = self.from_first_mm[j] - here + rounds * self.length_mm;
            if off > forth_mm {
                break;
            }
            found.push((off, j));
        }
        found
    }

    /// The unit direction of the least-squares line through `places`, as [`Self::around`] gives them; `None` with fewer
    /// than three or without extent.
    pub fn direction(&self, places: &[(f64, usize)]) -> Option<Vector> {
        if places.len() < 3 {
            return None;
        }
        let middle = places.iter().map(|(off, _)| off).sum::<f64>() / places.len() as f64;
        let origin = self.at[places[0].1];
        places
            .iter()
            .map(|(off, j)| (self.at[*j] - origin) * (off - middle))
            .sum::<Vector>()
            .try_normalize(1e-9)
    }

    /// The places before and after `mm` along the line, and the share of the way from the one to the other; a closed line
    /// is gone round as often as it takes.
    pub fn between(&self, mm: f64) -> (usize, usize, f64) {
        let n = self.at.len();
        let mm = if self.closed {
            mm.rem_euclid(self.length_mm)
        } else {
            mm
        };
        let after = self.from_first_mm.partition_point(|along| *along <= mm);
        let before = after.saturating_sub(1);
        let (after, ends) = match after {
            after if after < n => (after, self.from_first_mm[after]),
            _ if self.closed => (0, self.length_mm),
            _ => (before, self.length_mm),
        };
        let span = ends - self.from_first_mm[before];
        let share = if span > 0.0 {
            ((mm - self.from_first_mm[before]) / span).clamp(0.0, 1.0)
        } else {
            0.0
        };
        (before, after, share)
    }

    /// The place at `mm` along the line.
    pub fn place(&self, mm: f64) -> Point {
        let (before, after, share) = self.between(mm);
        self.at[before] + (self.at[after] - self.at[before]) * share
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The corners of a square of side 10.
    fn square() -> [Point; 4] {
        [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)].map(|(x, y)| Point::new(x, y, 0.0))
    }

    #[test]
    fn a_closed_line_is_walked_past_its_first_place_and_an_open_one_ends() {
        let corners = square();
        let closed = Line::new(&corners, true);
        assert_eq!(closed.length_mm, 40.0);
        assert_eq!(closed.around(0, 15.0, 5.0), [(-10.0, 3), (0.0, 0)]);
        assert_eq!(closed.around(3, 5.0, 25.0), [(0.0, 3), (10.0, 0), (20.0, 1)]);
        for mm in [35.0, -5.0, 75.0] {
            assert!((closed.place(mm) - Point::new(0.0, 5.0, 0.0)).norm() < 1e-12);
        }
        let open = Line::new(&corners, false);
        assert_eq!(open.length_mm, 30.0);
        assert_eq!(open.around(0, 15.0, 5.0), [(0.0, 0)]);
        assert!((open.place(30.0) - corners[3]).norm() < 1e-12);
        assert!((open.place(14.0) - Point::new(10.0, 4.0, 0.0)).norm() < 1e-12);
    }

    #[test]
    fn the_direction_of_a_straight_line_is_its_own() {
        let at: Vec<Point> = (0..5)
            .map(|i| Point::new(3.0 * f64::from(i), 4.0 * f64::from(i), 7.0))
            .collect();
        let line = Line::new(&at, false);
        let found = line.direction(&line.around(2, 99.0, 99.0)).unwrap();
        assert!((found - Vector::new(0.6, 0.8, 0.0)).norm() < 1e-12);
        assert!(line.direction(&[(0.0, 0), (1.0, 1)]).is_none());
    }
}
