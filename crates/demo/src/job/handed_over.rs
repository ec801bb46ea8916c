//! The tub as it was handed over, a little rocked, out of square and sagging, and as it stood years later on a warmer day:
//! quick sets, and the places that a probe arm touched.

use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::Path;

use cloud::unit::MM_PER_INCH;
use cloud::{Body, Motion, Point, Scan, Vector};
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

use super::{IN_MM, frame, of_the_tub, save};
use crate::scan::{Scanned, deviate};
use crate::sheet::Place;
use crate::tub;

/// Rock of the corners H1, H2, H5 and H6, (front left + rear right) − (front right + rear left), inches.
const ROCK: f64 = 3.0 / 16.0;
/// How far the right corners lie rearward of the left ones, on the mean, inches; the left ones are home.
const REARWARD: f64 = 1.0 / 8.0;
/// How far the middle hangs under the line from the front corners to the rear ones, inches; as much is added later.
const SAG: f64 = 1.0 / 16.0;
/// How much warmer it was later, K, and what steel grows by a kelvin.
const WARMER: f64 = 15.0;
const GROWS: f64 = 11.7e-6;

/// The corners: the middle between front and rear ones along X, half their distance, and how far out the front and the
/// rear ones lie.
const MIDDLE: f64 = 42.0;
const HALF: f64 = 38.0;
const OUT: [f64; 2] = [14.0, 15.5];

/// A probe arm's standard deviation along each axis, and the ± that its maker gives, mm.
const PROBE_MM: f64 = 0.1;
const PROBE_PM_MM: f64 = 0.2;

/// What the arm touched: the datum holes and the ends of the sills' top edges; inches, as drawn. At the end what each does
/// in a setting in order: the table's columns `order` and `holds`.
const POINTS: [(&str, [f64; 3], &str); 10] = [
    ("H1", [4.0, -14.0, 20.0], "1,up"),
    ("H2", [4.0, 14.0, 20.0], "1,up"),
    ("H3", [46.0, -14.0, 20.0], "3,fore-aft"),
    ("H4", [46.0, 14.0, 20.0], ","),
    ("H5", [80.0, -15.5, 26.0], "1,up"),
    ("H6", [80.0, 15.5, 26.0], "1,up"),
    ("left sill front", [-2.0, -24.0, 27.0], "2,across"),
    ("right sill front", [-2.0, 24.0, 27.0], ","),
    ("left sill rear", [54.0, -24.0, 27.0], "2,across"),
    ("right sill rear", [54.0, 24.0, 27.0], ","),
];

/// How the scanner and the arm stood to the tub, at first and years later.
fn pose(later: bool) -> Motion<Body, Scan> {
    let about = [1000.0, 0.0, 600.0];
    if later {
        frame([-0.2, 0.1, -2.4], about, [-700.0, 350.0, 80.0])
    } else {
        frame([0.15, -0.1, 0.8], about, [400.0, -300.0, 120.0])
    }
}

/// Where a place of the tub stands that hangs by `sag`; inches. The rock is as X times Y, the right side goes rearward as
/// Y, the sag is a parabola along X.
fn standing(at: &Point, sag: f64) -> Point {
    let along = at.x - MIDDLE;
    let rocked = ROCK / (2.0 * HALF * (OUT[0] + OUT[1])) * along * at.y;
    let rearward = REARWARD * (at.y / (OUT[0] + OUT[1]) + 0.5);
    let hangs = sag * (1.0 - (along / HALF).powi(2));
    Point::new(at.x + rearward, at.y, at.z + rocked - hangs)
}

fn handed_over(at: &Point) -> Point {
    standing(at, SAG)
}

/// Years later: twice the sag, and everything grown by the warmth.
fn years_later(at: &Point) -> Point {
    standing(at, 2.0 * SAG) * (1.0 + GROWS * WARMER)
}

/// Writes the sets and the tables of points: as found in the body's frame, the later ones in that of their set; and what
/// was handed over once more as the shop filed it, brought to the body's frame, to be the reference years later.
pub(super) fn write(folder: &Path) -> io::Result<()> {
    write_tables(folder)?;
    let quick = |seed: u64, later: bool| of_the_tub(7.0, seed, pose(later), Vec::new());
    let sheets = tub::sheets();
    let now = quick(81, false).scan(&sheets, |_: &str, place: &mut Place| {
        place.at = handed_over(&place.at);
    });
    save(folder, "handed-over.ply", &now, IN_MM)?;
    let home = pose(false).inverse();
    let filed = Scanned {
        points_mm: now.points_mm.iter().map(|p| home.apply(p)).collect(),
        normals: now.normals.iter().map(|n| home.turn(n)).collect(),
    };
    save(folder, "handed-over-filed.ply", &filed, IN_MM)?;
    let later = quick(82, true).scan(&sheets, |_: &str, place: &mut Place| {
        place.at = years_later(&place.at);
    });
    save(folder, "years-later.ply", &later, IN_MM)
}

