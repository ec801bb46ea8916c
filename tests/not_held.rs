//! A panel that is kept in its skin and along one side alone: nothing holds it fore and aft, and what leans on that has no
//! verdict, whatever kind of figure it is; what does without keeps its own.

use cloud::{Point, Vector};
use serde_json::Value;

use crate::shop::{Shop, named, set_of_job, uniform};

/// Holes of 20 mm.
const HOLES: [[f64; 2]; 4] = [[80.0, -70.0], [90.0, 80.0], [330.0, -75.0], [340.0, 70.0]];
const SPACING_MM: f64 = 2.0;
/// How far everything that was worked has moved fore and aft, mm.
const BY_MM: f64 = 4.0;

/// Points scattered over a patch, one in each cell of a grid, with how far they are off along their normals.
fn patch(
    size: [f64; 2],
    seed: u64,
    put: impl Fn(f64, f64) -> Option<(Point, Vector)>,
) -> Vec<(Point, Vector)> {
    let cells = size.map(|mm| (mm / SPACING_MM) as u64);
    let place = |k: u64| {
        let at = |axis: usize, cell: u64| {
            let share = uniform(3 * k + axis as u64 + 10_000_000 * seed);
            (cell as f64 + share) * size[axis] / cells[axis] as f64
        };
        let (point, normal) = put(at(0, k / cells[1]), at(1, k % cells[1]))?;
        let normal = normal.normalize();
        let noise = 0.16 * (uniform(3 * k + 2 + 10_000_000 * seed) - 0.5);
        Some((point + normal * noise, normal))
    };
    (0..cells[0] * cells[1]).filter_map(place).collect()
}

/// A skin of 400 × 240 mm, gently crowned across, with four holes, a bead across it and a recess; a flange down each side, a lip
/// that hangs down in front and an apron that slopes down at the rear by 20°. Worked, the right flange stands 3 mm out, the lip
/// is 3 mm narrow, and lip, recess, one hole and the apron have moved fore and aft.
fn panel(worked: bool, seed: u64) -> (Vec<Point>, Vec<Vector>) {
    let by = if worked { BY_MM } else { 0.0 };
    let crown = |y: f64| -y * y / 3_000.0;
    let seed = 10 * seed;
    let mut all = patch([400.0 - by, 240.0], seed, |x, y| {
        let y = y - 120.0;
        let in_hole = |(k, hole): (usize, &[f64; 2])| {
            let moved = if k == 3 { by } else { 0.0 };
            (x - hole[0] - moved).hypot(y - hole[1]) < 10.0
        };
        let bead = (x - 150.0).hypot((y.abs() - 70.0).max(0.0)) / 12.0;
        let bead = if bead < 1.0 {
            1.2 * (1.0 + (std::f64::consts::PI * bead).cos())
        } else {
            0.0
        };
        let inside = (30.0 - (x - 260.0 - by).abs()).min(40.0 - y.abs());
        let recess = 4.0 * (inside / 10.0).clamp(0.0, 1.0);
        let solid = !HOLES.iter().enumerate().any(in_hole);
        solid.then(|| {
            let at = Point::new(x, y, crown(y) + bead - recess);
            (at, Vector::new(0.0, y / 1_500.0, 1.0))
        })
    });
    for (k, side) in [-1.0, 1.0].into_iter().enumerate() {
        let out = if worked && side > 0.0 { 3.0 } else { 0.0 };
        all.extend(patch([400.0, 25.0], seed + 1 + k as u64, |x, down| {
            let at = Point::new(x, side * 120.0 + out, crown(120.0) - down);
            Some((at, Vector::y() * side))
        }));
    }
    let deep = if worked { 22.0 } else { 25.0 };
    all.extend(patch([240.0, deep], seed + 3, |y, down| {
        Some((Point::new(by, y - 120.0, crown(y - 120.0) - down), -Vector::x()))
    }));
    let (sine, cosine) = 20f64.to_radians().sin_cos();
    all.extend(patch([240.0, 40.0], seed + 4, |y, out| {
        let at = Point::new(
            400.0 - 2.0 * by + out * cosine,
            y - 120.0,
            crown(y - 120.0) - out * sine,
        );
        Some((at, Vector::new(sine, 0.0, cosine)))
    }));
    all.into_iter().unzip()
}

const JOB: &str = r#"
[[region]]
name = "skin"
box = [[10, -112, -20], [380, 112, 8]]
status = "kept"
outside = "up"
[[region]]
name = "left flange"
box = [[0, -122, -40], [400, -118, -6]]
status = "kept"
outside = "left"
[[region]]
name = "right flange"
box = [[0, 118, -40], [400, 122, -6]]
outside = "right"
[[region]]
name = "front lip"
box = [[-3, -115, -40], [3, 115, -6]]
outside = "forward"
[[region]]
name = "rear apron"
box = [[402, -115, -40], [445, 115, 2]]
outside = "up"
pads = { "apron" = [420, 0, -7] }
[[recess]]
name = "ring"
box = [[230, -40, -8], [290, 40, 2]]
[places]
H1 = [80, -70, -2]
H2 = [90, 80, -2]
H4 = [340, 70, -2]
[[check]]
name = "tram H1 H4"
kind = "tram"
between = ["H1", "H4"]
[[check]]
name = "drop H1"
kind = "drop"
at = "H1"
[[check]]
name = "bolt H2"
kind = "bolt"
size = "3/8 in"
at = "H2"
[[check]]
name = "width"
kind = "width"
between = ["left flange", "right flange"]
[[comparison]]
name = "slides"
reference = "good"
measured = "after"
set_by = "left-alone"
folds = ["right flange", "front lip", "rear apron"]
beads = ["skin"]
recesses = ["ring"]
checks = ["tram H1 H4", "drop H1", "bolt H2", "width"]
holes = true
edges = true
"#;

