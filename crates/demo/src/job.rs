//! The demo's job folder: its sets, its points, and the job file as a person would write it.

mod bent_bar;
mod first_off;
mod handed_over;
mod record;
mod trips;

use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::Path;

use cloud::unit::MM_PER_INCH;
use cloud::{Body, Motion, Point, Scan, Vector};

use crate::boot_side::BootSide;
pub use crate::planted::{Counted, PLANTED, Planted};
use crate::scan::{Scanned, Scanner};
use crate::sheet::Place;
use crate::{pan, tub, tunnel};

/// The job file.
pub const JOB: &str = include_str!("job.toml");

/// Writes the demo job into `folder`: `job.toml` and `sets/`.
///
/// # Errors
/// What the system said while writing.
pub fn write(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder.join("sets"))?;
    write_tub(folder)?;
    write_boot_side(folder)?;
    write_tunnel(folder)?;
    write_pan(folder)?;
    record::write(folder)?;
    bent_bar::write(folder)?;
    first_off::write(folder)?;
    handed_over::write(folder)?;
    trips::write(folder)?;
    fs::write(folder.join("job.toml"), JOB)
}

/// What the sets of the demo say of themselves.
const IN_MM: &str = "invented demo set, in millimetres";

/// Parts that are raised where more of the tub is new than old.
const NEW_METAL: [&str; 9] = [
    "left floor",
    "right floor",
    "left cross bar",
    "right cross bar",
    "left inner sill",
    "right inner sill",
    "left outer sill",
    "right outer sill",
    "tunnel",
];

/// A frame turned by a rotation vector about a point, then shifted; radians and mm.
fn frame(turn: [f64; 3], about: [f64; 3], shift: [f64; 3]) -> Motion<Body, Scan> {
    Motion::turn_about(Vector::from(turn), Point::from(about), Vector::from(shift))
}

fn as_drawn(_: &str, _: &mut Place) {}

/// The scanner as it goes over a tub.
fn of_the_tub(spacing_mm: f64, seed: u64, pose: Motion<Body, Scan>, blind: Vec<([f64; 3], f64)>) -> Scanner {
    Scanner {
        spacing_mm,
        noise_mm: 0.1,
        strays: 0.02,
        blind,
        pose,
        seed,
    }
}

fn write_tub(folder: &Path) -> io::Result<()> {
    let tub = tub::sheets();
    let scanner = |seed: u64, turn: [f64; 3], shift: [f64; 3], blind: Vec<([f64; 3], f64)>| {
        of_the_tub(4.0, seed, frame(turn, [1000.0, 0.0, 600.0], shift), blind)
    };
    // As found the scanner could not get under the scuttle; later it missed a corner of the boot.
    let as_found = scanner(11, [0.0; 3], [0.0; 3], vec![([0.0, -20.0, 42.0], 5.0)]).scan(&tub, as_drawn);
    save(folder, "as-found.ply", &as_found, IN_MM)?;
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
    save(folder, "floor-on-pads.ply", &floor_in, IN_MM)?;
    let side_up = scanner(13, [-0.1, 0.3, -1.2], [-500.0, 900.0, 40.0], boot_corner.clone()).scan(
        &tub,
        |part, place| {
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
        },
    );
    save(folder, "right-side-welded.ply", &side_up, IN_MM)?;
    // A quick set, more thinly measured.
    let mut quick = scanner(14, [0.2, 0.1, 0.6], [700.0, 300.0, -90.0], boot_corner);
    quick.spacing_mm = 7.0;
    let new_up = quick.scan(&tub, |part, place| {
        if NEW_METAL.contains(&part) {
            place.at.z += 0.1875;
        }
    });
    save(folder, "more-new-than-old.ply", &new_up, IN_MM)
}

fn write_boot_side(folder: &Path) -> io::Result<()> {
    let scanner = |seed: u64, turn: [f64; 3], shift: [f64; 3], blind: Vec<([f64; 3], f64)>| Scanner {
        spacing_mm: 1.0,
        noise_mm: 0.04,
        strays: 0.01,
        blind,
        pose: frame(turn, [330.0, 0.0, 200.0], shift),
        seed,
    };
    let good = scanner(21, [0.0; 3], [0.0; 3], Vec::new()).scan(&BootSide::GOOD.sheets(), as_drawn);
    save(folder, "good-boot-side.ply", &good, IN_MM)?;
    let bought = scanner(
        22,
        [1.4, 0.3, -2.2],
        [80.0, -40.0, 700.0],
        vec![([3.0, 0.0, 13.0], 1.2), ([4.6, 0.0, 12.2], 1.0)],
    )
    .scan(&BootSide::BOUGHT_IN.sheets(), as_drawn);
    save(folder, "bought-in-boot-side.ply", &bought, IN_MM)
}

