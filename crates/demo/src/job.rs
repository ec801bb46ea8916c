//! The demo's job folder: sets, job file, and what was planted.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::Path;

use cloud::{Motion, Point, Vector};

use crate::boot_side::BootSide;
use crate::scan::{Scanned, Scanner};
use crate::sheet::Place;
use crate::tub;

/// One thing that was planted, and where in the results it should be found.
#[derive(Debug, Clone, PartialEq)]
pub struct Planted {
    /// The comparison that should find it.
    pub comparison: &'static str,
    /// In the shop's words.
    pub what: &'static str,
    /// What was planted, inches.
    pub inches: f64,
    /// How far the finding may be off, inches.
    pub band: f64,
    /// Where it stands in the comparison's result.json: keys by `/`, a list entry by `name=…`.
    pub found_at: &'static str,
}

/// A thirty-second, the band that most findings are held to.
const BAND: f64 = 1.0 / 32.0;

/// The comparisons' names.
const FLOOR: &str = "floor on its pads";
const SIDE: &str = "right side repaired";
const PANEL: &str = "bought-in boot side";

/// Everything planted in the demo, in the order of its comparisons.
pub const PLANTED: [Planted; 15] = [
    planted(
        FLOOR,
        "shim up at the front inner pad",
        0.0475,
        "regions/name=right floor/move/pads/name=front inner/shim_mm/2",
    ),
    planted(
        FLOOR,
        "shim up at the front outer pad",
        0.1175,
        "regions/name=right floor/move/pads/name=front outer/shim_mm/2",
    ),
    planted(
        FLOOR,
        "shim up at the rear inner pad",
        0.1425,
        "regions/name=right floor/move/pads/name=rear inner/shim_mm/2",
    ),
    planted(
        FLOOR,
        "shim up at the rear outer pad",
        0.2125,
        "regions/name=right floor/move/pads/name=rear outer/shim_mm/2",
    ),
    planted(
        FLOOR,
        "left floor untouched",
        0.0,
        "regions/name=left floor/mean_mm",
    ),
    planted(
        SIDE,
        "right floor high",
        0.1875,
        "regions/name=right floor/mean_mm",
    ),
    planted(
        SIDE,
        "right outer sill high",
        0.1875,
        "regions/name=right outer sill/move/translation_mm/2",
    ),
    planted(
        SIDE,
        "left floor untouched",
        0.0,
        "regions/name=left floor/mean_mm",
    ),
    planted(
        SIDE,
        "left outer sill untouched",
        0.0,
        "regions/name=left outer sill/mean_mm",
    ),
    planted(
        PANEL,
        "rear fold short",
        7.0 / 32.0,
        "folds/name=rear flange/short_mm",
    ),
    planted(
        PANEL,
        "recess forward",
        -3.0 / 16.0,
        "recesses/name=recess/moved_mm/0",
    ),
    planted(
        PANEL,
        "recess depth",
        5.0 / 16.0,
        "recesses/name=recess/measured/depth_mm",
    ),
    planted(
        PANEL,
        "recess outer radius",
        3.0 / 16.0,
        "recesses/name=recess/measured/outer_radius_mm",
    ),
    planted(
        PANEL,
        "filler hole",
        1.375,
        "holes/name=hole 1/measured_size_mm/diameter",
    ),
    planted(
        PANEL,
        "front flange home",
        0.0,
        "regions/name=front flange/mean_mm",
    ),
];

const fn planted(
    comparison: &'static str,
    what: &'static str,
    inches: f64,
    found_at: &'static str,
) -> Planted {
    Planted {
        comparison,
        what,
        inches,
        band: BAND,
        found_at,
    }
}

