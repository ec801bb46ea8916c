//! Invented sheets for the tests of edges: random points at a known spacing, rough by 0.1 mm.

use crate::made::uniform;
use std::f64::consts::FRAC_PI_2;

use cloud::{Cloud, Frame, Point, Surface, Vector};

/// A surface of places with their normals, each moved along its normal by a noise of 0.1 mm.
fn surface<F: Frame>(places: Vec<(Point, Vector)>, seed: u64) -> Surface<F> {
    let noise = |i: usize| {
        let k = 16 * (i as u64 + seed * 1_000_003) + 4;
        0.1 * ((0..12).map(|j| uniform(k + j)).sum::<f64>() - 6.0)
    };
    let points = places
        .iter()
        .enumerate()
        .map(|(i, (p, normal))| p + normal * noise(i))
        .collect();
    let mut cloud = Cloud::from_points(points);
    cloud.normals = Some(places.into_iter().map(|(_, normal)| normal).collect());
    Surface::new(cloud, None).unwrap().0
}

/// Random places of a rectangle from (0, 0), at a spacing.
fn scattered(wide: f64, high: f64, spacing: f64, seed: u64) -> Vec<(f64, f64)> {
    let count = (wide * high / (spacing * spacing)) as u64;
    (0..count)
        .map(|i| {
            let k = 16 * (i + seed * 1_000_003);
            (wide * uniform(k), high * uniform(k + 1))
        })
        .collect()
}

/// A plate in the plane of x and y, 200 × 100 from the origin, of which only what `keep` says is there.
pub(super) fn plate<F: Frame>(spacing: f64, seed: u64, keep: impl Fn(f64, f64) -> bool) -> Surface<F> {
    let places = scattered(200.0, 100.0, spacing, seed)
        .into_iter()
        .filter(|(x, y)| keep(*x, *y))
        .map(|(x, y)| (Point::new(x, y, 0.0), Vector::z()));
    surface(places.collect(), seed)
}

/// The plate with a round hole about (60, 50).
pub(super) fn holed<F: Frame>(spacing: f64, diameter: f64, seed: u64) -> Surface<F> {
    plate(spacing, seed, |x, y| (x - 60.0).hypot(y - 50.0) > diameter / 2.0)
}

/// The plate with its end at x 200 folded down over a radius, `flange` deep from the top.
pub(super) fn flanged<F: Frame>(spacing: f64, radius: f64, flange: f64, seed: u64) -> Surface<F> {
    let flat = 200.0 - radius;
    let bend = FRAC_PI_2 * radius;
    let places = scattered(flat + bend + flange - radius, 100.0, spacing, seed)
        .into_iter()
        .map(|(along, y)| {
            let past = along - flat;
            if past < 0.0 {
                (Point::new(along, y, 0.0), Vector::z())
            } else if past < bend {
                let normal = Vector::new((past / radius).sin(), 0.0, (past / radius).cos());
                (Point::new(flat, y, -radius) + normal * radius, normal)
            } else {
                (Point::new(200.0, y, -radius - (past - bend)), Vector::x())
            }
        });
    surface(places.collect(), seed)
}

/// The plate with a wall that stands on it at x 100, 60 high.
pub(super) fn standing<F: Frame>(spacing: f64, seed: u64) -> Surface<F> {
    let floor = scattered(200.0, 100.0, spacing, seed)
        .into_iter()
        .map(|(x, y)| (Point::new(x, y, 0.0), Vector::z()));
    let wall = scattered(100.0, 60.0, spacing, seed + 100)
        .into_iter()
        .map(|(y, z)| (Point::new(100.0, y, z), Vector::x()));
    surface(floor.chain(wall).collect(), seed)
}

/// A ball of 40 mm radius.
pub(super) fn ball<F: Frame>(spacing: f64, seed: u64) -> Surface<F> {
    let places = scattered(std::f64::consts::TAU * 40.0, 80.0, spacing, seed)
        .into_iter()
        .map(|(around, high)| {
            let (angle, z) = (around / 40.0, high / 40.0 - 1.0);
            let level = (1.0 - z * z).sqrt();
            let normal = Vector::new(level * angle.cos(), level * angle.sin(), z);
            (Point::from(normal * 40.0), normal)
        });
    surface(places.collect(), seed)
}

/// A plate as a mesh of right triangles on squares of 5 mm, `wide` × 100 from the origin.
pub(super) fn meshed<F: Frame>(wide: f64) -> Surface<F> {
    let (columns, rows) = ((wide / 5.0).ceil() as u32, 20);
    let at = |i: u32, j: u32| Point::new(wide * f64::from(i) / f64::from(columns), 5.0 * f64::from(j), 0.0);
    let mut cloud = Cloud::from_points(
        (0..=rows)
            .flat_map(|j| (0..=columns).map(move |i| (i, j)))
            .map(|(i, j)| at(i, j))
            .collect(),
    );
    let index = |i: u32, j: u32| j * (columns + 1) + i;
    for (i, j) in (0..rows).flat_map(|j| (0..columns).map(move |i| (i, j))) {
        let [a, b, c, d] = [index(i, j), index(i + 1, j), index(i + 1, j + 1), index(i, j + 1)];
        cloud.faces.extend([[a, b, c], [a, c, d]]);
    }
    Surface::new(cloud, None).unwrap().0
}
