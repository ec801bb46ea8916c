//! Every way of setting, on parts whose motion and faults are known.

use std::fmt::Write;

use cloud::{Body, Motion, Point, Scan, Vector};
use demo::scan::{Scanned, Scanner};
use demo::sheet::{Place, Sheet};

use crate::shop::{Shop, named, part};

fn pose() -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::new(-1.1, 2.0, 0.4),
        Point::new(200.0, 150.0, 0.0),
        Vector::new(-900.0, 300.0, 70.0),
    )
}

fn set(shop: &Shop, name: &str, (points, normals): &(Vec<Point>, Vec<Vector>), moved: bool) {
    if moved {
        let points: Vec<Point> = points.iter().map(|p| pose().apply(p)).collect();
        let normals: Vec<Vector> = normals.iter().map(|n| pose().turn(n)).collect();
        shop.set(name, &points, Some(&normals));
    } else {
        shop.set(name, points, Some(normals));
    }
}

/// The largest difference of the found motion from the way back along `pose`, at the part's corners, mm.
fn gap_mm(result: &serde_json::Value, pose: &Motion<Body, Scan>) -> f64 {
    let rows = &result["setting"]["reference_from_measured"];
    let at = |i: usize, j: usize| rows[i][j].as_f64().unwrap();
    [
        [0.0; 3],
        [400.0, 300.0, 0.0],
        [400.0, 0.0, 120.0],
        [0.0, 300.0, 120.0],
    ]
    .map(|corner| {
        let there = pose.apply(&Point::from(corner));
        let back = Vector::from_fn(|i, _| (0..3).map(|j| at(i, j) * there[j]).sum::<f64>() + at(i, 3));
        (back - Vector::from(corner)).norm()
    })
    .into_iter()
    .fold(0.0, f64::max)
}

fn codes(result: &serde_json::Value) -> Vec<String> {
    let all = result["warnings"].as_array().unwrap();
    all.iter()
        .map(|w| w["code"].as_str().unwrap().to_string())
        .collect()
}

fn table(rows: &[(&str, [f64; 3], &str)], place: impl Fn(Point) -> Point) -> String {
    let mut out = String::from("name,x,y,z,order,holds\n");
    for (name, at, rest) in rows {
        let p = place(Point::from(*at));
        writeln!(out, "{name},{},{},{},{rest}", p.x, p.y, p.z).unwrap();
    }
    out
}

/// Pads, a line and a stop (ISO 5459, ASME Y14.5: datums in order): the pads are honoured although the stop was knocked.
#[test]
fn points_in_order_follow_the_pads_first() {
    let shop = Shop::new();
    set(&shop, "good.ply", &part(30_000, 1), false);
    set(&shop, "again.ply", &part(30_000, 2), true);
    let rows = [
        ("P1", [20.0, 20.0, 0.0], "1,up"),
        ("P2", [380.0, 20.0, 0.0], "1,up"),
        ("P3", [200.0, 280.0, 0.0], "1,up"),
        ("L1", [20.0, 0.0, 60.0], "2,across"),
        ("L2", [380.0, 0.0, 60.0], "2,across"),
        ("S", [0.0, 150.0, 60.0], "3,fore-aft"),
    ];
    shop.write("ours.csv", table(&rows, |p| p));
    // The stop's own point was taken 3 mm too high and 2 mm aside: neither is what a stop holds.
    let knocked = |p: Point| {
        let aside = if p.x == 0.0 {
            Vector::new(0.0, 2.0, 3.0)
        } else {
            Vector::zeros()
        };
        pose().apply(&(p + aside))
    };
    shop.write("theirs.csv", table(&rows, knocked));
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "again.ply",
        "--units",
        "mm",
        "--set-by",
        "order",
        "--points-reference",
        "ours.csv",
        "--points-measured",
        "theirs.csv",
        "--out",
        "out",
    ]);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("out");
    assert_eq!(result["setting"]["method"], "order");
    assert!(gap_mm(&result, &pose()) < 1e-3, "{}", gap_mm(&result, &pose()));
}

fn drilled() -> Vec<Sheet> {
    // A plate of 400 x 300 mm with a bend, and holes that have a hand.
    let holes = [[2.0, 2.0], [13.0, 2.0], [13.5, 9.0], [3.0, 10.0], [8.0, 5.0]];
    let at = |h: &[f64; 2]| ([h[0], h[1], 0.0], 1.0);
    vec![
        Sheet::flat(
            "plate",
            [0.0; 3],
            [400.0 / 25.4, 0.0, 0.0],
            [0.0, 300.0 / 25.4, 0.0],
        )
        .holes(holes.iter().map(at).collect()),
    ]
}

fn scan(
    spacing_mm: f64,
    pose: Motion<Body, Scan>,
    seed: u64,
    sheets: &[Sheet],
    moved: impl Fn(&str, &mut Place),
) -> Scanned {
    let scanner = Scanner {
        spacing_mm,
        noise_mm: 0.05,
        strays: 0.0,
        blind: Vec::new(),
        pose,
        seed,
    };
    scanner.scan(sheets, moved)
}