fn verdict<'r>(result: &'r Value, list: &str, name: &str) -> &'r str {
    named(&result[list], name)["verdict"].as_str().unwrap()
}

fn all<'r>(result: &'r Value, list: &str) -> &'r [Value] {
    result[list].as_array().unwrap()
}

#[test]
fn what_leans_on_a_motion_that_nothing_holds_has_no_verdict_and_no_job() {
    let shop = Shop::new();
    for (name, worked, seed) in [("good", false, 1), ("after", true, 2)] {
        let (mut points, normals) = panel(worked, seed);
        if worked {
            for point in &mut points {
                *point += Vector::new(2.0, 1.0, -1.0);
            }
        }
        shop.set(&format!("sets/{name}.ply"), &points, Some(&normals));
    }
    let head = "name = \"panel\"\nunits = \"mm\"\n".to_string();
    shop.write(
        "job.toml",
        head + &set_of_job("good") + &set_of_job("after") + JOB,
    );
    let ran = shop.run(&["run", "job.toml", "--quiet"]);
    assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("results/slides");
    let free = all(&result["setting"]["held"], "free");
    assert_eq!(free.len(), 1, "{free:?}");
    assert!(free[0]["words"].as_str().unwrap().starts_with("fore and aft"));

    // What leans on it: the fold of the sloping apron, its move, every hole, the bead, the recess, the edges that face along it.
    let not_held = "nothing holds the set";
    let apron = named(&result["folds"], "rear apron");
    assert_eq!(apron["verdict"], "not-measured");
    assert!(apron["words"].as_str().unwrap().contains(not_held), "{apron}");
    assert_eq!(verdict(&result, "regions", "rear apron"), "not-measured");
    let pads = &named(&result["regions"], "rear apron")["move"]["pads"];
    assert_eq!(pads[0]["words"], "can't tell");
    let untold = all(&result, "warnings")
        .iter()
        .find(|w| w["code"] == "fold-not-seen")
        .unwrap();
    let words = untold["words"].as_str().unwrap();
    assert!(words.contains("front lip") && words.contains(not_held), "{words}");
    assert_eq!(all(&result, "holes").len(), 4);
    assert!(!all(&result, "beads").is_empty());
    for list in ["holes", "beads", "recesses"] {
        for found in all(&result, list) {
            assert_eq!(found["verdict"], "not-measured", "{found}");
        }
    }
    let ring = named(&result["recesses"], "ring");
    assert!(ring["words"][0].as_str().unwrap().contains(not_held), "{ring}");
    for edge in all(&result, "edges").iter().filter(|e| {
        let name = e["name"].as_str().unwrap();
        name.starts_with("rear") || name.starts_with("front")
    }) {
        assert_eq!(edge["verdict"], "not-measured", "{edge}");
    }
    assert_eq!(verdict(&result, "checks", "bolt H2"), "not-measured");
    let place = named(&result["places"], "H1");
    let along = |axis: usize| place["pm_along_mm"][axis].as_f64().unwrap();
    assert!(along(0) > 254.0 && along(1) < 1.0 && along(2) < 1.0, "{place}");

    // What does without it: a fold across it, how wide the lip is, distances, heights, widths.
    assert_eq!(verdict(&result, "folds", "right flange"), "outside");
    assert_eq!(
        verdict(&result, "edges", "bottom edge of the front lip"),
        "outside"
    );
    assert_eq!(
        verdict(&result, "edges", "bottom edge of the left flange"),
        "within"
    );
    assert_eq!(verdict(&result, "checks", "tram H1 H4"), "outside");
    assert_eq!(verdict(&result, "checks", "drop H1"), "within");
    assert_eq!(verdict(&result, "checks", "width"), "outside");

    // And there is nothing to do about what can't be told.
    for task in all(&result, "work") {
        let figure = task["figure"].as_str().unwrap();
        let leans = [
            "folds/rear apron",
            "folds/front lip",
            "recesses/",
            "beads/",
            "holes/",
        ];
        assert!(!leans.iter().any(|leaning| figure.starts_with(leaning)), "{task}");
    }
    let sent_back = all(&result, "work")
        .iter()
        .find(|task| task["figure"] == "verdict");
    let words = sent_back.map_or("", |task| task["words"].as_str().unwrap());
    assert!(!words.contains("apron") && !words.contains(", ring"), "{words}");
}
