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

/// A deviate of the standard normal distribution (Box & Muller 1958).
fn deviate(random: &mut impl Rng) -> f64 {
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
}
