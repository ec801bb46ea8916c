//! Metal laid flat: the points of one sheet over a plane, with their heights over the sheet without its relief.
//!
//! A region may hold sheets that face apart (a tunnel has a top and two sides); each is laid by itself. The measured metal is
//! laid over the plane of the reference's sheet, so that places on both compare at once.

use cloud::statistics::median;
use cloud::{Body, Frame, Motion, Near, Point, Scan, Surface, Vector};
use nalgebra::Vector2;
use rayon::prelude::*;

use super::base::Base;

/// A place on the plane, mm.
pub(super) type Flat = Vector2<f64>;

/// Fewest points of a sheet.
const FEWEST: usize = 100;
/// Most sheets of a region, and the least share of its points that is one.
const MOST_SHEETS: usize = 6;
const LEAST_SHARE: usize = 10;
/// A point belongs to a sheet when its normal stands within 75° of the sheet's: walls of beads are steep.
const FACES: f64 = 0.2588;
/// Of points within 45° the sheet's own direction is the mean.
const LEADS: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// Share of its cells that must lie on a sheet's base, or it is no sheet.
const LEVEL: f64 = 0.4;
/// Measured metal within this of the reference's base belongs to it, mm (an inch), and so far beside it (half an inch).
const REACH_MM: f64 = 25.4;
const BESIDE_MM: f64 = 12.7;
/// Points at which the spacing is looked at.
const SAMPLES: usize = 1000;
/// A sheet's rim is told on cells this many spacings wide, and no narrower than this, mm: an empty one inside is then rare.
const RIM_SPACINGS: f64 = 2.5;
const RIM_MM: f64 = 6.0;
/// Most rim cells along a side.
const MOST_RIM_CELLS: f64 = 2000.0;

/// How the plane lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lie {
    /// A point of it, mm.
    pub origin: Point,
    /// Its two directions and its normal to the outside, right-handed.
    pub u: Vector,
    pub v: Vector,
    pub up: Vector,
}

impl Lie {
    fn facing(up: Vector, origin: Point) -> Self {
        // Rearward along the sheet where it has such a direction.
        let start = if up.x.abs() < 0.9 {
            Vector::x()
        } else {
            Vector::y()
        };
        let u = (start - up * start.dot(&up)).normalize();
        Self {
            origin,
            u,
            v: up.cross(&u),
            up,
        }
    }

    /// The place of a point on the plane and its height over it, mm.
    pub fn flat(&self, point: &Point) -> (Flat, f64) {
        let d = point - self.origin;
        (Flat::new(d.dot(&self.u), d.dot(&self.v)), d.dot(&self.up))
    }

    /// The point over a place, mm.
    pub fn point(&self, at: &Flat, height_mm: f64) -> Point {
        self.origin + self.direction(at, height_mm)
    }

    /// A direction of the plane that rises by `rise`, in space.
    pub fn direction(&self, d: &Flat, rise: f64) -> Vector {
        self.u * d.x + self.v * d.y + self.up * rise
    }
}

/// One sheet laid flat.
pub(super) struct Sheet {
    /// How its plane lies.
    pub lie: Lie,
    /// Which point of the set each one is.
    pub number: Vec<u32>,
    /// Where it lies on the plane, mm.
    pub flat: Vec<Flat>,
    /// Its height over the base, mm.
    pub height_mm: Vec<f64>,
    /// Whether it lies at the rim of the sheet, where other metal may run up.
    pub rim: Vec<bool>,
    /// The sheet without its relief.
    pub base: Base,
    /// Side of the square that each point has to itself, mm.
    pub spacing_mm: f64,
    /// Standard deviation of the points off the surface, mm.
    pub noise_mm: f64,
    near: Near,
}

impl Sheet {
    fn new(lie: Lie, taken: &[(u32, Point)], noise_mm: f64) -> Option<Self> {
        if taken.len() < FEWEST {
            return None;
        }
        let laid: Vec<(Flat, f64)> = taken.par_iter().map(|(_, p)| lie.flat(p)).collect();
        let flat: Vec<Flat> = laid.iter().map(|(at, _)| *at).collect();
        let rise: Vec<f64> = laid.iter().map(|(_, rise)| *rise).collect();
        let plan: Vec<Point> = flat.iter().map(on_plan).collect();
        let near = Near::new(&plan);
        let spacing_mm = spacing_mm(&plan, &near);
        if spacing_mm <= 0.0 {
            return None;
        }
        let base = Base::under(&flat, &rise, spacing_mm, noise_mm)?;
        if base.level < LEVEL {
            return None;
        }
        let height_mm = laid.par_iter().map(|(at, rise)| rise - base.at(at)).collect();
        Some(Self {
            lie,
            number: taken.iter().map(|(i, _)| *i).collect(),
            height_mm,
            rim: rim(&flat, spacing_mm)?,
            flat,
            base,
            spacing_mm,
            noise_mm,
            near,
        })
    }

