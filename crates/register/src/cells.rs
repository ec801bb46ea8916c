//! A grid of cells that each know a point near them: what lies where is looked up, not searched for.
//!
//! Trying a thousand poses asks millions of times what lies near, and a guess that is off by half a cell does: the closest
//! point of a cell's middle stands for that of all that falls into it (a distance transform that carries its points,
//! Danielsson 1980, Comput. Graph. Image Process. 14, 227-248; for settings Fitzgibbon 2003, Image Vis. Comput. 21,
//! 1145-1153).

use cloud::{Bounds, Point, Vector};

/// Empty cells around the points at the least, so that rounding toward nothing does no harm.
const EDGE: f64 = 2.0;
/// Cells are made wider rather than be more than this.
const MOST_CELLS: f64 = 2e6;
const NOTHING: u32 = u32::MAX;

/// The cells over a set of points.
pub struct Cells {
    low: Point,
    cell_mm: f64,
    size: [usize; 3],
    nearest: Vec<u32>,
}

impl Cells {
    /// Cells about `cell_mm` wide; each knows the nearest of the points that lie in it or in the cells around it.
    pub fn beside(points: &[Point], cell_mm: f64) -> Self {
        Self::seeded(points, cell_mm, 0.0).0
    }

    /// Cells about `cell_mm` wide; each within `reach_mm` of the points knows a point that is as good as its nearest.
    pub fn within(points: &[Point], cell_mm: f64, reach_mm: f64) -> Self {
        let (mut cells, mut squares) = Self::seeded(points, cell_mm, reach_mm);
        cells.spread(points, &mut squares);
        for (nearest, square) in cells.nearest.iter_mut().zip(&squares) {
            if square.sqrt() > reach_mm + cells.cell_mm {
                *nearest = NOTHING;
            }
        }
        cells
    }

    /// A point that lies about as near to `at` as any; `None` where there is none near.
    #[inline]
    pub fn near(&self, at: &Point) -> Option<usize> {
        let nearest = self.nearest[self.index(self.place(at))?];
        (nearest != NOTHING).then_some(nearest as usize)
    }

    /// The width of a cell, mm.
    pub fn cell_mm(&self) -> f64 {
        self.cell_mm
    }

    /// The cells with what lies in them and beside them, and its squared distance from their middles.
    fn seeded(points: &[Point], cell_mm: f64, margin_mm: f64) -> (Self, Vec<f64>) {
        let (low, extent) =
            Bounds::of(points).map_or((Point::origin(), Vector::zeros()), |b| (b.low, b.size()));
        let volume: f64 = extent.iter().map(|side| side + 2.0 * margin_mm).product();
        let cell_mm = cell_mm.max((volume / MOST_CELLS).cbrt()).max(f64::MIN_POSITIVE);
        let margin_mm = margin_mm.max(EDGE * cell_mm);
        let size = [0, 1, 2].map(|k| ((extent[k] + 2.0 * margin_mm) / cell_mm) as usize + 1);
        let count = size.iter().product();
        let mut cells = Self {
            low: low - Vector::repeat(margin_mm),
            cell_mm,
            size,
            nearest: vec![NOTHING; count],
        };
        let mut squares = vec![f64::INFINITY; count];
        for (i, point) in points.iter().enumerate() {
            let at = cells.place(point);
            for dx in -1..=1 {
                for dy in -1..=1 {
                    for dz in -1..=1 {
                        let cell = [at[0] + dx, at[1] + dy, at[2] + dz];
                        let Some(k) = cells.index(cell) else { continue };
                        let square = (point - cells.middle(cell)).norm_squared();
                        if square < squares[k] {
                            squares[k] = square;
                            cells.nearest[k] = i as u32;
                        }
                    }
                }
            }
        }
        (cells, squares)
    }

