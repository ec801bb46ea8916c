//! A pan that could lie two ways round by all of its metal: the kept floor tells which, or its holes, and where neither can you
//! are asked. Where it could by its holes or its named points, its metal tells.

use cloud::{Body, Motion, Point, Scan, Vector};
use demo::scan::Scanner;
use demo::sheet::{Sheet, hump, rise};

use crate::shop::Shop;

const MM: f64 = 25.4;
/// The floor, mm.
const SIZE: [f64; 2] = [600.0, 400.0];

/// A quarter of a turn and some more, so that neither way round is near to how the set lies.
fn pose() -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::new(0.2, -0.3, 1.8),
        Point::new(300.0, 200.0, 0.0),
        Vector::new(500.0, -200.0, 90.0),
    )
}

/// A floor with four flanges; with swages of 4 mm, 24 mm wide, one across it and one along a part of it, it lies one way round.
fn pan(swaged: bool) -> Vec<Sheet> {
    let [long, wide] = SIZE.map(|mm| mm / MM);
    let high = 30.0 / MM;
    let floor = Sheet::new("floor", [long, wide], move |x, y| {
        let across = hump((x * MM - 180.0) / 12.0);
        let along = hump((y * MM - 110.0) / 12.0) * rise((x * MM - 280.0) / 30.0);
        let high = if swaged { 4.0 * across.max(along) } else { 0.0 };
        Point::new(x, y, high / MM)
    });
    let flange = |corner, along| Sheet::flat("flange", corner, along, [0.0, 0.0, high]);
    vec![
        floor,
        flange([0.0; 3], [long, 0.0, 0.0]),
        flange([0.0, wide, 0.0], [long, 0.0, 0.0]),
        flange([0.0; 3], [0.0, wide, 0.0]),
        flange([long, 0.0, 0.0], [0.0, wide, 0.0]),
    ]
}

fn scan(shop: &Shop, name: &str, sheets: &[Sheet], pose: Motion<Body, Scan>, seed: u64) {
    let scanner = Scanner {
        spacing_mm: 2.5,
        noise_mm: 0.08,
        strays: 0.0,
        blind: Vec::new(),
        pose,
        seed,
    };
    let scanned = scanner.scan(sheets, |_, _| {});
    shop.set(name, &scanned.points_mm, None);
}

/// The codes of what was warned of, and how far the floor's corner came to lie from its place, mm.
fn compared(shop: &Shop, more: &[&str]) -> (Vec<String>, f64) {
    let mut asked = vec!["compare", "good.ply", "again.ply", "--units", "mm", "--quiet"];
    asked.extend(more);
    let ran = shop.run(&asked);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("witnessmark-results");
    let rows = &result["setting"]["reference_from_measured"];
    let at = |i: usize, j: usize| rows[i][j].as_f64().unwrap();
    let there = pose().apply(&Point::origin());
    let back = Vector::from_fn(|i, _| (0..3).map(|j| at(i, j) * there[j]).sum::<f64>() + at(i, 3));
    let warnings = result["warnings"].as_array().unwrap();
    let codes = warnings.iter().map(|w| w["code"].as_str().unwrap().to_string());
    (codes.collect(), back.norm())
}

const KEPT_FLOOR: &str =
    "units = \"mm\"\n[[region]]\nname = \"floor\"\nstatus = \"kept\"\nbox = [[10, 10, -5], [590, 390, 8]]\n";

#[test]
fn the_kept_floor_tells_which_way_round_a_pan_lies() {
    let shop = Shop::new();
    shop.write("parts.toml", KEPT_FLOOR);
    scan(&shop, "good.ply", &pan(true), Motion::identity(), 1);
    scan(&shop, "again.ply", &pan(true), pose(), 2);
    let ways = ["lies-either-way", "could-also-lie"];
    let doubted = |codes: &[String]| codes.iter().any(|code| ways.contains(&code.as_str()));
    // By all of the metal the swages are one thing among many.
    let (all_over, _) = compared(&shop, &[]);
    assert!(doubted(&all_over), "{all_over:?}");
    let (kept, off_mm) = compared(&shop, &["--regions", "parts.toml"]);
    assert!(!doubted(&kept) && off_mm < 0.5, "{kept:?}, {off_mm} mm off");
}

/// Three holes in three of four corners: turned by half a turn two of them lie on each other, and the third on metal.
#[test]
fn three_holes_in_four_corners_tell_which_way_round_a_bare_pan_lies() {
    let shop = Shop::new();
    let drilled = || {
        let mut sheets = pan(false);
        let corners = [[60.0, 60.0], [540.0, 60.0], [540.0, 340.0]];
        let holes = corners.map(|[x, y]| ([x / MM, y / MM, 0.0], 20.0 / MM));
        let floor = sheets.remove(0).holes(holes.to_vec());
        sheets.insert(0, floor);
        sheets
    };
    scan(&shop, "good.ply", &drilled(), Motion::identity(), 1);
    scan(&shop, "again.ply", &drilled(), pose(), 2);
    let (codes, off_mm) = compared(&shop, &[]);
    assert!(!codes.contains(&"lies-either-way".to_string()), "{codes:?}");
    assert!(off_mm < 0.5, "{off_mm} mm off");
}

