//! What a job asks for besides the deviation: checks, sections, other sets, the tape sheet; on two plates with known answers.

use cloud::{Point, Vector};
use serde_json::Value;

use crate::shop::{Shop, named, part, uniform};

/// Two plates side by side with a gap of 6 mm, a hole in each; the second may be moved.
fn plates(seed: u64, moved: Vector) -> (Vec<Point>, Vec<Vector>) {
    let mut points = Vec::new();
    for i in 0..40_000u64 {
        let k = 4 * (i + seed * 1_000_000);
        let noise = 0.05 * (uniform(k + 2) + uniform(k + 3) - 1.0);
        let at = Point::new(400.0 * uniform(k), 150.0 * uniform(k + 1), noise);
        let hole = |x: f64, y: f64, radius: f64| (at.x - x).hypot(at.y - y) < radius;
        if (200.0..206.0).contains(&at.x) || hole(60.0, 75.0, 10.0) || hole(320.0, 60.0, 7.0) {
            continue;
        }
        points.push(if at.x > 203.0 { at + moved } else { at });
    }
    let normals = vec![Vector::z(); points.len()];
    (points, normals)
}

const JOB: &str = r#"
name = "plates"
units = "mm"
limit = "1/16 in"

[[set]]
name = "before"
file = "sets/before.ply"
units = "mm"
[[set]]
name = "after"
file = "sets/after.ply"
units = "mm"
[[set]]
name = "held"
file = "sets/held.ply"
units = "mm"
[[set]]
name = "second original"
file = "sets/second.ply"
units = "mm"
[[set]]
name = "third original"
file = "sets/third.ply"
units = "mm"

[[region]]
name = "first"
box = [[-1, -1, -10], [201, 151, 10]]
outside = "up"
[[region]]
name = "second"
box = [[205, -1, -10], [405, 151, 10]]
outside = "up"

[places]
P1 = [60, 75, 0]
P2 = [320, 60, 0]

[[check]]
name = "shut line"
kind = "gap"
between = ["first", "second"]
[[check]]
name = "step"
kind = "flush"
between = ["first", "second"]
[[check]]
name = "hole to hole"
kind = "tram"
between = ["P1", "P2"]
[[check]]
name = "rise"
kind = "height"
between = ["P1", "P2"]
[[check]]
name = "first bolt"
kind = "bolt"
at = "P1"
size = "16 mm"
[[check]]
name = "second bolt"
kind = "bolt"
at = "P2"
size = "13 mm"
[[check]]
name = "first plate"
kind = "flat"
region = "first"
limit = "0.5 mm"
[[check]]
name = "round hole"
kind = "round"
at = [60, 75, 0]
limit = "5 mm"
[[check]]
name = "along both"
kind = "straight"
between = ["P1", "P2"]

[[section]]
name = "beside the seam"
along = [[212, 10, 0], [212, 140, 0]]
every = "1 in"

[[comparison]]
name = "moved"
reference = "before"
measured = "after"
set_by = "as-is"
checks = ["shut line", "step", "hole to hole", "rise", "first bolt", "second bolt", "first plate", "round hole", "along both"]
sections = ["beside the seam"]
holes = true
edges = true
held = "held"
originals = ["second original", "third original"]
"#;

fn job() -> Shop {
    let shop = Shop::new();
    for (file, seed, moved) in [
        ("before", 1, Vector::zeros()),
        ("after", 2, Vector::new(3.0, 0.0, 2.4)),
        // Held, the step goes and the gap stays.
        ("held", 3, Vector::new(3.0, 0.0, 0.0)),
        ("second", 4, Vector::new(0.2, 0.0, 0.1)),
        ("third", 5, Vector::new(-0.2, 0.0, -0.1)),
    ] {
        let (points, normals) = plates(seed, moved);
        shop.set(&format!("sets/{file}.ply"), &points, Some(&normals));
    }
    shop.write("job.toml", JOB);
    shop
}

fn off(result: &Value, check: &str) -> f64 {
    named(&result["checks"], check)["off_mm"].as_f64().unwrap()
}

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() < within, "{found} for {expected}");
}