    /// Hands what each cell knows on to the cells behind it, then to those before it.
    fn spread(&mut self, points: &[Point], squares: &mut [f64]) {
        let around: Vec<[i64; 3]> = (0..27).map(|k| [k / 9 - 1, k / 3 % 3 - 1, k % 3 - 1]).collect();
        let [before, after] = [&around[..13], &around[14..]];
        let count = self.nearest.len();
        for k in 0..count {
            self.take(points, squares, k, before);
        }
        for k in (0..count).rev() {
            self.take(points, squares, k, after);
        }
    }

    /// Lets a cell know the nearest of what the cells `beside` it know.
    fn take(&mut self, points: &[Point], squares: &mut [f64], k: usize, beside: &[[i64; 3]]) {
        let [_, b, c] = self.size;
        let cell = [(k / (b * c)) as i64, (k / c % b) as i64, (k % c) as i64];
        let middle = self.middle(cell);
        for step in beside {
            let Some(other) = self.index([0, 1, 2].map(|axis| cell[axis] + step[axis])) else {
                continue;
            };
            let known = self.nearest[other];
            if known == NOTHING || known == self.nearest[k] {
                continue;
            }
            let square = (points[known as usize] - middle).norm_squared();
            if square < squares[k] {
                squares[k] = square;
                self.nearest[k] = known;
            }
        }
    }

    fn middle(&self, cell: [i64; 3]) -> Point {
        self.low + Vector::from_fn(|axis, _| (cell[axis] as f64 + 0.5) * self.cell_mm)
    }

    /// The cell of a point; whatever lies before the first cell falls into one at the edge, where nothing lies.
    #[inline]
    fn place(&self, point: &Point) -> [i64; 3] {
        let at = (point - self.low) / self.cell_mm;
        [at.x as i64, at.y as i64, at.z as i64]
    }

    #[inline]
    fn index(&self, cell: [i64; 3]) -> Option<usize> {
        let inside = (0..3).all(|k| cell[k] >= 0 && (cell[k] as usize) < self.size[k]);
        inside.then(|| (cell[0] as usize * self.size[1] + cell[1] as usize) * self.size[2] + cell[2] as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wavy sheet of 400 points, 5 mm apart.
    fn sheet() -> Vec<Point> {
        (0..400)
            .map(|i| {
                let (x, y) = (f64::from(i % 20) * 5.0, f64::from(i / 20) * 5.0);
                Point::new(x, y, 10.0 * (x * 0.07).sin() + 0.1 * y)
            })
            .collect()
    }

    fn places() -> impl Iterator<Item = Point> {
        (0..500).map(|i| {
            let t = f64::from(i);
            Point::new(
                50.0 + 80.0 * (t * 0.37).sin(),
                50.0 + 80.0 * (t * 0.91).cos(),
                60.0 * (t * 0.13).sin(),
            )
        })
    }

    #[test]
    fn what_is_looked_up_is_as_near_as_the_nearest_but_for_the_cell() {
        let points = sheet();
        let cells = Cells::within(&points, 2.5, 30.0);
        let diagonal = 3.0_f64.sqrt() * cells.cell_mm();
        let mut found = 0;
        for at in places() {
            let best = points
                .iter()
                .map(|p| (p - at).norm())
                .fold(f64::INFINITY, f64::min);
            match cells.near(&at) {
                Some(i) => {
                    let off = (points[i] - at).norm();
                    assert!(off <= best + 1.05 * diagonal, "{off} for {best}");
                    found += 1;
                }
                None => assert!(best > 30.0 - diagonal, "{best}"),
            }
        }
        assert!(found > 100);
    }

    #[test]
    fn only_what_lies_beside_is_known_beside() {
        let points = sheet();
        let cells = Cells::beside(&points, 5.0);
        for at in places() {
            if let Some(i) = cells.near(&at) {
                assert!((points[i] - at).norm() <= 2.0 * 3.0_f64.sqrt() * 5.0);
            }
        }
        assert!(points.iter().all(|p| cells.near(p).is_some()));
        assert!(Cells::beside(&[], 5.0).near(&Point::origin()).is_none());
        assert!(
            Cells::within(&[], 5.0, 50.0)
                .near(&Point::new(9e9, -9e9, 0.0))
                .is_none()
        );
    }
}
