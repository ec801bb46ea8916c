//! Five trips of the tub in and out of the jig: three times its datum holes were probed, twice its right cross bar was scanned.

use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::Path;

use cloud::unit::MM_PER_INCH;
use cloud::{Point, Vector};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use super::frame;

/// The datum holes as the job file has them, inches.
const HOLES: [(&str, [f64; 3]); 6] = [
    ("H1", [4.0, -14.0, 20.0]),
    ("H2", [4.0, 14.0, 20.0]),
    ("H3", [46.0, -14.0, 20.0]),
    ("H4", [46.0, 14.0, 20.0]),
    ("H5", [80.0, -15.5, 26.0]),
    ("H6", [80.0, 15.5, 26.0]),
];
/// How well the arm finds the middle of a hole along each axis, inches: 1/128 at the most.
const ARM: f64 = 1.0 / 128.0;
/// Cutting out the right sill let H4 spring up by this, inches; with the new sill in it was home again. The others stayed.
pub const SPRUNG: f64 = 1.0 / 8.0;

/// Writes `pins-trip-4.csv`, `pins-trip-5.csv` and `pins-trip-8.csv`, each in a frame of the arm's own, inches.
pub(super) fn write(folder: &Path) -> io::Result<()> {
    let home = |_: &str| Vector::zeros();
    let sprung = |name: &str| {
        if name == "H4" {
            Vector::z() * SPRUNG
        } else {
            Vector::zeros()
        }
    };
    fs::write(folder.join("sets/pins-trip-4.csv"), pins(400, 0.4, home))?;
    fs::write(folder.join("sets/pins-trip-5.csv"), pins(500, -1.1, sprung))?;
    fs::write(folder.join("sets/pins-trip-8.csv"), pins(800, 2.0, home))
}

fn pins(seed: u64, turn: f64, moved: impl Fn(&str) -> Vector) -> String {
    let pose = frame([0.02, -0.05, turn], [0.0; 3], [900.0, -300.0, 40.0]);
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let mut table = String::from("name,x,y,z,pm\n");
    for (name, at) in &HOLES {
        let off = Vector::from_fn(|_, _| random.random_range(-ARM..ARM));
        let at = (Point::from(*at) + moved(name) + off) * MM_PER_INCH;
        let p = pose.apply(&Point::from(at)) / MM_PER_INCH;
        // Writing to a String can't fail.
        let _ = writeln!(table, "{name},{:.4},{:.4},{:.4},0.0156", p.x, p.y, p.z);
    }
    table
}