/// A flat plate slides on itself: only its holes say where it lies, and they need no names.
#[test]
fn a_flat_plate_is_set_by_its_holes() {
    let shop = Shop::new();
    let good = scan(1.5, Motion::identity(), 1, &drilled(), |_, _| {});
    let again = scan(1.5, pose(), 2, &drilled(), |_, _| {});
    shop.set("good.ply", &good.points_mm, Some(&good.normals));
    shop.set("again.ply", &again.points_mm, Some(&again.normals));
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "again.ply",
        "--units",
        "mm",
        "--set-by",
        "holes",
        "--out",
        "out",
    ]);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("out");
    assert_eq!(result["setting"]["pairs"], 5);
    let gap = gap_mm(&result, &pose());
    assert!(gap < 0.5, "{gap}");
    // The ± of so few holes is no smaller than what they are off by.
    let pm: Vec<f64> = result["setting"]["predicted_pm_mm"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["pm_mm"].as_f64().unwrap())
        .collect();
    assert!(pm.iter().all(|pm| *pm > 0.02 && *pm < 3.0), "{pm:?}");
}

const REGIONS: &str = "[[region]]\nname = \"near wall\"\nstatus = \"kept\"\nbox = [[-5, -5, 20], [405, 5, 125]]\n[[region]]\nname = \"left wall\"\nstatus = \"kept\"\nbox = [[-5, 10, 20], [5, 305, 125]]\n[[region]]\nname = \"front floor\"\nstatus = \"kept\"\nbox = [[10, 10, -50], [120, 290, 50]]\n[[region]]\nname = \"rear floor\"\nstatus = \"kept\"\nbox = [[280, 10, -50], [390, 290, 50]]\n[[region]]\nname = \"mid floor\"\nstatus = \"worked\"\nbox = [[150, 10, -50], [250, 290, 50]]\n";

/// One of four regions that were marked as kept was moved all the same.
#[test]
fn a_kept_region_that_moved_is_named() {
    let shop = Shop::new();
    set(&shop, "good.ply", &part(60_000, 1), false);
    let mut measured = part(60_000, 2);
    for (p, n) in measured.0.iter_mut().zip(&measured.1) {
        if p.x > 265.0 && n.z.abs() > 0.5 {
            p.z += 2.0;
        }
    }
    set(&shop, "later.ply", &measured, true);
    shop.write("regions.toml", REGIONS);
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "later.ply",
        "--units",
        "mm",
        "--regions",
        "regions.toml",
        "--out",
        "out",
    ]);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("out");
    let moved = result["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|w| w["code"] == "may-have-moved");
    let words = moved.unwrap_or_else(|| panic!("{:?}", codes(&result)))["words"]
        .as_str()
        .unwrap();
    assert!(words.contains("rear floor") && words.contains("high"), "{words}");
    // It still pulls with the others until the owner says otherwise.
    assert!(gap_mm(&result, &pose()) < 2.5, "{}", gap_mm(&result, &pose()));
}

/// Named points start a setting that kept metal finishes; where the two part, the points win, and it is told.
#[test]
fn points_win_over_metal_that_has_moved() {
    let shop = Shop::new();
    set(&shop, "good.ply", &part(50_000, 1), false);
    shop.write("regions.toml", REGIONS);
    let at = [
        ("D1", [0.0, 0.0, 0.0], ","),
        ("D2", [400.0, 0.0, 0.0], ","),
        ("D3", [400.0, 300.0, 0.0], ","),
        ("D4", [0.0, 300.0, 0.0], ","),
        ("D5", [0.0, 0.0, 120.0], ","),
    ];
    shop.write("ours.csv", table(&at, |p| p));
    shop.write("theirs.csv", table(&at, |p| pose().apply(&p)));
    // Everything but the points was moved by 1.5 mm along itself: the metal agrees with itself, the points with themselves.
    for (name, by) in [("home.ply", 0.0), ("moved.ply", 1.5)] {
        let mut measured = part(50_000, 2);
        for p in &mut measured.0 {
            p.x += by;
        }
        set(&shop, name, &measured, true);
        let ran = shop.run(&[
            "compare",
            "good.ply",
            name,
            "--units",
            "mm",
            "--regions",
            "regions.toml",
            "--points-reference",
            "ours.csv",
            "--points-measured",
            "theirs.csv",
            "--out",
            "out",
        ]);
        assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
        let result = shop.result("out");
        assert_eq!(
            codes(&result).contains(&"points-against-metal".to_string()),
            by > 0.0
        );
        assert!(
            gap_mm(&result, &pose()) < 0.1,
            "{name}: {}",
            gap_mm(&result, &pose())
        );
    }
}

