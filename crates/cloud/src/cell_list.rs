//! Points by the cells of a grid in which they lie: what lies within a cell's width is in the cells around, and needs no
//! search.
//!
//! A tree is asked for one place at a time; where every point of a sheet asks for its surroundings, those of a whole cell
//! are gathered once (fixed-radius near neighbours by cells, Bentley 1975, Stanford STAN-CS-75-513; cell lists, Hockney &
//! Eastwood 1981, Computer Simulation Using Particles, 8-4).

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use rayon::prelude::*;

use crate::curve::place_of_cell;
use crate::{Bounds, Point, Vector};

/// Bits of a cell's number along one axis.
const BITS: u32 = 21;
/// Most cells along the longest side; two empty ones beside them, so that a step over the edge meets no other row.
const MOST: u64 = (1 << BITS) - 4;
/// Cells that one task takes; fixed, so that nothing depends on the number of threads.
const BLOCK: usize = 256;

/// The points of a set, cell after cell along a space-filling curve (Morton 1966).
pub struct CellList {
    cell_mm: f64,
    /// The keys of the cells that hold points.
    keys: Vec<u64>,
    known: HashMap<u64, u32, BuildHasherDefault<Mixed>>,
    /// Where each cell's points begin among the members; one more than there are cells.
    starts: Vec<u32>,
    /// Indices of the points, ascending in each cell.
    members: Vec<u32>,
}

/// A key is hashed by one multiplication: cells are no one's secret.
#[derive(Default)]
struct Mixed(u64);

impl Hasher for Mixed {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(self.0 ^ u64::from(*byte));
        }
    }
    fn write_u64(&mut self, key: u64) {
        let mixed = key.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        self.0 = mixed ^ mixed >> 32;
    }
}

/// Where a cell stands along the curve.
fn along_curve(key: u64) -> u64 {
    place_of_cell([0, 1, 2].map(|axis| key >> (axis * BITS) & ((1 << BITS) - 1)))
}

impl CellList {
    /// The cells of `cell_mm` over `points`, which must be finite; wider where the extent asks for more than 2²¹ of them.
    pub fn new(points: &[Point], cell_mm: f64) -> Self {
        let (low, size) =
            Bounds::of(points).map_or((Point::origin(), Vector::zeros()), |b| (b.low, b.size()));
        let mut list = Self {
            cell_mm: cell_mm.max(size.max() / MOST as f64).max(f64::MIN_POSITIVE),
            keys: Vec::new(),
            known: HashMap::default(),
            starts: vec![0],
            members: vec![0; points.len()],
        };
        let per_mm = 1.0 / list.cell_mm;
        let keys: Vec<u64> = points
            .par_iter()
            .with_min_len(4096)
            .map(|p| {
                let at = (p - low) * per_mm;
                (at.x as u64 + 1) | (at.y as u64 + 1) << BITS | (at.z as u64 + 1) << (2 * BITS)
            })
            .collect();
        let (met, counts) = list.meet(&keys);
        let mut along: Vec<(u64, u32)> = list
            .keys
            .iter()
            .zip(0..)
            .map(|(&key, c)| (along_curve(key), c))
            .collect();
        along.par_sort_unstable();
        let mut rank = vec![0; counts.len()];
        let mut next = vec![0; counts.len()];
        let mut sum = 0;
        for (r, &(_, c)) in (0..).zip(&along) {
            rank[c as usize] = r;
            next[c as usize] = sum;
            sum += counts[c as usize];
            list.starts.push(sum);
        }
        list.keys = along.iter().map(|&(_, c)| list.keys[c as usize]).collect();
        for number in list.known.values_mut() {
            *number = rank[*number as usize];
        }
        for (i, &c) in (0..).zip(&met) {
            let place = &mut next[c as usize];
            list.members[*place as usize] = i;
            *place += 1;
        }
        list
    }

    /// The number of each point's cell in the order in which they are met, and how many points each has.
    fn meet(&mut self, keys: &[u64]) -> (Vec<u32>, Vec<u32>) {
        let mut counts: Vec<u32> = Vec::new();
        let mut last = (u64::MAX, 0);
        let met = keys
            .iter()
            .map(|&key| {
                if key != last.0 {
                    let number = *self.known.entry(key).or_insert_with(|| {
                        self.keys.push(key);
                        counts.push(0);
                        counts.len() as u32 - 1
                    });
                    last = (key, number);
                }
                counts[last.1 as usize] += 1;
                last.1
            })
            .collect();
        (met, counts)
    }

    /// The indices of the points, cell after cell along the curve, ascending in each.
    pub fn cells(&self) -> impl Iterator<Item = &[u32]> {
        (0..self.keys.len()).map(|c| self.members_of(c))
    }

