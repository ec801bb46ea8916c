//! Named holes that are found in both sets and set the one on the other, on a tray whose motion and faults are known.

use cloud::{Body, Motion, Point, Scan, Vector};
use demo::scan::Scanner;
use demo::sheet::Sheet;
use serde_json::Value;

use crate::shop::{Shop, named};

const MM: f64 = 25.4;
/// Round holes of 20 mm in the floor, mm; the last one has no name.
const ROUND: [[f64; 2]; 5] = [
    [60.0, 60.0],
    [60.0, 240.0],
    [330.0, 230.0],
    [150.0, 160.0],
    [250.0, 130.0],
];
/// The middle of a slot of 40 × 14 mm along X.
const SLOT: [f64; 2] = [330.0, 60.0];

fn pose() -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::new(-1.1, 2.0, 0.4),
        Point::new(200.0, 150.0, 0.0),
        Vector::new(-900.0, 300.0, 70.0),
    )
}

/// A floor of 400 × 300 mm with two walls. A hole may be left out, and the slot cut so far to the rear.
fn tray(left_out: Option<usize>, slot_by_mm: f64) -> Vec<Sheet> {
    let (x, y, z) = (
        [400.0 / MM, 0.0, 0.0],
        [0.0, 300.0 / MM, 0.0],
        [0.0, 0.0, 80.0 / MM],
    );
    let solid = move |p: &Point| {
        let at = p * MM;
        let in_hole = |(k, hole): (usize, &[f64; 2])| {
            Some(k) != left_out && (at.x - hole[0]).hypot(at.y - hole[1]) < 10.0
        };
        let along = ((at.x - SLOT[0] - slot_by_mm).abs() - 13.0).max(0.0);
        !ROUND.iter().enumerate().any(in_hole) && along.hypot(at.y - SLOT[1]) > 7.0
    };
    vec![
        Sheet::flat("floor", [0.0; 3], x, y).only(solid),
        Sheet::flat("near wall", [0.0; 3], x, z),
        Sheet::flat("left wall", [0.0; 3], z, y),
    ]
}

fn scan(shop: &Shop, name: &str, sheets: &[Sheet], pose: Motion<Body, Scan>, seed: u64) {
    let scanner = Scanner {
        spacing_mm: 1.5,
        noise_mm: 0.05,
        strays: 0.0,
        blind: Vec::new(),
        pose,
        seed,
    };
    let scanned = scanner.scan(sheets, |_, _| {});
    shop.set(name, &scanned.points_mm, Some(&scanned.normals));
}

/// A shop with a good tray, and a job whose places are as a man reads them off his rule: up to 3 mm beside the holes.
fn shop(sets: &[&str], comparisons: &str) -> Shop {
    let shop = Shop::new();
    scan(&shop, "sets/good.ply", &tray(None, 0.0), Motion::identity(), 1);
    let mut job = String::from("name = \"tray\"\nunits = \"mm\"\n");
    for set in ["good"].iter().chain(sets) {
        job.push_str(&format!(
            "[[set]]\nname = \"{set}\"\nfile = \"sets/{set}.ply\"\nunits = \"mm\"\n"
        ));
    }
    job.push_str(
        "[places]\nH1 = [62, 59, 0]\nH2 = [60, 243, 1]\nH3 = [329, 232, 0]\nH4 = [150, 160, -2]\nS = [328, 61, 0]\nbare = [200, 40, 0]\n",
    );
    job.push_str(comparisons);
    shop.write("job.toml", job);
    shop
}

/// The largest difference of the found motion from the way back along [`pose`], at the tray's corners, mm.
fn gap_mm(result: &Value) -> f64 {
    let rows = &result["setting"]["reference_from_measured"];
    let at = |i: usize, j: usize| rows[i][j].as_f64().unwrap();
    let gap = |corner: [f64; 3]| {
        let there = pose().apply(&Point::from(corner));
        let back = Vector::from_fn(|i, _| (0..3).map(|j| at(i, j) * there[j]).sum::<f64>() + at(i, 3));
        (back - Vector::from(corner)).norm()
    };
    [
        [0.0; 3],
        [400.0, 300.0, 0.0],
        [400.0, 0.0, 80.0],
        [0.0, 300.0, 80.0],
    ]
    .map(gap)
    .into_iter()
    .fold(0.0, f64::max)
}

