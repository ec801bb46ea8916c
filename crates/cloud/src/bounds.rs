//! The box around a set of points.

use crate::{Point, Vector};

/// The smallest axis-parallel box around some points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// The corner with the smallest coordinates.
    pub low: Point,
    /// The corner with the largest coordinates.
    pub high: Point,
}

impl Bounds {
    /// The box around `points`; `None` where there are none. Not-finite coordinates are passed over.
    pub fn of<'a>(points: impl IntoIterator<Item = &'a Point>) -> Option<Self> {
        let mut low = Point::new(f64::INFINITY, f64::INFINITY, f64::INFINITY);
        let mut high = -low;
        for point in points {
            if point.iter().all(|c| c.is_finite()) {
                low = low.inf(point);
                high = high.sup(point);
            }
        }
        (low.x <= high.x).then_some(Self { low, high })
    }

    /// Length, width, height.
    pub fn size(&self) -> Vector {
        self.high - self.low
    }

    /// The length of the diagonal.
    pub fn diagonal(&self) -> f64 {
        self.size().norm()
    }

    /// The middle.
    pub fn centre(&self) -> Point {
        nalgebra::center(&self.low, &self.high)
    }

    /// The eight corners.
    pub fn corners(&self) -> [Point; 8] {
        std::array::from_fn(|i| {
            let pick = |bit: usize, axis: usize| {
                if i >> bit & 1 == 0 {
                    self.low[axis]
                } else {
                    self.high[axis]
                }
            };
            Point::new(pick(0, 0), pick(1, 1), pick(2, 2))
        })
    }

    /// The box with so much more around it on every side, mm.
    pub fn grown(&self, by_mm: f64) -> Self {
        let by = Vector::repeat(by_mm);
        Self {
            low: self.low - by,
            high: self.high + by,
        }
    }

    /// Whether `point` lies in the box or on its faces.
    pub fn contains(&self, point: &Point) -> bool {
        (0..3).all(|axis| self.low[axis] <= point[axis] && point[axis] <= self.high[axis])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_box_passes_over_what_is_not_finite() {
        let points = [
            Point::new(1.0, 2.0, 3.0),
            Point::new(f64::NAN, 0.0, 0.0),
            Point::new(-1.0, 5.0, 3.0),
        ];
        let bounds = Bounds::of(&points).unwrap();
        assert_eq!(bounds.size(), Vector::new(2.0, 3.0, 0.0));
        assert!(Bounds::of(&points[1..2]).is_none());
    }
}