    #[inline]
    fn members_of(&self, cell: usize) -> &[u32] {
        &self.members[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    /// Calls `visit` with the points of a cell and of those around it, cell by cell.
    #[inline]
    fn visit_around(&self, key: u64, mut visit: impl FnMut(&[u32])) {
        let corner = key - 1 - (1 << BITS) - (1 << (2 * BITS));
        for z in 0..3 {
            for y in 0..3 {
                for x in 0..3 {
                    let beside = corner + x + (y << BITS) + (z << (2 * BITS));
                    if let Some(&c) = self.known.get(&beside) {
                        visit(self.members_of(c as usize));
                    }
                }
            }
        }
    }

    /// What `look` makes of the surroundings of every one of `points`, the same of which this was made, within a cell's
    /// width of it.
    pub fn each_around<T: Copy + Send + Sync>(
        &self,
        points: &[Point],
        look: impl Fn(&Around<'_>) -> T + Sync,
    ) -> Vec<T> {
        let blocks: Vec<Vec<T>> = (0..self.keys.len().div_ceil(BLOCK))
            .into_par_iter()
            .map(|block| {
                let mut found = Vec::new();
                let mut gathered = Gathered::default();
                for c in block * BLOCK..((block + 1) * BLOCK).min(self.keys.len()) {
                    gathered.clear();
                    self.visit_around(self.keys[c], |members| gathered.take(points, members));
                    for &i in self.members_of(c) {
                        found.push(look(&gathered.around(&points[i as usize], self.cell_mm)));
                    }
                }
                found
            })
            .collect();
        let in_cells: Vec<T> = blocks.into_iter().flatten().collect();
        let mut place = vec![0u32; points.len()];
        for (k, &i) in self.members.iter().enumerate() {
            place[i as usize] = k as u32;
        }
        place.par_iter().map(|&k| in_cells[k as usize]).collect()
    }
}

/// The points of a cell and of those around it, each coordinate by itself so that several are worked on at once.
#[derive(Default)]
struct Gathered {
    x: Vec<f64>,
    y: Vec<f64>,
    z: Vec<f64>,
    squared_mm2: Vec<f64>,
    /// Which of the gathered lie near the place last looked at.
    close: Vec<u32>,
}

impl Gathered {
    fn clear(&mut self) {
        self.x.clear();
        self.y.clear();
        self.z.clear();
    }

    #[inline]
    fn take(&mut self, points: &[Point], members: &[u32]) {
        for &i in members {
            let point = &points[i as usize];
            self.x.push(point.x);
            self.y.push(point.y);
            self.z.push(point.z);
        }
    }

    /// The squared distances from `at`.
    #[inline]
    fn measure(&mut self, at: &Point) {
        self.squared_mm2.resize(self.x.len(), 0.0);
        let coordinates = self.x.iter().zip(&self.y).zip(&self.z);
        for (squared, ((x, y), z)) in self.squared_mm2.iter_mut().zip(coordinates) {
            let (x, y, z) = (x - at.x, y - at.y, z - at.z);
            *squared = x * x + y * y + z * z;
        }
    }

    #[inline]
    fn around(&mut self, at: &Point, radius_mm: f64) -> Around<'_> {
        self.measure(at);
        self.close.resize(self.x.len(), 0);
        let within = radius_mm * radius_mm;
        // Every place is written and only the count tells: a branch that is taken by chance costs more.
        let mut count = 0;
        for (k, squared) in self.squared_mm2.iter().enumerate() {
            self.close[count] = k as u32;
            count += usize::from(*squared <= within);
        }
        Around {
            at: *at,
            count,
            gathered: self,
        }
    }
}

/// What lies around a point, itself among it.
pub struct Around<'a> {
    /// The point.
    pub at: Point,
    count: usize,
    gathered: &'a Gathered,
}

impl Around<'_> {
    /// How many points there are.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The way from the point to each of them, mm.
    #[inline]
    pub fn offsets(&self) -> impl Iterator<Item = Vector> {
        let all = self.gathered;
        all.close[..self.count].iter().map(move |&k| {
            let k = k as usize;
            Vector::new(all.x[k] - self.at.x, all.y[k] - self.at.y, all.z[k] - self.at.z)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wavy sheet with an upright flange, and one point far away.
    fn sheet() -> Vec<Point> {
        let mut points: Vec<Point> = (0..2000)
            .map(|i| {
                let (x, y) = (f64::from(i % 50) * 1.1, f64::from(i / 50) * 0.9);
                Point::new(x, y, 3.0 * (x * 0.2).sin() + 0.01 * f64::from(i * 7919 % 13))
            })
            .collect();
        points.extend((0..200).map(|i| Point::new(f64::from(i % 50), -1.0, f64::from(i / 50))));
        points.push(Point::new(-900.0, 4000.0, 70.0));
        points
    }

    #[test]
    fn all_within_the_width_are_found_and_no_other() {
        let points = sheet();
        let list = CellList::new(&points, 2.7);
        let found = list.each_around(&points, |around| {
            (
                around.count(),
                around.offsets().map(|d| d.norm()).fold(0.0, f64::max),
            )
        });
        for (point, (count, farthest)) in points.iter().zip(found) {
            let truly = points.iter().filter(|p| (*p - point).norm() <= 2.7).count();
            assert_eq!(count, truly);
            assert!(farthest <= 2.7);
        }
    }

    #[test]
    fn every_point_lies_in_one_cell() {
        let points = sheet();
        let mut seen: Vec<u32> = CellList::new(&points, 5.0).cells().flatten().copied().collect();
        seen.sort_unstable();
        assert!(seen.iter().copied().eq(0..points.len() as u32));
        assert_eq!(CellList::new(&[], 1.0).cells().count(), 0);
    }
}
