//! The invented scanner: scatters points over sheets, adds its noise and its strays, doesn't see everything, and gives
//! everything in a frame of its own.

use cloud::unit::MM_PER_INCH;
use cloud::{Body, Motion, Point, Scan, Vector};
use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use crate::sheet::{Place, Sheet};

/// How the scanner behaves.
#[derive(Debug, Clone)]
pub struct Scanner {
    /// Side of the square that each point has to itself, mm.
    pub spacing_mm: f64,
    /// Standard deviation along the normal, mm.
    pub noise_mm: f64,
    /// Strays, as a share of the points.
    pub strays: f64,
    /// Balls that it doesn't see into: centre and radius, inches.
    pub blind: Vec<([f64; 3], f64)>,
    /// How its frame lies to the body's.
    pub pose: Motion<Body, Scan>,
    /// Seed of all that is random.
    pub seed: u64,
}

/// A scanned set: n points and n normals, mm.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Scanned {
    /// Points in the scanner's frame.
    pub points_mm: Vec<Point>,
    /// Unit normals.
    pub normals: Vec<Vector>,
}

/// Metal that the scanner goes over once more, more slowly.
#[derive(Debug, Clone, Copy)]
pub struct Closer {
    /// Side of the square that each point has to itself there, mm.
    pub spacing_mm: f64,
    /// The parts that it lies in.
    pub parts: &'static [&'static str],
    /// Where on them, asked at places as drawn, inches.
    pub here: fn(&Point) -> bool,
}

/// A deviate of the standard normal distribution (Box & Muller 1958).
pub(crate) fn deviate(random: &mut impl Rng) -> f64 {
    let (u, v): (f64, f64) = (random.random(), random.random());
    (-2.0 * (1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

impl Scanner {
    /// Scans the sheets after `moved` has put each place (inches) of each part where the fault puts it.
    pub fn scan(&self, sheets: &[Sheet], moved: impl Fn(&str, &mut Place)) -> Scanned {
        let mut random = Pcg64Mcg::seed_from_u64(self.seed);
        let mut places = Vec::new();
        for sheet in sheets {
            sheet.scatter(self.spacing_mm / MM_PER_INCH, &mut random, &mut places);
        }
        let mut out = Scanned::default();
        for (mut place, part) in places {
            let blind = self
                .blind
                .iter()
                .any(|(centre, radius)| (place.at - Point::from(*centre)).norm() < *radius);
            if blind {
                continue;
            }
            moved(part, &mut place);
            let noise = self.noise_mm * deviate(&mut random);
            let at = place.at * MM_PER_INCH + place.normal * noise;
            out.points_mm.push(self.pose.apply(&at));
            out.normals.push(self.pose.turn(&place.normal));
        }
        let Some(bounds) = cloud::Bounds::of(&out.points_mm) else {
            return out;
        };
        let strays = (self.strays * out.points_mm.len() as f64) as usize;
        for _ in 0..strays {
            let share = Vector::from_fn(|_, _| random.random::<f64>() * 1.2 - 0.1);
            out.points_mm
                .push(bounds.low + bounds.size().component_mul(&share));
            let normal = Vector::from_fn(|_, _| deviate(&mut random));
            out.normals
                .push(normal.try_normalize(1e-9).unwrap_or_else(Vector::z));
        }
        out
    }

    /// Scans what `drawn` draws, more finely where one of `closer` says so: the first that does has the place, and the
    /// scanner's own spacing what is left. No place is measured twice. Close up it picks up no strays.
    pub fn scan_closer(
        &self,
        closer: &'static [Closer],
        drawn: impl Fn() -> Vec<Sheet>,
        moved: impl Fn(&str, &mut Place),
    ) -> Scanned {
        let mut all = Scanned::default();
        for pass in 0..=closer.len() {
            let its_own = closer.get(pass);
            let sheets: Vec<Sheet> = drawn()
                .into_iter()
                .filter(|sheet| its_own.is_none_or(|c| c.parts.contains(&sheet.part)))
                .map(|sheet| {
                    let part = sheet.part;
                    let first = move |p: &Point| {
                        let has_it = |c: &Closer| c.parts.contains(&part) && (c.here)(p);
                        closer.iter().position(has_it).unwrap_or(closer.len())
                    };
                    sheet.only(move |p| first(p) == pass)
                })
                .collect();
            let scanner = Self {
                spacing_mm: its_own.map_or(self.spacing_mm, |c| c.spacing_mm),
                strays: if its_own.is_some() { 0.0 } else { self.strays },
                seed: self.seed + 100 * pass as u64,
                ..self.clone()
            };
            let scanned = scanner.scan(&sheets, &moved);
            all.points_mm.extend(scanned.points_mm);
            all.normals.extend(scanned.normals);
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLOSER: [Closer; 2] = [
        Closer {
            spacing_mm: 2.0,
            parts: &["plate"],
            here: |p| p.x < 2.0,
        },
        Closer {
            spacing_mm: 3.0,
            parts: &["plate"],
            here: |p| p.x < 5.0,
        },
    ];

    #[test]
    fn each_place_is_measured_once_and_as_finely_as_was_asked() {
        let scanner = Scanner {
            spacing_mm: 6.0,
            noise_mm: 0.0,
            strays: 0.0,
            blind: Vec::new(),
            pose: Motion::identity(),
            seed: 7,
        };
        let drawn = || {
            let plate = |part, z: f64| Sheet::flat(part, [0.0, 0.0, z], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0]);
            vec![plate("plate", 0.0), plate("another", 5.0)]
        };
        let scanned = scanner.scan_closer(&CLOSER, drawn, |_, _| {});
        assert_eq!(scanned.points_mm.len(), scanned.normals.len());
        let spacing = |from: f64, to: f64, z: f64| {
            let inside = scanned
                .points_mm
                .iter()
                .map(|p| p / MM_PER_INCH)
                .filter(|p| (p.z - z).abs() < 1e-9 && (from..to).contains(&p.x));
            ((to - from) * 10.0 / inside.count() as f64).sqrt() * MM_PER_INCH
        };
        for (from, to, z, wanted) in [
            (0.0, 2.0, 0.0, 2.0),
            (2.0, 5.0, 0.0, 3.0),
            (5.0, 10.0, 0.0, 6.0),
            (0.0, 10.0, 5.0, 6.0),
        ] {
            let found = spacing(from, to, z);
            assert!((found / wanted - 1.0).abs() < 0.05, "{found} for {wanted}");
        }
    }
}