    /// How many points it has.
    pub fn len(&self) -> usize {
        self.flat.len()
    }

    /// Calls `visit` with every point within `reach_mm` of a place on the plane.
    pub fn visit_within(&self, at: &Flat, reach_mm: f64, mut visit: impl FnMut(usize)) {
        self.near
            .visit_within(&on_plan(at), reach_mm, |n| visit(n.index as usize));
    }

    /// The point nearest to a place on the plane, within `reach_mm`.
    pub fn nearest(&self, at: &Flat, reach_mm: f64) -> Option<usize> {
        self.near
            .nearest_within(&on_plan(at), reach_mm)
            .map(|n| n.index as usize)
    }

    /// The measured metal over or under this sheet, laid on its plane; the outside is this sheet's. `None` where too little
    /// of it was seen, or it is no sheet.
    pub fn of_measured(
        &self,
        measured: &Surface<Scan>,
        reference_from_measured: &Motion<Scan, Body>,
    ) -> Option<Self> {
        let (points, normals) = (measured.points(), measured.normals());
        let beside = BESIDE_MM.max(2.0 * self.spacing_mm);
        let (low, high) = extent(&self.flat)?;
        let taken: Vec<(u32, Point)> = (0..points.len() as u32)
            .into_par_iter()
            .with_min_len(4096)
            .filter_map(|i| {
                let at = reference_from_measured.apply(&points[i as usize]);
                let (flat, rise) = self.lie.flat(&at);
                let near = (flat - low).min() > -beside
                    && (high - flat).min() > -beside
                    && (rise - self.base.at(&flat)).abs() < REACH_MM
                    && reference_from_measured
                        .turn(&normals[i as usize])
                        .dot(&self.lie.up)
                        .abs()
                        > FACES
                    && self.nearest(&flat, beside).is_some();
                near.then_some((i, at))
            })
            .collect();
        Self::new(self.lie, &taken, measured.noise_mm)
    }
}

/// The sheets among the points `members` of a set, each laid flat with its outside up.
pub(super) fn laid<F: Frame>(surface: &Surface<F>, members: &[u32]) -> Vec<Sheet> {
    let (points, normals) = (surface.points(), surface.normals());
    let enough = FEWEST.max(members.len() / LEAST_SHARE);
    let mut left = members.to_vec();
    let mut sheets = Vec::new();
    for _ in 0..MOST_SHEETS {
        if left.len() < enough {
            break;
        }
        let Some(up) = facing(normals, &left) else {
            break;
        };
        let (taken, rest): (Vec<u32>, Vec<u32>) = left
            .into_iter()
            .partition(|&i| normals[i as usize].dot(&up) > FACES);
        left = rest;
        if taken.len() < enough {
            break;
        }
        let taken: Vec<(u32, Point)> = taken.into_iter().map(|i| (i, points[i as usize])).collect();
        let middle = taken.iter().map(|(_, p)| p.coords).sum::<Vector>() / taken.len() as f64;
        sheets.extend(Sheet::new(
            Lie::facing(up, Point::from(middle)),
            &taken,
            surface.noise_mm,
        ));
    }
    sheets
}

/// The direction that most of the normals share: the best filled of the 26 directions of a cube's faces, edges and corners,
/// then the mean of what is within 45° of it.
fn facing(normals: &[Vector], of: &[u32]) -> Option<Vector> {
    let step = |k: i32| f64::from(k - 1);
    let directions: Vec<Vector> = (0..27)
        .map(|k| Vector::new(step(k % 3), step(k / 3 % 3), step(k / 9)))
        .filter_map(|d| d.try_normalize(0.5))
        .collect();
    let mut counts = vec![0usize; directions.len()];
    let thin = of.len().div_ceil(20_000).max(1);
    for &i in of.iter().step_by(thin) {
        let cosine = |k: usize| directions[k].dot(&normals[i as usize]);
        if let Some(best) = (0..directions.len()).max_by(|&a, &b| cosine(a).total_cmp(&cosine(b))) {
            counts[best] += 1;
        }
    }
    let fullest = (0..counts.len()).rev().max_by_key(|&k| counts[k])?;
    let mut up = directions[fullest];
    for _ in 0..3 {
        let mean: Vector = of
            .iter()
            .map(|&i| normals[i as usize])
            .filter(|n| n.dot(&up) > LEADS)
            .sum();
        up = mean.try_normalize(1e-9)?;
    }
    Some(up)
}

