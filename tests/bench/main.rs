//! Times what must be fast beside general-purpose libraries, in one run, and prints a table of ratios.
//!
//! `cargo bench --bench against_peers -- [POINTS] [THREADS] [ROW…]` (1 000 000, all cores, all rows). The peers are Python libraries;
//! the interpreter that has them is named by `WITNESSMARK_PEERS_PYTHON` (`python3` if not). Absolute times mean nothing on
//! another machine: read the ratios. Shuffled points flatter whoever sorts first, so each row is run in a random order and
//! in the order of a space-filling curve.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod sheet;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use cloud::{Body, Bounds, Cloud, Motion, Near, Point, Scan, Surface, curve, normals, thin};
use compare::exact::ExactMesh;
use rayon::prelude::*;
use register::icp::{Fixed, settle};

use sheet::Data;

/// A measured row: seconds and, where there is one, the error of the answer in mm.
struct Measured {
    seconds: f64,
    error_mm: Option<f64>,
}

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with("--"))
        .collect();
    let number = |i: usize, usual: usize| arguments.get(i).and_then(|a| a.parse().ok()).unwrap_or(usual);
    let points = number(0, 1_000_000);
    let threads = number(1, rayon::current_num_threads());
    let chosen: Vec<&str> = arguments.iter().skip(2).map(String::as_str).collect();
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .unwrap();
    let folder = std::env::temp_dir().join(format!("witnessmark-bench-{points}"));
    println!("{points} points, {threads} threads; seconds, and ours as a share of the best peer's");
    println!(
        "{:<12} {:<9} {:>8} {:>11}   {:<30} {:>8} {:>11} {:>6}",
        "row", "order", "ours s", "error mm", "best peer", "s", "error mm", "share"
    );
    for (order, sorted) in [("shuffled", false), ("sorted", true)] {
        let data = Data::make(points, sorted);
        let files = folder.join(order);
        data.write(&files);
        for row in ["read", "nearest", "normals", "set", "set-thinned", "mesh"] {
            if !chosen.is_empty() && !chosen.contains(&row) {
                continue;
            }
            let mut runs: Vec<Measured> = (0..3)
                .map(|_| pool.install(|| ours(row, &data, &files)))
                .collect();
            runs.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
            let peer = best_peer(row, &files, threads);
            print_row(row, order, &runs[1], peer.as_ref());
        }
    }
    std::fs::remove_dir_all(&folder).ok();
}

fn print_row(row: &str, order: &str, ours: &Measured, peer: Option<&(String, Measured)>) {
    let error = |m: &Measured| m.error_mm.map_or(String::new(), |e| format!("{e:.4}"));
    let (name, seconds, peer_error, share) = peer.map_or(
        (
            "none ran".to_string(),
            String::new(),
            String::new(),
            String::new(),
        ),
        |(name, m)| {
            (
                name.clone(),
                format!("{:.3}", m.seconds),
                error(m),
                format!("{:.2}", ours.seconds / m.seconds),
            )
        },
    );
    println!(
        "{row:<12} {order:<9} {:>8.3} {:>11}   {name:<30} {seconds:>8} {peer_error:>11} {share:>6}",
        ours.seconds,
        error(ours)
    );
}

