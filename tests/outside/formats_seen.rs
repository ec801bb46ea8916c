//! Files that others wrote: E57 samples, and the PLY examples that come with the PLY library.

use std::path::PathBuf;
use std::process::Command;

use cloud::mesh;

use crate::data::{figures, file, numbers};
use crate::shop::Shop;

// Samples of the e57 library (cry-inc/e57, MIT); counts, bounds and sums by the reference implementation.
#[test]
fn the_e57_samples_are_read_to_the_last_point() {
    let all = figures("e57_figures.json");
    for name in ["bunnyDouble.e57", "bunnyInt24.e57", "tinyCartesianFloatRgb.e57"] {
        let raw = formats::read(&file(&format!("data/{name}"))).unwrap();
        let expected = &all[format!("data/{name}")]["data"][0];
        assert_eq!(raw.unit, Some(cloud::Unit::Metre));
        assert_eq!(
            raw.points.len() as u64,
            expected["points"].as_u64().unwrap(),
            "{name}"
        );
        let (low, high, sum) = (
            numbers(&expected["mn"]),
            numbers(&expected["mx"]),
            numbers(&expected["sum"]),
        );
        for axis in 0..3 {
            let values = || raw.points.iter().map(|p| p[axis]);
            assert!(
                (values().fold(f64::INFINITY, f64::min) - low[axis]).abs() < 1e-6,
                "{name}"
            );
            assert!(
                (values().fold(f64::NEG_INFINITY, f64::max) - high[axis]).abs() < 1e-6,
                "{name}"
            );
            let total = cloud::statistics::sum(values());
            assert!(
                (total - sum[axis]).abs() < 1e-5 * raw.points.len() as f64,
                "{name}: {total} for {}",
                sum[axis]
            );
        }
    }
}

// ASTM E2807: every page carries a checksum.
#[test]
fn a_damaged_or_empty_e57_is_refused_by_name() {
    for (name, expected) in [
        ("corrupt_crc.e57", "checksum"),
        ("empty.e57", "no points"),
        ("empty_pc.e57", "no points"),
    ] {
        let message = formats::read(&file(&format!("data/{name}")))
            .unwrap_err()
            .to_string();
        assert!(message.contains(expected) && message.contains(name), "{message}");
    }
    let shop = Shop::new();
    let path = file("data/bunnyDouble.e57");
    let ran = shop.run(&["look", &path.to_string_lossy()]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    assert!(
        ran.stdout.contains("30571") && ran.stdout.contains("m (the file says so)"),
        "{}",
        ran.stdout
    );
}

/// The folder of examples that comes with the PLY library.
fn ply_examples() -> PathBuf {
    let compiler = Command::new("rustc").arg("-vV").output().unwrap();
    let about = String::from_utf8(compiler.stdout).unwrap();
    let host = about.lines().find_map(|l| l.strip_prefix("host: ")).unwrap();
    // What other systems need is not on this machine, and is not asked for.
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--offline"])
        .args(["--filter-platform", host])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    let library = packages.iter().find(|p| p["name"] == "ply-rs-bw").unwrap();
    PathBuf::from(library["manifest_path"].as_str().unwrap()).with_file_name("example_plys")
}

// Turk 1994, The PLY Polygon File Format: the cube of the first example.
#[test]
fn the_cube_of_the_formats_author() {
    let raw = formats::read(&ply_examples().join("greg_turk_example1_ok_ascii.ply")).unwrap();
    assert_eq!(raw.points.len(), 8);
    assert_eq!(raw.faces.len(), 12, "six squares, each cut in two");
    let corners = |f: &[u32; 3]| f.map(|i| raw.points[i as usize]);
    let area: f64 = raw.faces.iter().map(|f| mesh::area(&corners(f))).sum();
    let volume: f64 = raw
        .faces
        .iter()
        .map(|f| {
            let [a, b, c] = corners(f);
            a.coords.dot(&b.coords.cross(&c.coords)) / 6.0
        })
        .sum();
    assert!(
        (area - 6.0).abs() < 1e-12 && (volume.abs() - 1.0).abs() < 1e-12,
        "{area} {volume}"
    );
}

#[test]
fn every_good_example_of_the_library_is_read_and_every_bad_one_is_refused() {
    let mut seen = 0;
    for entry in std::fs::read_dir(ply_examples()).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if !name.ends_with(".ply") {
            continue;
        }
        seen += 1;
        let found = formats::read(&path);
        let has_vertices = ["greg_turk", "house", "tetrahedron"]
            .iter()
            .any(|n| name.starts_with(n));
        assert_eq!(
            found.is_ok(),
            has_vertices,
            "{name}: {:?}",
            found.err().map(|e| e.to_string())
        );
    }
    assert!(seen >= 15, "{seen}");
}
