//! How often a set is found from any pose, and how well: overlap × strays × changed share, twenty poses each.
//!
//! `cargo bench -p register --bench accuracy -- [POINTS] [POSES] [tub|panel|both]` prints the table. Both sets are windows
//! along the part, so that each has metal that the other has not; a side of the part is moved; the scanner gives no
//! normals. *Wrong* is off by more than a millimetre at the far corner without a refusal or a warning: it must be nothing.

// A program for a developer: it prints, and what can't be made here is a fault of the program.
#![allow(clippy::expect_used, clippy::print_stdout, clippy::too_many_arguments)]

use cloud::{Body, Cloud, Motion, Point, Scan, Surface, Vector};
use demo::boot_side::BootSide;
use demo::scan::Scanner;
use demo::sheet::Sheet;
use register::any_pose::from_any_pose;

/// Off by more than this at the far corner is not solved, mm.
const SOLVED_MM: f64 = 1.0;
const NOISE_MM: f64 = 0.1;
/// So many poses are tried with the same two scans; then they are made anew.
const POSES_A_SCAN: u64 = 5;
/// Where more than so many per cent of the points lie within so much of a place along the part, a wall lies across it.
const WALL_MM: f64 = 2.0;
const WALL_PERCENT: usize = 1;

struct Subject {
    name: &'static str,
    sheets: Vec<Sheet>,
    /// Area, mm².
    area_mm2: f64,
    /// What is moved: the part of the metal that lies farthest along this direction, and how, inches.
    side: Vector,
    moved: Vector,
}

fn subjects(wanted: &str) -> Vec<Subject> {
    let mut all = vec![
        Subject {
            name: "tub",
            sheets: demo::tub::sheets(),
            area_mm2: 0.0,
            side: Vector::y(),
            moved: Vector::new(0.0, 0.0, 3.0 / 16.0),
        },
        Subject {
            name: "panel",
            sheets: BootSide::GOOD.sheets(),
            area_mm2: 0.0,
            side: Vector::z(),
            moved: Vector::new(0.0, 1.0 / 8.0, 0.0),
        },
    ];
    all.retain(|s| wanted == "both" || s.name == wanted);
    for subject in &mut all {
        let few = scan(&subject.sheets, 10.0, 0.0, 1, |_| false, Vector::zeros());
        subject.area_mm2 = few.len() as f64 * 100.0;
    }
    all
}

fn scan(
    sheets: &[Sheet],
    spacing_mm: f64,
    strays: f64,
    seed: u64,
    changed: impl Fn(&Point) -> bool,
    moved: Vector,
) -> Vec<Point> {
    let scanner = Scanner {
        spacing_mm,
        noise_mm: NOISE_MM,
        strays,
        blind: Vec::new(),
        pose: Motion::identity(),
        seed,
    };
    let scanned = scanner.scan(sheets, |_, place| {
        if changed(&place.at) {
            place.at += moved;
        }
    });
    scanned.points_mm
}

/// The `share` quantile of what `along` gives over the points.
fn quantile(points: &[Point], along: &Vector, share: f64) -> f64 {
    let mut all: Vec<f64> = points.iter().map(|p| p.coords.dot(along)).collect();
    all.sort_by(f64::total_cmp);
    all[((all.len() - 1) as f64 * share) as usize]
}

/// The end of a window, moved on by `step_mm` out of a wall that lies across: a window that ends within one cuts half of
/// its scatter off, and what is left lies elsewhere than the wall.
fn beside_walls(points: &[Point], mut at_mm: f64, step_mm: f64) -> f64 {
    let within = |at_mm: f64| points.iter().filter(|p| (p.x - at_mm).abs() < WALL_MM).count();
    while 100 * within(at_mm) > points.len() * WALL_PERCENT {
        at_mm += step_mm;
    }
    at_mm
}

enum Came {
    Solved(f64),
    Refused,
    Told,
    Wrong,
}

/// Two scans of a part as it lies at home, from where the measured one is moved.
struct Scans {
    reference: Surface<Body>,
    measured: Surface<Body>,
}

impl Scans {
    /// Two windows of equal length with `overlap` of each in common.
    fn of(subject: &Subject, points: usize, overlap: f64, strays: f64, changed: f64, seed: u64) -> Self {
        let window = 1.0 / (2.0 - overlap);
        let spacing = (subject.area_mm2 * window / points as f64).sqrt();
        let nothing = |_: &Point| false;
        let few = scan(&subject.sheets, 10.0, 0.0, 1, nothing, Vector::zeros());
        let rear_of = beside_walls(&few, quantile(&few, &Vector::x(), window), WALL_MM);
        let front_of = beside_walls(&few, quantile(&few, &Vector::x(), 1.0 - window), -WALL_MM);
        let common: Vec<Point> = few
            .iter()
            .filter(|p| p.x <= rear_of && p.x >= front_of)
            .copied()
            .collect();
        let edge = quantile(&common, &subject.side, 1.0 - changed) / 25.4;
        let side = subject.side;
        let changed = move |p: &Point| changed > 0.0 && p.coords.dot(&side) > edge;
        let mut reference = scan(
            &subject.sheets,
            spacing,
            strays,
            2 * seed,
            nothing,
            Vector::zeros(),
        );
        reference.retain(|p| p.x <= rear_of);
        let mut measured = scan(
            &subject.sheets,
            spacing * 1.05,
            strays,
            2 * seed + 1,
            changed,
            subject.moved,
        );
        measured.retain(|p| p.x >= front_of);
        Self {
            reference: Surface::new(Cloud::from_points(reference), None)
                .expect("a surface")
                .0,
            measured: Surface::new(Cloud::from_points(measured), None)
                .expect("a surface")
                .0,
        }
    }