fn names(result: &Value) -> Vec<&str> {
    let points = result["setting"]["points"].as_array().unwrap();
    points.iter().map(|p| p["name"].as_str().unwrap()).collect()
}

fn warned<'r>(result: &'r Value, code: &str) -> Vec<&'r str> {
    let all = result["warnings"].as_array().unwrap();
    all.iter()
        .filter(|w| w["code"] == code)
        .map(|w| w["words"].as_str().unwrap())
        .collect()
}

/// Names and places on the reference are enough, for the set itself, its second seating and another original.
#[test]
fn named_holes_are_found_in_every_set() {
    let shop = shop(
        &["after", "again", "other"],
        "[[comparison]]\nname = \"by holes\"\nreference = \"good\"\nmeasured = \"after\"\nrepeat = \"again\"\noriginals = [\"other\"]\ndatum_holes = [\"H1\", \"H2\", \"H3\", \"H4\"]\n",
    );
    for (seed, set) in [(2, "after"), (3, "again"), (4, "other")] {
        scan(&shop, &format!("sets/{set}.ply"), &tray(None, 0.0), pose(), seed);
    }
    let ran = shop.run(&["run", "job.toml", "--quiet"]);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("results/by holes");
    assert_eq!(result["setting"]["method"], "points");
    assert_eq!(names(&result), ["H1", "H2", "H3", "H4"]);
    for point in result["setting"]["points"].as_array().unwrap() {
        assert_eq!(point["used"], true);
        assert!(point["residual_mm"].as_f64().unwrap() < 0.6, "{point}");
    }
    let words = result["setting"]["words"].as_str().unwrap();
    assert!(words.contains("datum holes found in both sets"), "{words}");
    assert!(gap_mm(&result) < 0.8, "{}", gap_mm(&result));
    // The ± is that of the centres, and no less than what they are off by.
    let pm = result["setting"]["predicted_pm_mm"][0]["pm_mm"].as_f64().unwrap();
    assert!((0.02..3.0).contains(&pm), "{pm}");
    assert!(result["setting"]["repeat_pm_mm"].as_f64().unwrap() < 1.0);
    assert!(warned(&result, "datum-hole-not-found").is_empty());
}

/// What is not found is told by name and by set; the rest do, or too few are left and nothing is set.
#[test]
fn a_name_without_its_hole_is_told() {
    let shop = shop(
        &["after"],
        "[[comparison]]\nname = \"enough\"\nreference = \"good\"\nmeasured = \"after\"\ndatum_holes = [\"H1\", \"H2\", \"H3\", \"H4\", \"bare\"]\n[[comparison]]\nname = \"too few\"\nreference = \"good\"\nmeasured = \"after\"\ndatum_holes = [\"H1\", \"H3\", \"H4\"]\n",
    );
    scan(&shop, "sets/after.ply", &tray(Some(2), 0.0), pose(), 2);
    let ran = shop.run(&["run", "job.toml", "--quiet"]);
    assert_eq!(ran.code, 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("results/enough");
    assert_eq!(names(&result), ["H1", "H2", "H4"]);
    assert!(gap_mm(&result) < 1.5, "{}", gap_mm(&result));
    let told = warned(&result, "datum-hole-not-found");
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told[0].contains("bare on the reference"), "{told:?}");
    assert!(
        told[1].contains("could be H3") && told[1].contains("measured set"),
        "{told:?}"
    );
    for part in ["too few", "only 2 of the names", "could be H3", "measured set"] {
        assert!(ran.stderr.contains(part), "{part}\n{}", ran.stderr);
    }
    assert!(!shop.path("results/too few").exists());
}

