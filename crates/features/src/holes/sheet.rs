//! The sheet around a hole as it is seen from a plane, and the smooth surface through it.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::statistics::median;
use cloud::survey::tangents;
use cloud::{Frame, Point, Surface, Vector};
use nalgebra::{SMatrix, SVector, Vector2};
use rayon::prelude::*;

/// A point with fewer than this many others within 2½ spacings, where twenty are usual, is dirt.
const FEWEST: usize = 5;
/// Metal of the sheet stands within this many spacings of the plane, and within this share of its distance besides: a hole
/// of 20 mm in a tube of 45 mm radius has its rim up to 1.1 mm off the plane.
const OFF_PLANE: f64 = 2.0;
const OFF_SHARE: f64 = 0.15;
/// Cosine of the angle between a normal of the sheet and the plane's: 60°.
const SAME_WAY: f64 = 0.5;
/// Rounds of weighing and fitting.
const ROUNDS: usize = 5;
/// Half the 95 % band, in standard deviations.
const BAND: f64 = 1.96;
/// Fewest points through which a surface is laid.
const FEWEST_FITTED: usize = 20;

/// A plane with two directions in it.
#[derive(Debug, Clone, Copy)]
pub struct Plane {
    /// Where its two coordinates are nothing, mm.
    pub origin: Point,
    /// Unit directions in it.
    pub sides: [Vector; 2],
    /// Unit normal.
    pub axis: Vector,
}

impl Plane {
    /// Through a point, square to a unit vector.
    pub fn new(origin: Point, axis: Vector) -> Self {
        let (u, v) = tangents(&axis);
        Self {
            origin,
            sides: [u, v],
            axis,
        }
    }

    /// A direction as the plane sees it.
    pub fn flat(&self, direction: &Vector) -> Vector2<f64> {
        Vector2::new(direction.dot(&self.sides[0]), direction.dot(&self.sides[1]))
    }

    /// A direction of the plane in space.
    pub fn raised(&self, flat: &Vector2<f64>) -> Vector {
        self.sides[0] * flat.x + self.sides[1] * flat.y
    }

    /// The place in space, mm.
    pub fn place(&self, flat: &Vector2<f64>) -> Point {
        self.origin + self.raised(flat)
    }

    /// The unit normal of a surface over the plane that rises by `slope`.
    pub fn leaning(&self, slope: &Vector2<f64>) -> Vector {
        (self.axis - self.raised(slope)).normalize()
    }
}

/// A point as the plane sees it.
#[derive(Debug, Clone, Copy)]
pub struct Seen {
    /// In the plane, mm.
    pub flat: Vector2<f64>,
    /// Over the plane, mm.
    pub height: f64,
    /// Which it is.
    pub index: u32,
}

/// A surface, and which of its points are dirt.
pub struct Metal<'a, F> {
    /// The surface.
    pub surface: &'a Surface<F>,
    dirt: Vec<bool>,
}

impl<'a, F: Frame> Metal<'a, F> {
    /// Looks for the dirt: in a hole it must not fill it.
    pub fn of(surface: &'a Surface<F>) -> Self {
        let dirt = surface
            .points()
            .par_iter()
            .with_min_len(512)
            .map(|p| {
                let mut count = 0;
                surface
                    .near
                    .visit_within(p, 2.5 * surface.spacing_mm, |_| count += 1);
                count < FEWEST
            })
            .collect();
        Self { surface, dirt }
    }

    /// Every point within `reach_mm` of a place of the plane, at any height and turned any way, into `found`.
    pub fn all(&self, plane: &Plane, about: &Vector2<f64>, reach_mm: f64, found: &mut Vec<Seen>) {
        found.clear();
        let points = self.surface.points();
        self.surface
            .near
            .visit_within(&plane.place(about), reach_mm, |n| {
                if !self.dirt[n.index as usize] {
                    let d = points[n.index as usize] - plane.origin;
                    found.push(Seen {
                        flat: plane.flat(&d),
                        height: d.dot(&plane.axis),
                        index: n.index,
                    });
                }
            });
    }