/// The same part put back and measured again, sprung by half a millimetre at one end: the ± grows by what that shows.
#[test]
fn a_repeat_widens_every_band() {
    let shop = Shop::new();
    set(&shop, "good.ply", &part(8_000, 1), false);
    set(&shop, "first.ply", &part(8_000, 2), true);
    let mut again = part(8_000, 3);
    for p in &mut again.0 {
        p.z += 0.5 * (p.x / 400.0 - 0.5);
    }
    set(&shop, "second.ply", &again, false);
    let pm = |more: &[&str]| {
        let asked = [
            "compare",
            "good.ply",
            "first.ply",
            "--units",
            "mm",
            "--out",
            "out",
        ];
        let ran = shop.run(&[&asked[..], more].concat());
        assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
        let result = shop.result("out");
        (
            result["figures"]["pm_mm"].as_f64().unwrap(),
            result["setting"]["repeat_pm_mm"].as_f64(),
        )
    };
    let (alone, none) = pm(&[]);
    let (repeated, added) = pm(&["--repeat", "second.ply"]);
    assert!(none.is_none());
    let added = added.unwrap();
    assert!((0.02..0.5).contains(&added), "{added}");
    assert!(
        repeated > alone && (repeated - alone.hypot(added)).abs() < 0.02,
        "{repeated} {alone} {added}"
    );
}

/// A trough whose right side was raised, held against its own mirror image: the plane comes from what was left alone.
#[test]
fn side_to_side_tells_what_differs() {
    let shop = Shop::new();
    let sheets = demo::tub::sheets();
    let moved = scan(7.0, Motion::identity(), 5, &sheets, |part, place| {
        if part == "right floor" || part == "right cross bar" {
            place.at.z += 3.0 / 16.0;
        }
    });
    shop.set("shell.ply", &moved.points_mm, Some(&moved.normals));
    shop.write(
        "regions.toml",
        "units = \"in\"\n[[region]]\nname = \"right floor\"\nbox = [[3, 6, 19.4], [33, 23, 20.7]]\noutside = \"up\"\nstatus = \"worked\"\n[[region]]\nname = \"rear end\"\nstatus = \"kept\"\nbox = [[52, -23, 27], [84, 23, 45]]\n[[region]]\nname = \"bulkheads\"\nstatus = \"kept\"\nbox = [[-1, -24, 31], [51, 24, 45]]\n[[region]]\nname = \"outer sills\"\nstatus = \"kept\"\nbox = [[-3, 25.5, 19], [55, 29, 28]]\n[[region]]\nname = \"left outer sill\"\nstatus = \"kept\"\nbox = [[-3, -29, 19], [55, -25.5, 28]]\n",
    );
    let ran = shop.run(&[
        "compare",
        "shell.ply",
        "--mirror",
        "--units",
        "mm",
        "--regions",
        "regions.toml",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    assert!(
        ran.stdout.contains("differs") && !ran.stdout.contains("OUT"),
        "{}",
        ran.stdout
    );
    let result = shop.result("out");
    let normal: Vec<f64> = (0..3)
        .map(|k| result["mirror"]["plane"]["normal"][k].as_f64().unwrap())
        .collect();
    assert!((normal[1].abs() - 1.0).abs() < 1e-6, "{normal:?}");
    assert!(result["mirror"]["plane"]["offset_mm"].as_f64().unwrap().abs() < 0.1);
    let mean = named(&result["regions"], "right floor")["mean_mm"]
        .as_f64()
        .unwrap();
    assert!((mean - 4.76).abs() < 0.4, "{mean}");
    let mean = named(&result["regions"], "rear end")["mean_mm"].as_f64().unwrap();
    assert!(mean.abs() < 0.1, "{mean}");
}

/// Some programs write every normal to the wrong side; the set is found all the same, and it is told.
#[test]
fn normals_to_the_wrong_side_are_turned() {
    let shop = Shop::new();
    set(&shop, "good.ply", &part(30_000, 1), false);
    let mut measured = part(30_000, 2);
    for normal in &mut measured.1 {
        *normal = -*normal;
    }
    set(&shop, "turned.ply", &measured, true);
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "turned.ply",
        "--units",
        "mm",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("out");
    assert!(codes(&result).contains(&"normals-turned".to_string()));
    assert!(gap_mm(&result, &pose()) < 0.1);
}

/// More new than old, and told so: an all-over setting would follow the new metal, and is refused.
#[test]
fn all_over_is_refused_where_most_was_changed() {
    let shop = Shop::new();
    set(&shop, "good.ply", &part(20_000, 1), false);
    set(&shop, "later.ply", &part(20_000, 2), true);
    shop.write(
        "regions.toml",
        "[[region]]\nname = \"floor\"\nstatus = \"new\"\nbox = [[10, 10, -50], [390, 290, 50]]\n[[region]]\nname = \"near wall\"\nstatus = \"kept\"\nbox = [[-5, -5, 0], [405, 5, 125]]\n",
    );
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "later.ply",
        "--units",
        "mm",
        "--regions",
        "regions.toml",
        "--set-by",
        "all-over",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 2);
    assert!(ran.stderr.contains("was left alone"), "{}", ran.stderr);
    assert!(!shop.path("out").exists());
}
