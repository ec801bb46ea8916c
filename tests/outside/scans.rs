//! Range scans of the Stanford bunny (Stanford Computer Graphics Laboratory; Turk & Levoy 1994, SIGGRAPH) against the
//! motions published with them (bun.conf).

use cloud::{Body, Cloud, Motion, Point, Scan, Surface, Vector};
use register::any_pose::from_any_pose;
use register::icp::{Fixed, Settled, settle};

use crate::data::{figures, file, numbers};
use crate::shop::Shop;

pub fn scan(name: &str) -> Surface<Scan> {
    let raw = formats::read(&file(&format!("data/st_{name}.ply"))).unwrap();
    let points = raw.points.iter().map(|p| p * 1000.0).collect();
    Surface::new(Cloud::from_points(points), None).unwrap().0
}

pub fn as_reference(name: &str) -> Surface<Body> {
    let surface = scan(name);
    surface.moved(&Motion::identity())
}

/// The published motion of a pair, in mm.
pub fn published(pair: &str) -> Motion<Scan, Body> {
    let all = figures("bunny_scans.json");
    let rows: Vec<Vec<f64>> = all[pair]["truth"]
        .as_array()
        .unwrap()
        .iter()
        .map(numbers)
        .collect();
    let rotation = cloud::Matrix3::from_fn(|i, j| rows[i][j]);
    Motion::new(rotation, Vector::from_fn(|i, _| rows[i][3] * 1000.0))
}

/// How far a motion is from another: degrees, and mm at the middle of the measured set.
pub fn apart(found: &Motion<Scan, Body>, truth: &Motion<Scan, Body>, measured: &Surface<Scan>) -> (f64, f64) {
    let n = measured.points().len() as f64;
    let middle = Point::from(measured.points().iter().map(|p| p.coords).sum::<Vector>() / n);
    (
        found.then(&truth.inverse()).angle().to_degrees(),
        (found.apply(&middle) - truth.apply(&middle)).norm(),
    )
}

/// The published motion spoilt by a turn of 5° and a shift of 5 mm.
pub fn spoilt(truth: &Motion<Scan, Body>, measured: &Surface<Scan>, axis: Vector) -> Motion<Scan, Body> {
    let middle = truth.apply(&measured.cloud.bounds().unwrap().centre());
    let turn = axis.normalize() * 5f64.to_radians();
    truth.then(&Motion::turn_about(turn, middle, axis.normalize() * 5.0))
}

fn set(reference: &Surface<Body>, measured: &Surface<Scan>, start: &Motion<Scan, Body>) -> Settled {
    settle(&Fixed::all_of(reference), measured, start, 15.0)
}

#[test]
fn bun045_finds_its_place_on_bun000_from_five_degrees_and_five_millimetres() {
    let (reference, measured) = (as_reference("bun000"), scan("bun045"));
    let truth = published("bun045->bun000");
    for axis in [Vector::x(), Vector::y(), Vector::z(), Vector::new(1.0, -1.0, 0.5)] {
        let done = set(&reference, &measured, &spoilt(&truth, &measured, axis));
        let (degrees, mm) = apart(&done.reference_from_measured, &truth, &measured);
        assert!(degrees < 0.2 && mm < 0.1, "{degrees}° {mm} mm from {axis}");
        assert!((0.05..0.17).contains(&done.rms_mm), "rms {}", done.rms_mm);
    }
}

#[test]
fn bun090_finds_its_place_on_bun045() {
    let (reference, measured) = (as_reference("bun045"), scan("bun090"));
    let truth = published("bun090->bun045");
    let done = set(
        &reference,
        &measured,
        &spoilt(&truth, &measured, Vector::new(0.3, 1.0, -0.2)),
    );
    let (degrees, mm) = apart(&done.reference_from_measured, &truth, &measured);
    assert!(degrees < 0.2 && mm < 0.15, "{degrees}° {mm} mm");
}

#[test]
fn bun045_finds_bun000_with_no_start_given() {
    let (reference, measured) = (as_reference("bun000"), scan("bun045"));
    let found = from_any_pose(&reference, &measured).unwrap();
    let (degrees, mm) = apart(
        &found.best.reference_from_measured,
        &published("bun045->bun000"),
        &measured,
    );
    assert!(degrees < 0.3 && mm < 0.2, "{degrees}° {mm} mm");
    assert!(
        found.best.motions.held().free.is_empty(),
        "the bunny leaves no motion free"
    );
}

// The two takes have five per cent of their surface in common: there is nothing to set one on the other by.
#[test]
fn top2_on_bun000_is_refused() {
    let (reference, measured) = (as_reference("bun000"), scan("top2"));
    match from_any_pose(&reference, &measured) {
        Err(_) => {}
        Ok(found) => {
            let truth = published("top2->bun000");
            let (degrees, mm) = apart(&found.best.reference_from_measured, &truth, &measured);
            panic!(
                "taken with {:.0} % in common, {degrees}° and {mm} mm off",
                100.0 * found.overlap
            );
        }
    }
}

#[test]
fn the_program_compares_two_scans_in_metres() {
    let shop = Shop::new();
    let (a, b) = (file("data/st_bun000.ply"), file("data/st_bun045.ply"));
    let ran = shop.run(&[
        "compare",
        &a.to_string_lossy(),
        &b.to_string_lossy(),
        "--units",
        "m",
        "--limit",
        "1 mm",
        "--out",
        "out",
    ]);
    assert!(ran.code == 0 || ran.code == 1, "{}", ran.stderr);
    let result = shop.result("out");
    let median = result["figures"]["median_mm"].as_f64().unwrap();
    let share = result["figures"]["within_share"].as_f64().unwrap();
    assert!(median.abs() < 0.05 && share > 0.97, "{median} {share}");
    // Wrongly declared as millimetres the set is a fifth of a millimetre across: told by name of the ratio.
    let ran = shop.run(&[
        "compare",
        &a.to_string_lossy(),
        &b.to_string_lossy(),
        "--units",
        "mm",
        "--out",
        "mm",
    ]);
    assert!(
        ran.stderr.contains("1000, metre and millimetre"),
        "{}",
        ran.stderr
    );
}

// Range scans and a closed sculpture have neither drilled holes nor trimmed sheets: what the finders say of them is invented,
// but for the rims of what the scanner did not see, which end as metal ends. One roundish gap of bun045 passes for a hole.
#[test]
fn no_holes_and_no_trimming_are_invented_on_scans_of_things_that_have_none() {
    for (name, most) in [
        ("bun000", 0),
        ("bun045", 1),
        ("bun090", 0),
        ("bun270", 0),
        ("top2", 0),
    ] {
        let holes = features::holes::find(&scan(name));
        assert!(holes.len() <= most, "{name}: {holes:?}");
    }
    let shop = Shop::new();
    let path = file("data/st_bun000.ply");
    let path = path.to_string_lossy();
    let ran = shop.run(&[
        "compare", &path, &path, "--units", "m", "--set-by", "as-is", "--holes", "--edges", "--out", "out",
        "--quiet",
    ]);
    assert!(ran.code <= 1, "{}", ran.stderr);
    let result = shop.result("out");
    // Against itself no edge is short or long, and there is nothing to do.
    let edges = result["edges"].as_array().unwrap();
    assert!(!edges.is_empty());
    assert!(
        edges
            .iter()
            .all(|e| e["stretches"].as_array().unwrap().is_empty())
    );
    assert!(result["work"].as_array().unwrap().is_empty());
}