#[test]
fn checks_sections_and_other_sets_say_what_was_moved() {
    let shop = job();
    let ran = shop.run(&["run", "job.toml", "--quiet"]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("results/moved");
    let check = |name: &str| named(&result["checks"], name);

    near(off(&result, "shut line"), 3.0, 0.35);
    near(check("shut line")["reference_mm"].as_f64().unwrap(), 6.0, 0.5);
    assert_eq!(check("shut line")["verdict"], "outside");
    near(off(&result, "step"), -2.4, 0.1);
    assert!(
        check("step")["words"]
            .as_str()
            .unwrap()
            .starts_with("first stands 3/32 shy")
    );
    near(off(&result, "hole to hole"), 3.0, 0.3);
    near(off(&result, "rise"), 2.4, 0.15);
    assert_eq!(check("first bolt")["verdict"], "within");
    assert_eq!(check("second bolt")["verdict"], "outside");
    assert!(
        check("second bolt")["words"]
            .as_str()
            .unwrap()
            .contains("does not go through both as they lie: file or move the hole")
    );
    assert_eq!(check("first plate")["verdict"], "within");
    assert!(check("first plate")["measured_mm"].as_f64().unwrap() < 0.2);
    assert_eq!(check("round hole")["verdict"], "within");
    // A step between two long legs is out of straight by nearly all of it; the reference has none.
    near(check("along both")["measured_mm"].as_f64().unwrap(), 2.25, 0.25);
    near(check("along both")["reference_mm"].as_f64().unwrap(), 0.0, 0.2);
    // The step goes when it is held: so it is not judged.
    assert_eq!(check("along both")["verdict"], "within");
    assert_eq!(named(&result["arrangement"], "along both")["kind"], "arrangement");

    // The second plate's hole went with it, in words of its sheet, and its bolt with the hole.
    let moved = result["holes"].as_array().unwrap().iter().find(|h| {
        let at = h["reference_at_mm"][0].as_f64();
        at.is_some_and(|x| (x - 320.0).abs() < 2.0)
    });
    let moved = moved.unwrap();
    let words = moved["words"].as_str().unwrap();
    assert!(
        (words.contains("1/8 rearward") || words.contains("7/64 rearward")) && words.contains("3/32 proud"),
        "{words}"
    );
    near(moved["clear"]["clear_mm"].as_f64().unwrap(), 11.0, 0.4);
    near(moved["in_sheet"]["out_mm"].as_f64().unwrap(), 2.4, 0.1);
    near(moved["tipped"]["deg"].as_f64().unwrap(), 0.0, 1.0);

    // Every inch along the seam the metal is 2.4 high; both lengths along the metal are one.
    let section = named(&result["sections"], "beside the seam");
    let planes = section["planes"].as_array().unwrap();
    assert_eq!(planes.len(), 6);
    for plane in planes {
        near(plane["off_mm"].as_f64().unwrap(), 2.4, 0.15);
    }
    assert!(
        shop.path("results/moved/section-beside-the-seam-01.png")
            .is_file()
    );

    // What is only sprung goes when held, and is judged as held; what stays is shape.
    let held = |name: &str| named(&result["arrangement"], name);
    assert_eq!(held("second")["kind"], "arrangement");
    assert_eq!(held("shut line")["kind"], "shape");
    assert_eq!(named(&result["regions"], "second")["verdict"], "within");

    // Three originals show how far such parts differ by themselves.
    let house = named(&result["house"], "second: mean");
    assert_eq!(house["originals"], 3);
    assert!(
        house["words"]
            .as_str()
            .unwrap()
            .starts_with("outside the spread of 3 originals")
    );
    assert!(
        named(&result["house"], "first: mean")["words"]
            .as_str()
            .unwrap()
            .starts_with("among 3 originals")
    );

    // Every table is on record and there.
    for file in result["files"].as_array().unwrap() {
        assert!(
            shop.path("results/moved").join(file.as_str().unwrap()).is_file(),
            "{file}"
        );
    }
    for table in [
        "edges.csv",
        "holes.csv",
        "sections.csv",
        "places.csv",
        "checks.csv",
        "house.csv",
        "work.csv",
    ] {
        let listed = result["files"].as_array().unwrap().iter().any(|f| f == table);
        assert!(listed, "{table} in {}", result["files"]);
    }
    // Each thing to do is tied to a figure that is there.
    for task in result["work"].as_array().unwrap() {
        let figure = task["figure"].as_str().unwrap();
        if let Some((list, name)) = figure.split_once('/') {
            named(&result[list], name);
        }
    }
}

#[test]
fn the_tape_sheet_is_written_and_its_readings_are_taken_back() {
    let shop = job();
    // Before anything was run there is nothing to foretell.
    let ran = shop.run(&["tape", "job.toml"]);
    assert_eq!(ran.code, 2);
    assert!(ran.stderr.contains("run the job"), "{}", ran.stderr);
    shop.run(&["run", "job.toml", "--quiet"]);
    let before = shop.result("results/moved");
    near(
        named(&before["places"], "P2")["moved_mm"][0].as_f64().unwrap(),
        3.0,
        0.3,
    );
    // The two holes lie under a foot apart: too near for a tape to say much.
    let ran = shop.run(&["tape", "job.toml"]);
    assert_eq!(ran.code, 2, "{}", ran.stdout);
    let far = JOB.replace("[places]", "[places]\nP3 = [380, 140, 0]");
    shop.write("job.toml", far);
    assert_eq!(shop.run(&["tape", "job.toml"]).code, 2);
}

#[test]
fn readings_agree_or_do_not_and_a_filled_sheet_is_never_written_over() {
    let shop = Shop::new();
    let (points, normals) = part(3_000, 1);
    shop.set("a.ply", &points, Some(&normals));
    let job = "name = \"long\"\nunits = \"mm\"\n[[set]]\nname = \"a\"\nfile = \"a.ply\"\nunits = \"mm\"\n[[comparison]]\nname = \"last\"\nreference = \"a\"\nmeasured = \"a\"\nset_by = \"as-is\"\n";
    shop.write("job.toml", job);
    assert_eq!(shop.run(&["run", "job.toml", "--quiet"]).code, 0);
    // The results of a small part, with places as a shell has them.
    let place = |name: &str, at: [f64; 3]| {
        serde_json::json!({
            "name": name, "reference_at_mm": at, "measured_at_mm": at, "moved_mm": [0.0, 0.0, 0.0], "pm_mm": 0.3
        })
    };
    let mut result = shop.result("results/last");
    result["places"] = serde_json::json!([
        place("H1", [0.0, -400.0, 0.0]),
        place("H2", [0.0, 400.0, 0.0]),
        place("H5", [2000.0, -400.0, 0.0]),
        place("H6", [2000.0, 400.0, 0.0]),
    ]);
    shop.write("results/last/result.json", result.to_string());
    let ran = shop.run(&["tape", "job.toml"]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    let sheet = std::fs::read_to_string(shop.path("tape/sheet.csv")).unwrap();
    assert_eq!(sheet.lines().count(), 7, "{sheet}");
    assert!(sheet.contains("last,H1,H6,84-13/16,2154.1,"), "{sheet}");
    // Filled in right: one in inches, one in millimetres.
    let filled = |diagonal: &str| {
        let mut lines: Vec<String> = sheet.lines().map(String::from).collect();
        for line in &mut lines {
            if line.contains("H1,H6") {
                line.push_str(diagonal);
            } else if line.contains("H1,H2") {
                line.push_str("800 mm");
            }
        }
        shop.write("filled.csv", lines.join("\n"))
    };
    filled("84-13/16");
    let ran = shop.run(&["tape", "job.toml", "--readings", "filled.csv"]);
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    assert!(ran.stdout.contains("2 readings: all agree"), "{}", ran.stdout);
    filled("85-1/4");
    let ran = shop.run(&["tape", "job.toml", "--readings", "filled.csv"]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    assert!(ran.stdout.contains("reads 7/16 LONG"), "{}", ran.stdout);
    filled("seven feet");
    let ran = shop.run(&["tape", "job.toml", "--readings", "filled.csv"]);
    assert_eq!(ran.code, 2);
    assert!(ran.stderr.contains("filled.csv, line 2"), "{}", ran.stderr);
    // A sheet with readings in its place is not lost.
    std::fs::copy(filled("84"), shop.path("tape/sheet.csv")).unwrap();
    let ran = shop.run(&["tape", "job.toml"]);
    assert_eq!(ran.code, 2);
    assert!(ran.stderr.contains("holds 2 readings"), "{}", ran.stderr);
    assert!(
        std::fs::read_to_string(shop.path("tape/sheet.csv"))
            .unwrap()
            .contains("84")
    );
}

#[test]
fn what_a_job_asks_for_is_held_against_what_it_declares() {
    let shop = job();
    let wrong = JOB
        .replace("between = [\"P1\", \"P2\"]", "between = [\"P1\", \"P9\"]")
        .replace("region = \"first\"", "region = \"frist\"")
        .replace("every = \"1 in\"", "every = \"0.1 mm\"")
        .replace("size = \"16 mm\"", "diameter = \"16 mm\"")
        .replace("held = \"held\"", "held = \"hold\"\nshell = true");
    let held_itself = JOB.replace("held = \"held\"", "held = \"after\"");
    shop.write("itself.toml", held_itself);
    let ran = shop.run(&["run", "itself.toml"]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.stderr
            .contains("the set \"after\" is its reference or its measured set already"),
        "{}",
        ran.stderr
    );
    shop.write("job.toml", wrong);
    let ran = shop.run(&["run", "job.toml"]);
    assert_eq!(ran.code, 2);
    for expected in [
        "there is no place \"P9\"; did you mean \"P1\"?",
        "there is no region \"frist\"; did you mean \"first\"?",
        "[[section]] \"beside the seam\" asks for 1300 planes",
        "unknown key \"diameter\" in [[check]] \"first bolt\"",
        "\"size\" is missing in [[check]] \"first bolt\"",
        "there is no set \"hold\"; did you mean \"held\"?",
        "there is no table [shell]",
    ] {
        assert!(ran.stderr.contains(expected), "{expected}\n{}", ran.stderr);
    }
}