fn write_tables(folder: &Path) -> io::Result<()> {
    let write = |name: &str, points: &[Point]| fs::write(folder.join("sets").join(name), table(points));
    let now = probed(handed_over, &pose(false), 84);
    let home = pose(false).inverse();
    let filed: Vec<Point> = now.iter().map(|p| home.apply(p)).collect();
    let found = probed(|at| *at, &Motion::identity(), 83);
    write("as-found-points.csv", &found)?;
    write("handed-over-points.csv", &now)?;
    write("handed-over-points-filed.csv", &filed)?;
    write("years-later-points.csv", &probed(years_later, &pose(true), 85))
}

/// The points as the arm gives them, mm in its frame, of a tub that stands as `stands` says.
fn probed(stands: impl Fn(&Point) -> Point, pose: &Motion<Body, Scan>, seed: u64) -> Vec<Point> {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    POINTS
        .iter()
        .map(|(_, at, _)| {
            let off = Vector::from_fn(|_, _| PROBE_MM * deviate(&mut random));
            pose.apply(&(stands(&Point::from(*at)) * MM_PER_INCH + off))
        })
        .collect()
}

/// A table of the points.
fn table(points: &[Point]) -> String {
    let mut out = String::from("name,x (mm),y (mm),z (mm),pm (mm),order,holds\n");
    for ((name, _, does), p) in POINTS.iter().zip(points) {
        // Writing to a String can't fail.
        let _ = writeln!(
            out,
            "{name},{:.2},{:.2},{:.2},{PROBE_PM_MM},{does}",
            p.x, p.y, p.z
        );
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Unit;

    /// The ten places after `stands`, inches.
    fn after(stands: impl Fn(&Point) -> Point) -> [Point; 10] {
        POINTS.map(|(_, at, _)| stands(&Point::from(at)))
    }

    /// Rock of the corners, right less left along X, and the middle holes under the line from front to rear.
    fn read(at: &[Point; 10]) -> [f64; 3] {
        let [h1, h2, h3, h4, h5, h6, ..] = *at;
        let rock = (h1.z + h6.z) - (h2.z + h5.z);
        let rearward = (h2.x + h6.x - h1.x - h5.x) / 2.0;
        // As drawn the rear corners lie six inches higher.
        let share = (46.0 - 4.0) / 76.0;
        let line = (h1.z + h2.z) / 2.0 * (1.0 - share) + ((h5.z + h6.z) / 2.0 - 6.0) * share;
        [rock, rearward, line - (h3.z + h4.z) / 2.0]
    }

    #[test]
    fn the_tub_stands_as_was_planted() {
        let [rock, rearward, sag] = read(&after(handed_over));
        assert!((rock - ROCK).abs() < 1e-12);
        assert!((rearward - REARWARD).abs() < 1e-12);
        // The holes lie 4 rearward of the middle, where a sag of a parabola is a ninetieth less.
        assert!((sag - SAG * (1.0 - 16.0 / 1444.0)).abs() < 1e-12);
        assert!((handed_over(&Point::new(MIDDLE, 0.0, 20.0)).z - (20.0 - SAG)).abs() < 1e-12);
        // The left corners are home along X, and nothing goes out or in.
        let at = after(handed_over);
        assert!((at[0].x + at[4].x - 84.0).abs() < 0.01);
        assert!(at.iter().zip(&POINTS).all(|(p, drawn)| p.y == drawn.1[1]));
    }

    #[test]
    fn years_later_it_hangs_more_and_is_longer_by_the_warmth() {
        let (now, later) = (after(handed_over), after(years_later));
        let more = read(&later)[2] - read(&now)[2];
        assert!((more - SAG).abs() < 0.002, "{more}");
        let grown = (later[4].x - later[0].x) - (now[4].x - now[0].x);
        assert!((grown / 76.0 * 84.0 - 0.0147).abs() < 1e-4, "{grown}");
    }

    #[test]
    fn the_tables_hold_the_points_in_the_frames_of_their_sets() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("sets")).unwrap();
        write_tables(folder.path()).unwrap();
        let read = |name: &str| {
            formats::named::read_datums(&folder.path().join("sets").join(name), Unit::Inch).unwrap()
        };
        let identity = Motion::identity();
        type Stands = fn(&Point) -> Point;
        let tables: [(&str, Stands, Motion<Body, Scan>); 4] = [
            ("as-found-points.csv", |at| *at, identity),
            ("handed-over-points.csv", handed_over, pose(false)),
            ("handed-over-points-filed.csv", handed_over, identity),
            ("years-later-points.csv", years_later, pose(true)),
        ];
        for (name, stands, pose) in tables {
            let datums = read(name);
            assert_eq!(datums.len(), 10);
            for (datum, (drawn, at, _)) in datums.iter().zip(&POINTS) {
                assert_eq!(datum.point.name, *drawn);
                let there = pose.apply(&(stands(&Point::from(*at)) * MM_PER_INCH));
                let off = (datum.point.at_mm - there).norm();
                assert!(off > 0.0 && off < 0.5, "{name}, {drawn}: {off}");
                assert_eq!(datum.pm_mm, Some(PROBE_PM_MM));
            }
            let orders: Vec<Option<u8>> = datums.iter().map(|d| d.order).collect();
            assert_eq!(orders[..5], [Some(1), Some(1), Some(3), None, Some(1)]);
            assert_eq!(datums[6].holds, Some([false, true, false]));
            assert_eq!(datums[7].holds, None);
        }
    }
}