    /// The pose of the number `seed`, anywhere and in any attitude.
    fn pose(seed: u64) -> Motion<Body, Scan> {
        let random = |k: u64| {
            let mut x = (seed * 7 + k).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
            (x ^ x >> 31) as f64 / u64::MAX as f64 - 0.5
        };
        let turn =
            Vector::new(random(1), random(2), random(3)).normalize() * (random(4) * std::f64::consts::TAU);
        let shift = Vector::new(random(5), random(6), random(7)) * 5000.0;
        Motion::turn_about(turn, Point::new(900.0, 0.0, 500.0), shift)
    }

    fn found(&self, seed: u64) -> (Came, f64) {
        let pose = Self::pose(seed);
        let measured: Surface<Scan> = self.measured.moved(&pose);
        let truth = pose.inverse();
        let bounds = measured.cloud.bounds().expect("points");
        let start = std::time::Instant::now();
        let found = from_any_pose(&self.reference, &measured);
        let seconds = start.elapsed().as_secs_f64();
        let found = match found {
            Err(_) => return (Came::Refused, seconds),
            Ok(found) => found,
        };
        let off = found.best.reference_from_measured.largest_gap_mm(&truth, &bounds);
        if std::env::var_os("WITNESSMARK_EACH").is_some() {
            println!(
                "    seed {seed}: {off:.3} mm, score {:.3}, overlap {:.2}, on {:.2}, alike {:.2}, mirrored {:.3}, free {}, next {:?}",
                found.score,
                found.overlap,
                found.on,
                found.alike,
                found.mirrored_score,
                found.best.motions.held().free.len(),
                found.runner_up
            );
        }
        let said = !found.doubts().is_empty()
            || found.little_in_common().is_some()
            || !found.best.motions.held().free.is_empty();
        let came = match (off < SOLVED_MM, !said) {
            (true, _) => Came::Solved(off),
            (false, true) => Came::Wrong,
            (false, false) => Came::Told,
        };
        (came, seconds)
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with("--"))
        .collect();
    let number = |k: usize, usual: usize| arguments.get(k).and_then(|a| a.parse().ok()).unwrap_or(usual);
    let (points, poses) = (number(0, 500_000), number(1, 20));
    let wanted = arguments.get(2).map_or("both", String::as_str);
    let only = |k: usize| arguments.get(k).and_then(|a| a.parse::<f64>().ok());
    println!(
        "| part | overlap | strays | changed | solved | refused | warned | wrong | median mm | worst mm | s |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|");
    for subject in subjects(wanted) {
        for overlap in [1.0, 0.7, 0.5, 0.35] {
            for strays in [0.0, 0.06, 0.2] {
                for changed in [0.0, 0.1, 0.3] {
                    let skip = [(3, overlap), (4, strays), (5, changed)]
                        .iter()
                        .any(|(k, v)| only(*k).is_some_and(|w| w >= 0.0 && w != *v));
                    if skip {
                        continue;
                    }
                    row(&subject, points, poses, overlap, strays, changed);
                }
            }
        }
    }
}

fn row(subject: &Subject, points: usize, poses: usize, overlap: f64, strays: f64, changed: f64) {
    let (mut off, mut refused, mut told, mut wrong, mut seconds) = (Vec::new(), 0, 0, 0, 0.0);
    let mut scans = None;
    for pose in 0..poses as u64 {
        if pose % POSES_A_SCAN == 0 {
            scans = Some(Scans::of(subject, points, overlap, strays, changed, 100 + pose));
        }
        let (came, took) = scans.as_ref().expect("made at the first pose").found(100 + pose);
        seconds += took;
        match came {
            Came::Solved(mm) => off.push(mm),
            Came::Refused => refused += 1,
            Came::Told => told += 1,
            Came::Wrong => wrong += 1,
        }
    }
    off.sort_by(f64::total_cmp);
    let at = |share: f64| off.get(((off.len().max(1) - 1) as f64 * share) as usize).copied();
    let words = |mm: Option<f64>| mm.map_or("—".to_string(), |mm| format!("{mm:.4}"));
    println!(
        "| {} | {:.0} % | {:.0} % | {:.0} % | {} | {refused} | {told} | {wrong} | {} | {} | {:.2} |",
        subject.name,
        100.0 * overlap,
        100.0 * strays,
        100.0 * changed,
        off.len(),
        words(at(0.5)),
        words(at(1.0)),
        seconds / poses as f64,
    );
}