/// Runs a row with our own code; what is made ready is counted in, as it is for the peers.
fn ours(row: &str, data: &Data, files: &Path) -> Measured {
    let begin = Instant::now();
    let done = |error_mm| Measured {
        seconds: begin.elapsed().as_secs_f64(),
        error_mm,
    };
    match row {
        "read" => {
            let raw = formats::read(&files.join("set.ply")).unwrap();
            assert_eq!(raw.points.len(), data.reference.len());
            done(None)
        }
        "nearest" => {
            let near = Near::new(&data.reference);
            let followed = along(&data.aligned);
            let sum: f64 = followed
                .par_iter()
                .with_min_len(4096)
                .map(|p| near.nearest(p).unwrap().squared_mm2)
                .collect::<Vec<_>>()
                .into_iter()
                .sum();
            assert!(sum.is_finite());
            done(None)
        }
        "normals" => {
            let cloud: Cloud<Body> = Cloud::from_points(data.reference.clone()).along_curve();
            let near = Near::new(&cloud.points_mm);
            let radius = normals::usual_radius_mm(data.spacing_mm);
            let facets = normals::at_each(&cloud.points_mm, &near, radius);
            assert_eq!(facets.len(), data.reference.len());
            done(None)
        }
        "set" => set(&data.reference, &data.measured, data, begin),
        "set-thinned" => {
            let fewer = |points: &[Point]| -> Vec<Point> {
                thin::on_grid(points, 5.0)
                    .into_iter()
                    .map(|i| points[i as usize])
                    .collect()
            };
            set(&fewer(&data.reference), &fewer(&data.measured), data, begin)
        }
        "mesh" => {
            let mesh = ExactMesh::new(&data.mesh_points, &data.mesh_faces).unwrap();
            let sum: f64 = mesh.feet(&along(&data.aligned)).iter().map(|foot| foot.mm).sum();
            assert!(sum.is_finite());
            done(None)
        }
        _ => unreachable!(),
    }
}

/// The points in an order in which neighbours follow each other, sorted only where they don't yet.
fn along(points: &[Point]) -> std::borrow::Cow<'_, [Point]> {
    if curve::is_followed(points) {
        return points.into();
    }
    curve::order(points)
        .into_iter()
        .map(|i| points[i as usize])
        .collect()
}

/// Makes both sets ready and sets one on the other from where they lie.
fn set(reference: &[Point], measured: &[Point], data: &Data, begin: Instant) -> Measured {
    let (reference, measured) = rayon::join(
        || {
            Surface::<Body>::new(Cloud::from_points(reference.to_vec()), None)
                .unwrap()
                .0
        },
        || {
            Surface::<Scan>::new(Cloud::from_points(measured.to_vec()), None)
                .unwrap()
                .0
        },
    );
    let done = settle(&Fixed::all_of(&reference), &measured, &Motion::identity(), 60.0);
    let seconds = begin.elapsed().as_secs_f64();
    let bounds = Bounds::of(&data.measured).unwrap();
    Measured {
        seconds,
        error_mm: Some(done.reference_from_measured.largest_gap_mm(&data.truth, &bounds)),
    }
}

/// The fastest peer of a row; for a setting the fastest whose answer is not ten times worse than the best peer's.
fn best_peer(row: &str, files: &Path, threads: usize) -> Option<(String, Measured)> {
    let python = std::env::var("WITNESSMARK_PEERS_PYTHON").unwrap_or_else(|_| "python3".to_string());
    let script = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/bench/peers.py");
    let output = Command::new(python)
        .arg(script)
        .arg(files)
        .args([row, &threads.to_string()])
        .output()
        .ok()?;
    let mut peers: Vec<(String, Measured)> = String::from_utf8_lossy(&output.stdout)
        .lines()
        .filter_map(|line| {
            let peer: serde_json::Value = serde_json::from_str(line).ok()?;
            let name = peer["peer"].as_str()?.to_string();
            if name.contains("raw read") {
                println!("{:<12} {name}: {:.3} s", "", peer["seconds"].as_f64()?);
                return None;
            }
            let measured = Measured {
                seconds: peer["seconds"].as_f64()?,
                error_mm: peer["error_mm"].as_f64(),
            };
            Some((name, measured))
        })
        .collect();
    let least = peers
        .iter()
        .filter_map(|p| p.1.error_mm)
        .fold(f64::INFINITY, f64::min);
    peers.retain(|p| p.1.error_mm.is_none_or(|e| e <= 10.0 * least.max(0.01)));
    peers.sort_by(|a, b| a.1.seconds.total_cmp(&b.1.seconds));
    peers.into_iter().next()
}