/// A slot that was cut 5 mm to the rear pulls where it counts all ways, and not where it holds across its length only.
#[test]
fn in_order_a_slot_holds_one_way() {
    let order = "set_by = \"order\"\n";
    let like = "reference = \"good\"\nmeasured = \"after\"\n";
    let holes = "datum_holes = [\"H1\", \"H2\", \"H4\", \"S\"]\n";
    let shop = shop(
        &["after"],
        &format!(
            "[[comparison]]\nname = \"as a fixture\"\n{like}{order}{holes}[[comparison]]\nname = \"as told\"\n{like}{order}points_reference = \"sets/places.csv\"\ndatum_holes = [\"P1\", \"P2\", \"P3\", \"H1\", \"S\"]\n[[comparison]]\nname = \"alike\"\n{like}datum_holes = [\"H1\", \"H2\", \"S\"]\n"
        ),
    );
    scan(&shop, "sets/after.ply", &tray(None, 5.0), pose(), 2);
    shop.write(
        "sets/places.csv",
        "name,x,y,z,order,holds\nP1,60,60,0,1,\nP2,60,240,0,1,\nP3,330,230,0,1,up\nH1,60,60,0,2,\nS,330,60,0,3,\n",
    );
    let ran = shop.run(&["run", "job.toml", "--quiet"]);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    for (name, expected) in [
        (
            "as a fixture",
            vec![
                "plane at H1",
                "plane at H2",
                "plane at H4",
                "plane at S",
                "H1",
                "S",
            ],
        ),
        ("as told", vec!["P1", "P2", "P3", "H1", "S"]),
    ] {
        let result = shop.result(&format!("results/{name}"));
        assert_eq!(result["setting"]["method"], "order");
        assert_eq!(names(&result), expected);
        // Two centres 270 mm apart set the turn.
        assert!(gap_mm(&result) < 1.0, "{name}: {}", gap_mm(&result));
        let slot = named(&result["setting"]["points"], "S");
        assert!(slot["residual_mm"].as_f64().unwrap() < 0.05, "{slot}");
    }
    assert!(gap_mm(&shop.result("results/alike")) > 0.9);
}

/// The holes start what the kept metal finishes.
#[test]
fn holes_start_a_setting_by_what_was_left_alone() {
    let shop = shop(
        &["after"],
        "[[region]]\nname = \"all\"\nstatus = \"kept\"\nbox = [[-5, -5, -5], [405, 305, 85]]\n[[comparison]]\nname = \"kept\"\nreference = \"good\"\nmeasured = \"after\"\ndatum_holes = [\"H1\", \"H2\", \"H3\", \"H4\"]\n",
    );
    scan(&shop, "sets/after.ply", &tray(None, 0.0), pose(), 2);
    let ran = shop.run(&["run", "job.toml", "--quiet"]);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("results/kept");
    assert_eq!(result["setting"]["method"], "left-alone");
    assert_eq!(names(&result), ["H1", "H2", "H3", "H4"]);
    assert!(gap_mm(&result) < 0.1, "{}", gap_mm(&result));
}

/// A floor slides on itself; the holes hold it that way, and what lies across is known as well as they are.
#[test]
fn what_the_kept_floor_lets_slide_the_holes_hold() {
    let shop = shop(
        &["after"],
        "[[region]]\nname = \"floor\"\nstatus = \"kept\"\nbox = [[15, 15, -5], [405, 305, 5]]\n[[region]]\nname = \"near wall\"\nstatus = \"new\"\noutside = \"left\"\nbox = [[10, -8, 15], [405, 8, 85]]\n[[comparison]]\nname = \"slides\"\nreference = \"good\"\nmeasured = \"after\"\nset_by = \"left-alone\"\nkept = [\"floor\"]\nnew = [\"near wall\"]\n[[comparison]]\nname = \"held\"\nreference = \"good\"\nmeasured = \"after\"\nkept = [\"floor\"]\nnew = [\"near wall\"]\ndatum_holes = [\"H1\", \"H2\", \"H3\", \"H4\"]\n",
    );
    scan(&shop, "sets/after.ply", &tray(None, 0.0), pose(), 2);
    let ran = shop.run(&["run", "job.toml", "--quiet"]);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let free = |name: &str| {
        let result = shop.result(&format!("results/{name}"));
        result["setting"]["held"]["free"].as_array().unwrap().len()
    };
    assert_eq!((free("slides"), free("held")), (3, 0));
    let held = shop.result("results/held");
    let words = held["setting"]["words"].as_str().unwrap();
    assert!(words.contains("; the points hold it"), "{words}");
    assert!(gap_mm(&held) < 0.3, "{}", gap_mm(&held));
    let wall = &held["regions"][1];
    assert_eq!(wall["verdict"], "within", "{wall}");
    // Known by the holes: not to a hundredth, as the skin would have it, and not unknown.
    let pm = wall["pm_mm"].as_f64().unwrap();
    assert!((0.02..0.5).contains(&pm), "{pm}");
}