    /// The points of the sheet that lies in the plane, within `reach_mm` of a place of it, into `found`.
    pub fn sheet(&self, plane: &Plane, about: &Vector2<f64>, reach_mm: f64, found: &mut Vec<Seen>) {
        self.all(plane, about, reach_mm, found);
        let normals = self.surface.normals();
        let off = OFF_PLANE * self.surface.spacing_mm;
        found.retain(|s| {
            s.height.abs() < off + OFF_SHARE * s.flat.norm()
                && normals[s.index as usize].dot(&plane.axis).abs() > SAME_WAY
        });
    }

    /// Where in the plane the points of the sheet lie.
    pub fn places(&self, plane: &Plane, about: &Vector2<f64>, reach_mm: f64) -> Vec<Vector2<f64>> {
        let mut found = Vec::new();
        self.sheet(plane, about, reach_mm, &mut found);
        found.iter().map(|s| s.flat).collect()
    }
}

/// A surface of the second degree over a plane.
#[derive(Debug, Clone)]
pub struct Ground {
    coefficients: SVector<f64, 6>,
    /// Of the coefficients, mm².
    covariance: SMatrix<f64, 6, 6>,
    reach: f64,
    /// Standard deviation of the points off it, as outliers don't move it, mm.
    pub spread_mm: f64,
}

impl Ground {
    /// Laid through points by least squares with bisquare weights (Beaton & Tukey 1974). `None` below twenty points, or
    /// where they don't hold it.
    pub fn through(points: &[Seen]) -> Option<Self> {
        if points.len() < FEWEST_FITTED {
            return None;
        }
        let reach = points.iter().map(|s| s.flat.amax()).fold(1e-9, f64::max);
        let rows: Vec<SVector<f64, 6>> = points.iter().map(|s| row(&s.flat, reach)).collect();
        let mut weights = vec![1.0; points.len()];
        let (mut coefficients, mut spread_mm) = (SVector::zeros(), 0.0);
        let mut inverse = SMatrix::zeros();
        for _ in 0..ROUNDS {
            let mut matrix = SMatrix::<f64, 6, 6>::zeros();
            let mut right = SVector::<f64, 6>::zeros();
            for ((row, seen), weight) in rows.iter().zip(points).zip(&weights) {
                let weighted = row * *weight;
                matrix += weighted * row.transpose();
                right += weighted * seen.height;
            }
            let factor = matrix.cholesky()?;
            coefficients = factor.solve(&right);
            inverse = factor.inverse();
            let rest: Vec<f64> = rows
                .iter()
                .zip(points)
                .map(|(row, seen)| seen.height - row.dot(&coefficients))
                .collect();
            let mut sizes: Vec<f64> = rest.iter().map(|r| r.abs()).collect();
            spread_mm = 1.4826 * median(&mut sizes);
            for (weight, rest) in weights.iter_mut().zip(&rest) {
                *weight = bisquare(*rest, TUKEY * spread_mm.max(1e-9));
            }
        }
        Some(Self {
            coefficients,
            covariance: inverse * (spread_mm * spread_mm),
            reach,
            spread_mm,
        })
    }

    /// Its height over a place of the plane, mm.
    pub fn height(&self, flat: &Vector2<f64>) -> f64 {
        row(flat, self.reach).dot(&self.coefficients)
    }

    /// How it rises there along the two directions of the plane.
    pub fn slope(&self, flat: &Vector2<f64>) -> Vector2<f64> {
        let c = &self.coefficients;
        let (x, y) = (flat.x / self.reach, flat.y / self.reach);
        Vector2::new(c[1] + 2.0 * c[3] * x + c[4] * y, c[2] + c[4] * x + 2.0 * c[5] * y) / self.reach
    }

    /// ± of its slope there (half the 95 % band) in the direction that is known worst, rad where the slope is small.
    pub fn slope_pm(&self, flat: &Vector2<f64>) -> f64 {
        let (x, y) = (flat.x / self.reach, flat.y / self.reach);
        let along = SVector::<f64, 6>::from([0.0, 1.0, 0.0, 2.0 * x, y, 0.0]) / self.reach;
        let across = SVector::<f64, 6>::from([0.0, 0.0, 1.0, 0.0, x, 2.0 * y]) / self.reach;
        let of = |a: &SVector<f64, 6>, b: &SVector<f64, 6>| a.dot(&(self.covariance * b));
        let (xx, xy, yy) = (of(&along, &along), of(&along, &across), of(&across, &across));
        // The larger eigenvalue of the two by two.
        BAND * ((xx + yy) / 2.0 + ((xx - yy) / 2.0).hypot(xy)).sqrt()
    }

