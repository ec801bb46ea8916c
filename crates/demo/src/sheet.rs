//! A sheet of metal as a map from the plane, and points scattered evenly over it.

use cloud::{Point, Vector};
use rand::{Rng, RngExt};

/// A place on a sheet: where, and which way is out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Inches.
    pub at: Point,
    /// Unit normal.
    pub normal: Vector,
}

/// A sheet: a smooth map from a rectangle of the plane into space (inches), with holes.
pub struct Sheet {
    /// The part that it belongs to.
    pub part: &'static str,
    size: [f64; 2],
    map: Box<dyn Fn(f64, f64) -> Point + Send + Sync>,
    solid: Box<dyn Fn(f64, f64) -> bool + Send + Sync>,
    flipped: bool,
}

impl Sheet {
    /// The sheet `map` over 0..size. The outside is to the side of ∂u × ∂v.
    pub fn new(
        part: &'static str,
        size: [f64; 2],
        map: impl Fn(f64, f64) -> Point + Send + Sync + 'static,
    ) -> Self {
        Self {
            part,
            size,
            map: Box::new(map),
            solid: Box::new(|_, _| true),
            flipped: false,
        }
    }

    /// A flat sheet from a corner along two edges.
    pub fn flat(part: &'static str, corner: [f64; 3], along_u: [f64; 3], along_v: [f64; 3]) -> Self {
        let (corner, u, v) = (Point::from(corner), Vector::from(along_u), Vector::from(along_v));
        let (lu, lv) = (u.norm(), v.norm());
        Self::new(part, [lu, lv], move |a, b| corner + u * (a / lu) + v * (b / lv))
    }

    /// The other side out.
    pub fn flipped(mut self) -> Self {
        self.flipped = !self.flipped;
        self
    }

    /// Metal only where `solid` says so, asked at places in inches.
    pub fn only(mut self, solid: impl Fn(&Point) -> bool + Send + Sync + 'static) -> Self {
        let map = std::mem::replace(&mut self.map, Box::new(|_, _| Point::origin()));
        let map = std::sync::Arc::new(map);
        let asked = map.clone();
        self.map = Box::new(move |u, v| map(u, v));
        let before = std::mem::replace(&mut self.solid, Box::new(|_, _| true));
        self.solid = Box::new(move |u, v| before(u, v) && solid(&asked(u, v)));
        self
    }

    /// With round holes: centre and diameter in inches, told from places in space.
    pub fn holes(self, holes: Vec<([f64; 3], f64)>) -> Self {
        self.only(move |p| {
            holes
                .iter()
                .all(|(centre, diameter)| (p - Point::from(*centre)).norm() > diameter / 2.0)
        })
    }

    fn tangents(&self, u: f64, v: f64) -> (Vector, Vector) {
        let h = 1e-4;
        (
            ((self.map)(u + h, v) - (self.map)(u - h, v)) / (2.0 * h),
            ((self.map)(u, v + h) - (self.map)(u, v - h)) / (2.0 * h),
        )
    }