/// A box section slides along itself, so that its holes lie on each other neither way round: they tell where they can be brought.
#[test]
fn the_holes_of_a_box_section_tell_which_way_round_it_lies_though_it_slides() {
    let section = || {
        let [long, wide, high] = [900.0, 90.0, 130.0].map(|mm| mm / MM);
        let face = |corner, across| Sheet::flat("section", corner, [long, 0.0, 0.0], across);
        let drilled = |sheet: Sheet, holes: &[[f64; 3]]| {
            let at = |mm: &[f64; 3]| (mm.map(|mm| mm / MM), 26.0 / MM);
            sheet.holes(holes.iter().map(at).collect())
        };
        vec![
            drilled(
                face([0.0; 3], [0.0, wide, 0.0]),
                &[[150.0, 45.0, 0.0], [400.0, 30.0, 0.0], [700.0, 60.0, 0.0]],
            ),
            drilled(
                face([0.0; 3], [0.0, 0.0, high]),
                &[[250.0, 0.0, 60.0], [620.0, 0.0, 90.0]],
            ),
            face([0.0, 0.0, high], [0.0, wide, 0.0]),
            face([0.0, wide, 0.0], [0.0, 0.0, high]),
        ]
    };
    for seed in [2, 3] {
        let shop = Shop::new();
        scan(&shop, "good.ply", &section(), Motion::identity(), 1);
        scan(&shop, "again.ply", &section(), pose(), seed);
        let (codes, off_mm) = compared(&shop, &["--holes"]);
        let asked = ["lies-either-way", "fits-mirrored", "hand-doubtful"];
        assert!(
            codes.iter().all(|code| !asked.contains(&code.as_str())),
            "{seed}: {codes:?}"
        );
        assert!(off_mm < 25.0, "{seed}: {off_mm} mm off");
    }
}

/// Where holes and named points stand: a rectangle, which lies on itself turned by half a turn about each of three axes.
const RECTANGLE: [[f64; 2]; 4] = [[60.0, 60.0], [540.0, 60.0], [540.0, 340.0], [60.0, 340.0]];

/// The pan with four holes in a rectangle.
fn drilled(swaged: bool) -> Vec<Sheet> {
    let mut sheets = pan(swaged);
    let holes = RECTANGLE.map(|[x, y]| ([x / MM, y / MM, 0.0], 30.0 / MM));
    let floor = sheets.remove(0).holes(holes.to_vec());
    sheets.insert(0, floor);
    sheets
}

#[test]
fn of_four_holes_in_a_rectangle_the_metal_tells_which_way_round_they_lie_or_it_is_asked() {
    for (swaged, seed) in [(true, 2), (true, 3), (false, 4)] {
        let shop = Shop::new();
        scan(&shop, "good.ply", &drilled(swaged), Motion::identity(), 1);
        scan(&shop, "again.ply", &drilled(swaged), pose(), seed);
        let (codes, off_mm) = compared(&shop, &["--set-by", "holes"]);
        let asked = codes.contains(&"lies-either-way".to_string());
        assert_eq!(asked, !swaged, "{seed}: {codes:?}");
        assert!(!swaged || off_mm < 2.0, "{seed}: {off_mm} mm off");
    }
}

/// Four points in a rectangle agree to a hair although the second time they were named from the other end.
#[test]
fn names_that_were_begun_from_the_other_end_are_asked_about() {
    let shop = Shop::new();
    scan(&shop, "good.ply", &pan(true), Motion::identity(), 1);
    scan(&shop, "again.ply", &pan(true), pose(), 2);
    let table = |begun: usize, place: &dyn Fn(Point) -> Point| {
        let row = |k: usize| {
            let [x, y] = RECTANGLE[(k + begun) % 4];
            let p = place(Point::new(x, y, 0.0));
            format!("P{k},{},{},{}\n", p.x, p.y, p.z)
        };
        "name,x,y,z\n".to_string() + &(0..4).map(row).collect::<String>()
    };
    shop.write("ours.csv", table(0, &|p| p));
    for (begun, wrong) in [(0, false), (2, true)] {
        shop.write("theirs.csv", table(begun, &|p| pose().apply(&p)));
        let points = [
            "--points-reference",
            "ours.csv",
            "--points-measured",
            "theirs.csv",
        ];
        let (codes, off_mm) = compared(&shop, &[&["--set-by", "points"][..], &points].concat());
        assert_eq!(codes.contains(&"lies-either-way".to_string()), wrong, "{codes:?}");
        assert_eq!(off_mm > 100.0, wrong, "{off_mm} mm off");
    }
}

#[test]
fn where_the_kept_floor_is_bare_the_way_round_is_asked() {
    let shop = Shop::new();
    shop.write("parts.toml", KEPT_FLOOR);
    scan(&shop, "good.ply", &pan(false), Motion::identity(), 1);
    scan(&shop, "again.ply", &pan(false), pose(), 2);
    let (codes, _) = compared(&shop, &["--regions", "parts.toml"]);
    assert!(codes.contains(&"lies-either-way".to_string()), "{codes:?}");
}