/// Writes the demo job into `folder`: `job.toml` and `sets/`.
///
/// # Errors
/// What the system said while writing.
pub fn write(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder.join("sets"))?;
    let tub = tub::sheets();
    let scanner = |seed: u64, turn: [f64; 3], shift: [f64; 3], blind: Vec<([f64; 3], f64)>| Scanner {
        spacing_mm: 4.0,
        noise_mm: 0.1,
        strays: 0.02,
        blind,
        pose: Motion::turn_about(
            Vector::from(turn),
            Point::new(1000.0, 0.0, 600.0),
            Vector::from(shift),
        ),
        seed,
    };
    // As found the scanner could not get under the scuttle; later it missed a corner of the boot.
    let as_found = scanner(11, [0.0; 3], [0.0; 3], vec![([0.0, -20.0, 42.0], 5.0)]).scan(&tub, |_, _| {});
    save(folder, "as-found.ply", &as_found)?;
    let boot_corner = vec![([82.0, 20.0, 30.0], 7.0), ([20.0, 23.0, 21.0], 3.0)];
    let floor_in = scanner(12, [0.4, -0.2, 2.1], [300.0, -1200.0, 150.0], boot_corner.clone()).scan(
        &tub,
        |part, place| {
            if part == "right floor" || part == "right cross bar" {
                let (x, y) = (place.at.x, place.at.y);
                place.at.z += -0.125 - 0.0025 * (x - 26.0) - 0.005 * (y - 14.5);
            }
        },
    );
    save(folder, "floor-on-pads.ply", &floor_in)?;
    let side_up =
        scanner(13, [-0.1, 0.3, -1.2], [-500.0, 900.0, 40.0], boot_corner).scan(&tub, |part, place| {
            if [
                "right floor",
                "right cross bar",
                "right inner sill",
                "right outer sill",
            ]
            .contains(&part)
            {
                place.at.z += 0.1875;
            }
        });
    save(folder, "right-side-welded.ply", &side_up)?;

    let panel_scanner = |seed: u64, turn: [f64; 3], shift: [f64; 3], blind: Vec<([f64; 3], f64)>| Scanner {
        spacing_mm: 1.0,
        noise_mm: 0.04,
        strays: 0.01,
        blind,
        pose: Motion::turn_about(
            Vector::from(turn),
            Point::new(330.0, 0.0, 200.0),
            Vector::from(shift),
        ),
        seed,
    };
    let as_drawn = |_: &str, _: &mut Place| {};
    let good = panel_scanner(21, [0.0; 3], [0.0; 3], Vec::new()).scan(&BootSide::GOOD.sheets(), as_drawn);
    save(folder, "good-boot-side.ply", &good)?;
    let bought = panel_scanner(
        22,
        [1.4, 0.3, -2.2],
        [80.0, -40.0, 700.0],
        vec![([3.0, 0.0, 13.0], 1.2), ([4.6, 0.0, 12.2], 1.0)],
    )
    .scan(&BootSide::BOUGHT_IN.sheets(), as_drawn);
    save(folder, "bought-in-boot-side.ply", &bought)?;
    fs::write(folder.join("job.toml"), JOB)
}

/// Saves a set as a scanner's program would: binary PLY, 32-bit floats would do, doubles are written.
fn save(folder: &Path, name: &str, set: &Scanned) -> io::Result<()> {
    let mut out = BufWriter::new(File::create(folder.join("sets").join(name))?);
    formats::ply::write(
        &mut out,
        &set.points_mm,
        Some(&set.normals),
        &[],
        &[],
        &["invented demo set, in millimetres".to_string()],
    )?;
    out.flush()
}

/// The job file, written as a person would.
pub const JOB: &str = include_str!("job.toml");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_demo_is_written_every_time() {
        let folder = tempfile::tempdir().unwrap();
        let (a, b) = (folder.path().join("a"), folder.path().join("b"));
        write(&a).unwrap();
        write(&b).unwrap();
        let name = "sets/bought-in-boot-side.ply";
        assert_eq!(fs::read(a.join(name)).unwrap(), fs::read(b.join(name)).unwrap());
    }
}