    /// Scatters points about `spacing` inches apart: as many to each cell of a grid as its area asks for.
    pub fn scatter(&self, spacing: f64, random: &mut impl Rng, out: &mut Vec<(Place, &'static str)>) {
        let cells = self.size.map(|s| (s / spacing).ceil().max(1.0));
        let step = [self.size[0] / cells[0], self.size[1] / cells[1]];
        for i in 0..cells[0] as usize {
            for j in 0..cells[1] as usize {
                let middle = [(i as f64 + 0.5) * step[0], (j as f64 + 0.5) * step[1]];
                let (du, dv) = self.tangents(middle[0], middle[1]);
                let wanted = du.cross(&dv).norm() * step[0] * step[1] / (spacing * spacing);
                let count = (wanted + random.random::<f64>()).floor() as usize;
                for _ in 0..count {
                    let u = (i as f64 + random.random::<f64>()) * step[0];
                    let v = (j as f64 + random.random::<f64>()) * step[1];
                    if !(self.solid)(u, v) {
                        continue;
                    }
                    let (du, dv) = self.tangents(u, v);
                    let normal = du.cross(&dv).normalize() * if self.flipped { -1.0 } else { 1.0 };
                    out.push((
                        Place {
                            at: (self.map)(u, v),
                            normal,
                        },
                        self.part,
                    ));
                }
            }
        }
    }
}

/// A smooth hump: 1 at 0, 0 from ±1 on.
pub fn hump(t: f64) -> f64 {
    if t.abs() < 1.0 {
        0.5 * (1.0 + (std::f64::consts::PI * t).cos())
    } else {
        0.0
    }
}

/// A smooth rise from 0 at 0 to 1 at 1.
pub fn rise(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// The depth of a pressed step at the distance `d` inward from its outline (the outline lies at half depth):
/// skin, outer radius, a straight wall at `wall` radians, inner radius, floor. All in inches; the depth is positive.
pub fn pressed(d: f64, depth: f64, wall: f64, outer: f64, inner: f64) -> f64 {
    // The wall runs through (0, depth / 2); each arc is tangent to it and to its flat.
    let slope = wall.tan();
    let arc_run = |r: f64| r * (wall / 2.0).tan();
    let corner_outer = -depth / 2.0 / slope;
    let corner_inner = depth / 2.0 / slope;
    let (run_outer, run_inner) = (arc_run(outer), arc_run(inner));
    let wall_share = wall.cos();
    if d <= corner_outer - run_outer {
        0.0
    } else if d < corner_outer + run_outer * wall_share {
        let x = d - (corner_outer - run_outer);
        outer - (outer * outer - x * x).max(0.0).sqrt()
    } else if d <= corner_inner - run_inner * wall_share {
        depth / 2.0 + d * slope
    } else if d < corner_inner + run_inner {
        let x = corner_inner + run_inner - d;
        depth - (inner - (inner * inner - x * x).max(0.0).sqrt())
    } else {
        depth
    }
}

/// Signed distance inward from a rectangle with rounded corners: positive inside.
pub fn inside_rectangle(x: f64, y: f64, low: [f64; 2], high: [f64; 2], corner: f64) -> f64 {
    let half = [
        (high[0] - low[0]) / 2.0 - corner,
        (high[1] - low[1]) / 2.0 - corner,
    ];
    let dx = (x - (low[0] + high[0]) / 2.0).abs() - half[0];
    let dy = (y - (low[1] + high[1]) / 2.0).abs() - half[1];
    let outside = dx.max(0.0).hypot(dy.max(0.0));
    corner - (outside + dx.max(dy).min(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn points_are_as_dense_on_a_slope_as_on_the_flat() {
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(1);
        let mut count = |rise: f64| {
            let mut out = Vec::new();
            Sheet::flat("a", [0.0; 3], [10.0, 0.0, rise], [0.0, 10.0, 0.0]).scatter(
                0.1,
                &mut random,
                &mut out,
            );
            out.len() as f64
        };
        assert!((count(0.0) / 10_000.0 - 1.0).abs() < 0.02);
        assert!((count(10.0) / 14_142.0 - 1.0).abs() < 0.02);
    }

    #[test]
    fn a_pressed_step_is_continuous_and_of_the_right_depth() {
        let profile = |d: f64| pressed(d, 0.375, 1.0, 0.0625, 0.1875);
        assert_eq!(profile(-2.0), 0.0);
        assert_eq!(profile(2.0), 0.375);
        assert!((profile(0.0) - 0.1875).abs() < 1e-12);
        let mut last = 0.0;
        for i in 0..4000 {
            let next = profile(f64::from(i) * 5e-4 - 1.0);
            assert!(next >= last - 1e-12 && next - last < 5e-4 * 1.7);
            last = next;
        }
    }
}
