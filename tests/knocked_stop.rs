//! A stop or a line point that was knocked shifts or turns a set by points in order: the holes that are none of them tell.

use std::fmt::Write;

use cloud::{Body, Motion, Point, Scan, Vector};
use demo::scan::Scanner;
use demo::sheet::Sheet;
use serde_json::Value;

use crate::shop::Shop;

const MM: f64 = 25.4;
/// Holes of 20 mm, mm.
const HOLES: [[f64; 2]; 6] = [
    [60.0, 60.0],
    [60.0, 240.0],
    [330.0, 230.0],
    [150.0, 160.0],
    [250.0, 130.0],
    [330.0, 60.0],
];
const POINTS: [(&str, [f64; 3], &str); 6] = [
    ("P1", [20.0, 20.0, 0.0], "1,up"),
    ("P2", [380.0, 20.0, 0.0], "1,up"),
    ("P3", [200.0, 280.0, 0.0], "1,up"),
    ("L1", [20.0, 0.0, 30.0], "2,across"),
    ("L2", [380.0, 0.0, 30.0], "2,across"),
    ("S", [0.0, 150.0, 30.0], "3,fore-aft"),
];

fn pose() -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::new(-1.1, 2.0, 0.4),
        Point::new(200.0, 150.0, 0.0),
        Vector::new(-900.0, 300.0, 70.0),
    )
}

/// A floor of 400 × 300 mm with two walls.
fn tray(shop: &Shop, name: &str, pose: Motion<Body, Scan>, seed: u64) {
    let [long, wide, high] = [400.0, 300.0, 40.0].map(|mm| mm / MM);
    let holes = HOLES.map(|[x, y]| ([x / MM, y / MM, 0.0], 20.0 / MM));
    let sheets = [
        Sheet::flat("floor", [0.0; 3], [long, 0.0, 0.0], [0.0, wide, 0.0]).holes(holes.to_vec()),
        Sheet::flat("near wall", [0.0; 3], [long, 0.0, 0.0], [0.0, 0.0, high]),
        Sheet::flat("left wall", [0.0; 3], [0.0, 0.0, high], [0.0, wide, 0.0]),
    ];
    let scanner = Scanner {
        spacing_mm: 2.0,
        noise_mm: 0.05,
        strays: 0.0,
        blind: Vec::new(),
        pose,
        seed,
    };
    let scanned = scanner.scan(&sheets, |_, _| {});
    shop.set(name, &scanned.points_mm, Some(&scanned.normals));
}

fn table(place: impl Fn(&str, Point) -> Point) -> String {
    let mut out = String::from("name,x,y,z,order,holds\n");
    for (name, at, rest) in POINTS {
        let p = place(name, Point::from(at));
        writeln!(out, "{name},{},{},{},{rest}", p.x, p.y, p.z).unwrap();
    }
    out
}

/// Sets in order with one point that was knocked; the verdicts of the holes, and what they say against the points.
fn set_with(shop: &Shop, knocked: &str, by: Vector, more: &[&str]) -> (Vec<String>, Vec<String>) {
    let place = |name: &str, p: Point| pose().apply(&if name == knocked { p + by } else { p });
    shop.write("theirs.csv", table(place));
    let asked = "compare good.ply again.ply --units mm --holes --quiet --set-by order --points-reference ours.csv --points-measured theirs.csv --out out";
    let asked: Vec<&str> = asked.split(' ').chain(more.iter().copied()).collect();
    let ran = shop.run(&asked);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("out");
    let texts = |list: &str, key: &str, wanted: &dyn Fn(&Value) -> bool| -> Vec<String> {
        let those = result[list].as_array().unwrap().iter().filter(|&one| wanted(one));
        those.map(|one| one[key].as_str().unwrap().to_string()).collect()
    };
    let against = |warning: &Value| warning["code"] == "holes-against-points";
    (
        texts("holes", "verdict", &|_| true),
        texts("warnings", "words", &against),
    )
}

/// A pad that was knocked tilts the set: no hole shows it in its sheet, and the metal does.
#[test]
fn metal_that_lies_tilted_alike_asks_whether_a_pad_was_knocked() {
    let shop = Shop::new();
    tray(&shop, "good.ply", Motion::identity(), 1);
    tray(&shop, "again.ply", pose(), 2);
    shop.write("ours.csv", table(|_, p| p));
    let told = |by: Vector| -> (Vec<String>, Vec<String>) {
        let (verdicts, _) = set_with(&shop, "P2", by, &[]);
        let result = shop.result("out");
        let warnings = result["warnings"].as_array().unwrap();
        let those = warnings.iter().filter(|w| w["code"] == "metal-against-points");
        let words = those.map(|w| w["words"].as_str().unwrap().to_string());
        (verdicts, words.collect())
    };
    assert!(told(Vector::z() * 0.1).1.is_empty());
    let (verdicts, words) = told(Vector::z() * 3.0);
    assert!(words.len() == 1 && words[0].contains(" low"), "{words:?}");
    assert_eq!(verdicts, ["not-measured"; 6]);
}

#[test]
fn holes_that_lie_off_alike_ask_whether_a_stop_was_knocked() {
    let shop = Shop::new();
    tray(&shop, "good.ply", Motion::identity(), 1);
    tray(&shop, "again.ply", pose(), 2);
    shop.write("ours.csv", table(|_, p| p));

    let (verdicts, words) = set_with(&shop, "", Vector::zeros(), &[]);
    assert!(words.is_empty(), "{words:?}");
    assert_eq!(verdicts, ["within"; 6]);

    // A line point that was knocked turns the set about the other.
    let (verdicts, words) = set_with(&shop, "L2", Vector::y() * 6.0, &[]);
    assert_eq!(words.len(), 1);
    for part in [
        "6 of 6 holes that did not set it lie up to",
        "turned",
        "(L1, L2, S) was knocked",
    ] {
        assert!(words[0].contains(part), "{part}: {words:?}");
    }
    assert_eq!(verdicts, ["not-measured"; 6]);

    // A stop shifts it; who has looked at the points has his verdicts.
    let (verdicts, words) = set_with(&shop, "S", Vector::x() * 5.0, &["--answered", "holes"]);
    assert!(
        words[0].starts_with("6 of 6 holes that did not set it lie 3/16 forward"),
        "{words:?}"
    );
    assert_eq!(verdicts, ["outside"; 6]);
}