fn write_tunnel(folder: &Path) -> io::Result<()> {
    let drawn = Scanner {
        spacing_mm: 3.0,
        noise_mm: 0.1,
        strays: 0.01,
        blind: Vec::new(),
        pose: Motion::identity(),
        seed: 31,
    };
    let as_found = drawn.scan(&tunnel::sheets(), as_drawn);
    save(folder, "tunnel-as-found.ply", &as_found, IN_MM)?;
    let photographs = Scanner {
        noise_mm: 0.25,
        pose: tunnel::pose(),
        seed: 32,
        ..drawn
    };
    let mut seen = tunnel::sheets();
    seen.retain(|sheet| sheet.part != tunnel::UNSEEN);
    let written = tunnel::as_written(photographs.scan(&seen, tunnel::spread_foot));
    save(
        folder,
        "tunnel-photographs.ply",
        &written,
        "invented demo set, of no unit, Y up",
    )?;
    let (mut before, mut after) = (String::from("name,x,y,z\n"), String::from("name,x,y,z\n"));
    for (k, (name, at)) in tunnel::MARKS.iter().enumerate() {
        // Writing to a String can't fail.
        let _ = writeln!(before, "{name},{},{},{}", at[0], at[1], at[2]);
        // A mark is picked to a fifth of a millimetre or so.
        let off = 0.2 * [1.0, -1.0][k % 2];
        let p = tunnel::number(*at);
        let _ = writeln!(after, "{name},{:.2},{:.2},{:.2}", p.x + off, p.y, p.z - off);
    }
    fs::write(folder.join("sets/tunnel-marks-as-found.csv"), before)?;
    fs::write(folder.join("sets/tunnel-marks-photographs.csv"), after)
}

fn write_pan(folder: &Path) -> io::Result<()> {
    let ordered = Scanner {
        spacing_mm: 3.0,
        noise_mm: 0.1,
        strays: 0.01,
        blind: Vec::new(),
        pose: Motion::identity(),
        seed: 41,
    };
    let right = ordered.scan(&pan::sheets(false), as_drawn);
    save(folder, "right-pan.ply", &right, IN_MM)?;
    let other = Scanner {
        pose: frame([0.3, -0.1, 1.9], [660.0, -370.0, 508.0], [200.0, 900.0, -400.0]),
        seed: 42,
        ..ordered
    };
    let mut sent = other.scan(&pan::sheets(true), pan::other_face);
    // The supplier's file holds inches, says nothing of it, and has no normals.
    for point in &mut sent.points_mm {
        *point /= MM_PER_INCH;
    }
    sent.normals.clear();
    save(folder, "pan-as-sent.ply", &sent, "invented demo set")
}

/// Saves a set as a scanner's program would: binary PLY, with its normals where it has any.
fn save(folder: &Path, name: &str, set: &Scanned, comment: &str) -> io::Result<()> {
    let mut out = BufWriter::new(File::create(folder.join("sets").join(name))?);
    let normals = (!set.normals.is_empty()).then_some(set.normals.as_slice());
    formats::ply::write(
        &mut out,
        &set.points_mm,
        normals,
        &[],
        &[],
        &[comment.to_string()],
    )?;
    out.flush()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_demo_is_written_every_time_and_holds_the_files_of_its_job() {
        let folder = tempfile::tempdir().unwrap();
        let (a, b) = (folder.path().join("a"), folder.path().join("b"));
        write(&a).unwrap();
        write(&b).unwrap();
        for name in [
            "sets/bought-in-boot-side.ply",
            "sets/tunnel-marks-photographs.csv",
            "sets/as-found-record.ply",
            "sets/years-later-points.csv",
        ] {
            assert_eq!(fs::read(a.join(name)).unwrap(), fs::read(b.join(name)).unwrap());
        }
        let files: Vec<&str> = JOB.split('"').filter(|t| t.starts_with("sets/")).collect();
        assert!(files.len() > 10);
        for file in files {
            assert!(a.join(file).is_file(), "{file}");
        }
        for (name, about) in [
            ("as-found-record", 272_000),
            ("bar-welded", 182_000),
            ("pan-original", 73_000),
            ("first-off-free", 73_000),
            ("first-off-held", 73_000),
            ("handed-over", 141_000),
            ("handed-over-filed", 141_000),
            ("years-later", 141_000),
        ] {
            let points = points_of(&a.join("sets").join(name).with_extension("ply"));
            assert!(points < 400_000, "{name}: {points}");
            assert!(points.abs_diff(about) * 30 < about, "{name}: {points}");
        }
    }

    /// How many points the head of a PLY file tells of.
    fn points_of(path: &Path) -> usize {
        let bytes = fs::read(path).unwrap();
        let head = String::from_utf8_lossy(&bytes[..300]).into_owned();
        let count = head.lines().find_map(|line| line.strip_prefix("element vertex "));
        count.unwrap().trim().parse().unwrap()
    }

    /// The bars stand in the job in the file's own numbers, as they were read off the photographs.
    #[test]
    fn the_bars_of_the_job_are_those_of_the_photographs() {
        for (ends, inches) in tunnel::BARS {
            let [from, to] = ends.map(tunnel::number);
            let end = |p: Point| format!("[{:.2}, {:.2}, {:.2}]", p.x, p.y, p.z);
            let bar = format!(
                "{{ ends = [{}, {}], length = \"{inches} in\" }}",
                end(from),
                end(to)
            );
            assert!(JOB.contains(&bar), "{bar}");
            assert!(((to - from).norm() / (inches * MM_PER_INCH) - tunnel::SHRUNK).abs() < 1e-9);
        }
    }
}