/// The corners of the box around places; `None` where there are none.
pub(super) fn extent(flat: &[Flat]) -> Option<(Flat, Flat)> {
    let first = *flat.first()?;
    Some(
        flat.iter()
            .fold((first, first), |(low, high), p| (low.inf(p), high.sup(p))),
    )
}

fn on_plan(at: &Flat) -> Point {
    Point::new(at.x, at.y, 0.0)
}

/// As in the survey of a set: the sixth neighbour's disc holds six points.
fn spacing_mm(plan: &[Point], near: &Near) -> f64 {
    let thin = plan.len().div_ceil(SAMPLES).max(1);
    let mut all: Vec<f64> = plan
        .iter()
        .step_by(thin)
        .filter_map(|p| near.nearest_n(p, 7).get(6).map(|n| n.squared_mm2))
        .map(|sixth| (std::f64::consts::PI * sixth / 6.0).sqrt())
        .collect();
    median(&mut all)
}

/// Which points lie in cells that border on the emptiness around the sheet; a hole in it is not around it.
fn rim(flat: &[Flat], spacing_mm: f64) -> Option<Vec<bool>> {
    let (low, high) = extent(flat)?;
    let size = high - low;
    let cell_mm = (RIM_SPACINGS * spacing_mm)
        .max(RIM_MM)
        .max(size.max() / MOST_RIM_CELLS);
    // Cells of one width right across, and a row of empty ones on every side.
    let count = size.map(|s| (s / cell_mm).floor().max(1.0));
    let (wide, tall) = (count.x as usize + 2, count.y as usize + 2);
    let cell_of = |p: &Flat| {
        let along =
            |at: f64, size: f64, count: f64| ((at / size * count) as usize).min(count as usize - 1) + 1;
        along(p.y - low.y, size.y, count.y) * wide + along(p.x - low.x, size.x, count.x)
    };
    let around = move |cell: usize| {
        let (x, y) = (cell % wide, cell / wide);
        (y.saturating_sub(1)..(y + 2).min(tall))
            .flat_map(move |b| (x.saturating_sub(1)..(x + 2).min(wide)).map(move |a| b * wide + a))
    };
    let mut full = vec![false; wide * tall];
    for p in flat {
        full[cell_of(p)] = true;
    }
    let mut outside = vec![false; wide * tall];
    outside[0] = true;
    let mut open = vec![0usize];
    while let Some(cell) = open.pop() {
        for next in around(cell) {
            if !full[next] && !outside[next] {
                outside[next] = true;
                open.push(next);
            }
        }
    }
    Some(
        flat.iter()
            .map(|p| around(cell_of(p)).any(|cell| outside[cell]))
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rim_runs_round_the_sheet_and_not_round_a_hole() {
        let flat: Vec<Flat> = (0..10_000)
            .map(|i| Flat::new(f64::from(i % 100) * 2.0, f64::from(i / 100) * 2.0))
            .filter(|p| (p - Flat::new(100.0, 100.0)).norm() > 20.0)
            .collect();
        let rim = rim(&flat, 2.0).unwrap();
        for (p, rim) in flat.iter().zip(rim) {
            let from_edge = p.x.min(p.y).min(198.0 - p.x).min(198.0 - p.y);
            assert!(!rim || from_edge <= 12.0, "{p}");
            assert!(rim || from_edge > 2.0, "{p}");
        }
    }

    #[test]
    fn the_direction_is_the_one_most_share() {
        let lean = Vector::new(0.1, 0.0, 1.0).normalize();
        let normals: Vec<Vector> = (0..300)
            .map(|i| if i % 3 == 0 { Vector::y() } else { lean })
            .collect();
        let all: Vec<u32> = (0..300).collect();
        assert!((facing(&normals, &all).unwrap() - lean).norm() < 1e-9);
    }

    #[test]
    fn a_point_comes_back_from_the_plane() {
        let lie = Lie::facing(Vector::new(0.2, -0.3, 0.9).normalize(), Point::new(1.0, 2.0, 3.0));
        let point = Point::new(-40.0, 12.0, 7.0);
        let (at, height) = lie.flat(&point);
        assert!((lie.point(&at, height) - point).norm() < 1e-12);
        assert!((lie.u.cross(&lie.v) - lie.up).norm() < 1e-12);
    }
}