    /// ± of its mean height over some places of the plane (half the 95 % band), mm.
    pub fn height_pm_mm(&self, places: &[Vector2<f64>]) -> f64 {
        let rows: SVector<f64, 6> = places.iter().map(|place| row(place, self.reach)).sum();
        let mean = rows / places.len() as f64;
        BAND * mean.dot(&(self.covariance * mean)).sqrt()
    }
}

/// One equation of the fit; the reach keeps its numbers near one.
fn row(flat: &Vector2<f64>, reach: f64) -> SVector<f64, 6> {
    let (x, y) = (flat.x / reach, flat.y / reach);
    SVector::<f64, 6>::from([1.0, x, y, x * x, x * y, y * y])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    #[test]
    fn the_ground_is_that_of_most_points() {
        let truth = |x: f64, y: f64| 0.3 + 0.1 * x - 0.05 * y + 0.01 * x * x - 0.02 * x * y;
        let points: Vec<Seen> = (0..300u32)
            .map(|i| {
                let k = u64::from(4 * i);
                let (x, y) = (20.0 * uniform(k), 20.0 * uniform(k + 1));
                // Every tenth is of something else.
                let off = if i % 10 == 0 { 4.0 } else { 0.0 };
                Seen {
                    flat: Vector2::new(x, y),
                    height: truth(x, y) + off,
                    index: i,
                }
            })
            .collect();
        let ground = Ground::through(&points).unwrap();
        let at = Vector2::new(7.0, 11.0);
        assert!((ground.height(&at) - truth(7.0, 11.0)).abs() < 1e-6);
        let slope = ground.slope(&at);
        assert!((slope.x - (0.1 + 0.14 - 0.22)).abs() < 1e-6, "{slope}");
        assert!((slope.y - (-0.05 - 0.14)).abs() < 1e-6, "{slope}");
        assert!(Ground::through(&points[..19]).is_none());
    }

    // Even noise of ±h has the standard deviation h/√3; over many points at random about the middle the slope of a plane
    // is known to σ / (√n · root mean square of x), and no worse for the second degree that is even in x.
    #[test]
    fn the_slope_and_the_height_lie_within_their_pm() {
        let middle = Vector2::zeros();
        let (mut slopes, mut heights, mut stated) = (0, 0, Vec::new());
        for seed in 0..60u64 {
            let points: Vec<Seen> = (0..200u32)
                .map(|i| {
                    let k = 3 * (u64::from(i) + 1000 * seed);
                    let flat = Vector2::new(20.0 * uniform(k) - 10.0, 20.0 * uniform(k + 1) - 10.0);
                    let height = 0.1 * flat.x + 0.6 * (uniform(k + 2) - 0.5);
                    Seen {
                        flat,
                        height,
                        index: i,
                    }
                })
                .collect();
            let ground = Ground::through(&points).unwrap();
            let pm = ground.slope_pm(&middle);
            slopes += usize::from((ground.slope(&middle).x - 0.1).abs() <= pm);
            heights += usize::from(ground.height(&middle).abs() <= ground.height_pm_mm(&[middle]));
            stated.push(pm);
        }
        assert!(slopes >= 53 && heights >= 53, "{slopes} and {heights} of 60");
        let closed = BAND * 0.3 / 3f64.sqrt() / (200f64.sqrt() * 10.0 / 3f64.sqrt());
        let mean = stated.iter().sum::<f64>() / stated.len() as f64;
        assert!((0.8..2.0).contains(&(mean / closed)), "{}", mean / closed);
    }

    #[test]
    fn the_plane_gives_places_back() {
        let plane = Plane::new(Point::new(1.0, 2.0, 3.0), Vector::new(0.3, -0.4, 0.5).normalize());
        let flat = Vector2::new(4.0, -7.0);
        let back = plane.flat(&(plane.place(&flat) - plane.origin));
        assert!((back - flat).norm() < 1e-12);
        // A surface that rises along the first side leans back against it.
        let lean = plane.leaning(&Vector2::new(1.0, 0.0));
        assert!((lean.dot(&plane.sides[0]) + 0.5f64.sqrt()).abs() < 1e-12);
    }
}
