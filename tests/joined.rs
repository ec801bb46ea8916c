//! `join`: windows of a closed part, each in a frame of its own, become one set.

use std::fs;

use cloud::{Body, Bounds, Motion, Point, Scan, Vector};
use serde_json::Value;

use crate::shop::{Ran, Shop, uniform};

/// A tub, closed all round, that looks different from every side: the place on its wall at the angle `t`, mm.
fn wall(t: f64, z: f64) -> Point {
    let r = 200.0
        + 14.0 * (2.0 * t + z / 35.0).sin()
        + 10.0 * (3.0 * t - z / 50.0).cos()
        + 9.0 * (5.0 * t + 1.0).sin() * (z / 28.0).cos()
        + 7.0 * (7.0 * t - z / 33.0 + 2.0).cos();
    Point::new(r * t.cos(), r * t.sin(), z)
}

/// Points of a window: enough for each to find its place to a tenth of a millimetre at the far corner.
const EACH: u64 = 8_000;

/// What is seen of the wall and of the bottom within 70° of one side: 0.1 mm of noise, normals to the outside.
fn window(side: u64) -> (Vec<Point>, Vec<Vector>) {
    (0..EACH)
        .map(|i| {
            let k = 7 * (i + (side + 1) * 10_000_000);
            let t = (72.0 * side as f64 + 70.0 * (2.0 * uniform(k) - 1.0)).to_radians();
            let noise = 0.2 * (uniform(k + 1) + uniform(k + 2) + uniform(k + 3) - 1.5);
            if i % 5 == 0 {
                let r = (60f64.powi(2) + (150f64.powi(2) - 60f64.powi(2)) * uniform(k + 4)).sqrt();
                return (Point::new(r * t.cos(), r * t.sin(), -noise), -Vector::z());
            }
            let z = 250.0 * uniform(k + 4);
            let along = wall(t + 1e-4, z) - wall(t - 1e-4, z);
            let up = wall(t, z + 1e-2) - wall(t, z - 1e-2);
            let normal = along.cross(&up).normalize();
            (wall(t, z) + normal * noise, normal)
        })
        .unzip()
}

/// A frame of its own for each window, by what share it is turned and shifted.
fn pose(side: u64, share: f64) -> Motion<Body, Scan> {
    let s = side as f64;
    Motion::turn_about(
        Vector::new((s + 1.0).sin(), (2.0 * s).cos(), (3.0 * s + 0.5).sin()) * (2.0 * share),
        Point::new(0.0, 0.0, 125.0),
        Vector::new(500.0 - 300.0 * s, 200.0 * (5.0 * s).sin(), -90.0 * s) * share,
    )
}

const NAMES: [&str; 5] = ["a.ply", "b.ply", "c.ply", "d.ply", "e.ply"];

/// Writes the five windows into the shop.
fn write_windows(shop: &Shop, share: f64) {
    for (side, name) in NAMES.iter().enumerate() {
        let pose = pose(side as u64, share);
        let (points, normals) = window(side as u64);
        let points: Vec<Point> = points.iter().map(|p| pose.apply(p)).collect();
        let normals: Vec<Vector> = normals.iter().map(|n| pose.turn(n)).collect();
        shop.set(name, &points, Some(&normals));
    }
}

/// A ball, which has nothing of the tub.
fn write_ball(shop: &Shop) {
    let points: Vec<Point> = (0..8_000u64)
        .map(|i| {
            let (u, v) = (
                2.0 * uniform(3 * i) - 1.0,
                std::f64::consts::TAU * uniform(3 * i + 1),
            );
            let flat = (1.0 - u * u).sqrt();
            Point::from(Vector::new(flat * v.cos(), flat * v.sin(), u) * 60.0)
        })
        .collect();
    shop.set("ball.ply", &points, None);
}

fn join(shop: &Shop, takes: &[&str], more: &[&str]) -> Ran {
    shop.run(&[&["join"][..], takes, &["--units", "mm"], more].concat())
}

fn record(shop: &Shop, name: &str) -> Value {
    serde_json::from_slice(&fs::read(shop.path(name)).unwrap()).unwrap()
}

/// The farthest that any window lies off in the joined set, against where it was cut, mm.
fn farthest_mm(record: &Value, share: f64) -> f64 {
    let sides = 0..record["takes"].as_array().unwrap().len() as u64;
    sides
        .map(|side| off_mm(record, side, share, &window(side).0))
        .fold(0.0, f64::max)
}

/// The farthest that a take lies off in the joined set of which these places were seen, mm.
fn off_mm(record: &Value, side: u64, share: f64, seen: &[Point]) -> f64 {
    let rows = &record["takes"][side as usize]["joined_from_take"];
    let value = |i: usize, j: usize| rows[i][j].as_f64().unwrap();
    let there = pose(side, share);
    let truth = there.inverse().then(&pose(0, share));
    let seen: Vec<Point> = seen.iter().map(|p| there.apply(p)).collect();
    let off = |corner: &Point| {
        let found = Vector::from_fn(|i, _| {
            value(i, 0) * corner.x + value(i, 1) * corner.y + value(i, 2) * corner.z + value(i, 3)
        });
        (found - truth.apply(corner).coords).norm()
    };
    let corners = Bounds::of(&seen).unwrap().corners();
    corners.iter().map(off).fold(0.0, f64::max)
}

fn nothing_unfinished(shop: &Shop) {
    for entry in fs::read_dir(shop.path("")).unwrap() {
        let name = entry.unwrap().file_name();
        assert!(!name.to_string_lossy().contains("unfinished"), "{name:?}");
    }
}

#[test]
fn windows_all_round_a_tub_in_unknown_poses_become_one_set() {
    let shop = Shop::new();
    write_windows(&shop, 1.0);
    let ran = join(&shop, &NAMES, &["--out", "tub.ply"]);
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    let record = record(&shop, "tub.json");
    let off = farthest_mm(&record, 1.0);
    assert!(off < 0.1, "{off} mm at the far corner\n{}", ran.stdout);
    // Each on the one before, and the last on the first.
    let links = record["links"].as_array().unwrap();
    let loops: Vec<&Value> = links.iter().filter(|l| l["closes_loop"] == true).collect();
    assert_eq!((links.len(), loops.len()), (5, 1), "{}", ran.stdout);
    let ends = |l: &Value| (l["reference"].as_u64(), l["measured"].as_u64());
    assert_eq!(ends(loops[0]), (Some(1), Some(5)));
    for link in links {
        assert!(link["checked"] == true && link["left_out"] == false, "{link}");
    }
    assert!(loops[0]["after_mm"].as_f64().unwrap() < 0.1);
    let drift = record["drift_mm"].as_f64().unwrap();
    assert!((0.0..1.0).contains(&drift), "{drift}");
    for words in ["drift:", "closes a loop", "5 on 1", "e.ply"] {
        assert!(ran.stdout.contains(words), "{words}\n{}", ran.stdout);
    }
    // The set itself: all points of all takes, and where they come from.
    let set = formats::read(&shop.path("tub.ply")).unwrap();
    let used: u64 = record["takes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|t| t["points_used"].as_u64().unwrap())
        .sum();
    assert_eq!(set.points.len() as u64, used);
    assert!(used > 5 * EACH - 400 && set.normals.is_some());
    assert!(set.comments.iter().any(|c| c.contains("joined from take 5: ")));
    let home = pose(0, 1.0).inverse();
    let most = set
        .points
        .iter()
        .map(|p| home.apply(p))
        .filter(|p| p.z > 1.0)
        .map(|p| {
            let on = wall(p.y.atan2(p.x), p.z);
            (p.x.hypot(p.y) - on.x.hypot(on.y)).abs()
        })
        .fold(0.0, f64::max);
    assert!(most < 1.0, "a point lies {most} mm off the wall");
    nothing_unfinished(&shop);
}

#[test]
fn as_placed_gives_the_same_bytes_on_any_threads_and_writes_over_nobody() {
    let shop = Shop::new();
    write_windows(&shop, 0.004);
    for (threads, out) in [("1", "one/tub.ply"), ("2", "two/tub.ply")] {
        let more = ["--as-placed", "--threads", threads, "--out", out];
        let ran = join(&shop, &NAMES, &more);
        assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    }
    let off = farthest_mm(&record(&shop, "one/tub.json"), 0.004);
    assert!(off < 0.1, "{off} mm at the far corner");
    for file in ["tub.ply", "tub.json"] {
        let read = |folder: &str| fs::read(shop.path(folder).join(file)).unwrap();
        assert!(
            read("one") == read("two"),
            "{file} depends on the number of threads"
        );
    }
    // Our own is replaced; what is not ours, or a take, is left as it is.
    let again = |out: &str| join(&shop, &NAMES[..2], &["--as-placed", "--out", out]);
    assert_eq!(again("one/tub.ply").code, 0);
    assert_eq!(
        record(&shop, "one/tub.json")["takes"].as_array().unwrap().len(),
        2
    );
    shop.write("mine.ply", "ply, but mine");
    shop.write("notes.json", "{\"mine\": true}");
    let take = fs::read(shop.path("a.ply")).unwrap();
    for (out, named) in [
        ("mine.ply", "mine.ply"),
        ("notes.ply", "notes.json"),
        ("a.ply", "a.ply"),
        ("tub.txt", "tub.txt"),
    ] {
        let ran = again(out);
        assert_eq!(ran.code, 2, "{out}: {}{}", ran.stdout, ran.stderr);
        assert!(ran.stderr.contains(named), "{out}: {}", ran.stderr);
    }
    assert_eq!(
        fs::read_to_string(shop.path("mine.ply")).unwrap(),
        "ply, but mine"
    );
    assert_eq!(
        fs::read_to_string(shop.path("notes.json")).unwrap(),
        "{\"mine\": true}"
    );
    assert!(!shop.path("notes.ply").exists() && !shop.path("tub.txt").exists());
    assert_eq!(fs::read(shop.path("a.ply")).unwrap(), take);
    let twice = join(
        &shop,
        &["a.ply", "b.ply", "a.ply"],
        &["--as-placed", "--out", "x.ply"],
    );
    assert_eq!(twice.code, 2);
    assert!(twice.stderr.contains("give each take once"), "{}", twice.stderr);
    nothing_unfinished(&shop);
}

#[test]
fn a_take_with_nothing_in_common_is_named() {
    let shop = Shop::new();
    write_windows(&shop, 0.004);
    write_ball(&shop);
    let placed = join(
        &shop,
        &["a.ply", "b.ply", "ball.ply"],
        &["--as-placed", "--out", "x.ply"],
    );
    let unknown = join(&shop, &["a.ply", "ball.ply"], &["--out", "x.ply"]);
    assert!(
        placed.stderr.contains("ball.ply: found too little"),
        "{}",
        placed.stderr
    );
    for ran in [placed, unknown] {
        assert_eq!(ran.code, 2, "{}{}", ran.stdout, ran.stderr);
        assert!(ran.stderr.contains("witnessmark: ball.ply: "), "{}", ran.stderr);
        assert!(!shop.path("x.ply").exists() && !shop.path("x.json").exists());
    }
    nothing_unfinished(&shop);
    // A take that can't be read stops the rest as well.
    shop.write("broken.ply", "ply\nformat ascii 1.0\n");
    let ran = join(&shop, &["a.ply", "broken.ply"], &["--out", "x.ply"]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.stderr.contains("broken.ply") && !shop.path("x.ply").exists(),
        "{}",
        ran.stderr
    );
    assert_eq!(
        join(&shop, &["a.ply"], &["--out", "x.ply"]).code,
        2,
        "one take is no joining"
    );
}

/// What is seen between two places along a sheet whose folds all run one way: 0.1 mm of noise.
fn folded(from: f64, to: f64, seed: u64) -> (Vec<Point>, Vec<Vector>) {
    (0..EACH)
        .map(|i| {
            let k = 7 * (i + (seed + 20) * 10_000_000);
            let (x, y) = (from + (to - from) * uniform(k), 400.0 * uniform(k + 1));
            let noise = 0.2 * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5);
            let z = 40.0 * (x / 60.0).sin() + 12.0 * (x / 31.0).cos();
            let slope = 40.0 / 60.0 * (x / 60.0).cos() - 12.0 / 31.0 * (x / 31.0).sin();
            let normal = Vector::new(-slope, 0.0, 1.0).normalize();
            (Point::new(x, y, z) + normal * noise, normal)
        })
        .unzip()
}

const FOLDED: [(&str, f64, f64); 2] = [("near.ply", 0.0, 400.0), ("far.ply", 200.0, 600.0)];

/// Writes two takes of it, half of each in common, each in a frame of its own and so many times as large.
fn write_folded(shop: &Shop, times: [f64; 2]) {
    for (side, (name, from, to)) in FOLDED.iter().enumerate() {
        let pose = pose(side as u64, 1.0);
        let (points, normals) = folded(*from, *to, side as u64);
        let points: Vec<Point> = points.iter().map(|p| pose.apply(p) * times[side]).collect();
        let normals: Vec<Vector> = normals.iter().map(|n| pose.turn(n)).collect();
        shop.set(name, &points, Some(&normals));
    }
}

#[test]
fn takes_that_slide_on_each_other_are_told_so_and_joined_by_named_points() {
    let shop = Shop::new();
    write_folded(&shop, [1.0; 2]);
    let takes = FOLDED.map(|(name, _, _)| name);
    let ran = join(&shop, &takes, &["--out", "x.ply"]);
    for words in [
        "witnessmark: far.ply: has ",
        " % in common with near.ply, but slides on it ",
        "an edge that lies across, or a swage, or name points in both (--points)",
    ] {
        ran.assert_stopped(&takes, words);
    }
    assert!(!ran.stderr.contains("too little"), "{}", ran.stderr);
    // Named in inches, one of them 0.3 mm off.
    let places = [
        ("A", [210.0, 20.0, 5.0]),
        ("B", [390.0, 30.0, -4.0]),
        ("C", [300.0, 380.0, 0.0]),
        ("D", [220.0, 350.0, 9.0]),
    ];
    let mut table = "take,name,x (in),y (in),z (in)\n".to_string();
    for (side, take) in ["near", "far.ply"].iter().enumerate() {
        for (k, (name, at)) in places.iter().enumerate() {
            let off = if side == 1 && k == 2 { 0.3 } else { 0.0 };
            let at = pose(side as u64, 1.0).apply(&(Point::from(*at) + Vector::x() * off)) / 25.4;
            table += &format!("{take},{name},{},{},{}\n", at.x, at.y, at.z);
        }
    }
    shop.write("points.csv", &table);
    let ran = join(&shop, &takes, &["--points", "points.csv", "--out", "sheet.ply"]);
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    assert!(ran.stdout.contains("by named points"), "{}", ran.stdout);
    let record = record(&shop, "sheet.json");
    let links = record["links"].as_array().unwrap();
    assert_eq!(links.len(), 1);
    assert!(links[0]["by_points"] == true && links[0]["overlap"].as_f64().unwrap() > 0.4);
    assert_eq!(record["points"]["file"], "points.csv");
    let off = off_mm(&record, 1, 1.0, &folded(200.0, 600.0, 1).0);
    assert!(off < 0.6, "{off} mm at the far corner\n{}", ran.stdout);
    nothing_unfinished(&shop);
    // What the table has wrong is told with its line.
    let without_d = table
        .replace("far.ply,D,", "far.ply,E,")
        .replace("far.ply,C,", "far.ply,F,");
    for (text, words) in [
        (
            table.replace("far.ply,B", "for.ply,B"),
            "points.csv, line 7: found the take \"for.ply\"",
        ),
        (
            table.replace("far.ply,B", "far.ply,A"),
            "points.csv, line 7: found the name \"A\" for the second time",
        ),
        (
            without_d,
            "points.csv, line 2: found only 2 points of near.ply that another take has as well",
        ),
    ] {
        shop.write("points.csv", text);
        let ran = join(&shop, &takes, &["--points", "points.csv", "--out", "x.ply"]);
        ran.assert_stopped(&takes, words);
        assert!(!shop.path("x.ply").exists());
    }
}

/// The named points of both takes of a plain sheet as a table: those of the second in the frame `frame`, B of it so far off.
fn table(frame: u64, off_mm: f64) -> String {
    let mut table = "take,name,x,y,z\n".to_string();
    for (take, frame, off) in [("near.ply", 0, 0.0), ("far.ply", frame, off_mm)] {
        for (name, x, y) in [("A", 230.0, 220.0), ("B", 250.0 + off, 60.0), ("C", 280.0, 380.0)] {
            let at = pose(frame, 1.0).apply(&Point::new(x, y, 0.0));
            table += &format!("{take},{name},{},{},{}\n", at.x, at.y, at.z);
        }
    }
    table
}

#[test]
fn three_points_that_alone_hold_a_plain_sheet_must_agree_and_their_pm_is_told() {
    let shop = Shop::new();
    for (side, (name, from, to)) in FOLDED.iter().enumerate() {
        let (pose, k) = (pose(side as u64, 1.0), 40_000_000 * (side as u64 + 7));
        let points: Vec<Point> = (0..EACH)
            .map(|i| {
                let [x, y, z] = [0, 1, 2].map(|axis| uniform(k + 3 * i + axis));
                pose.apply(&Point::new(from + (to - from) * x, 400.0 * y, 0.3 * (z - 0.5)))
            })
            .collect();
        shop.set(name, &points, None);
    }
    let takes = FOLDED.map(|(name, _, _)| name);
    let by = |text: String, out: &str| {
        shop.write("points.csv", text);
        join(&shop, &takes, &["--points", "points.csv", "--out", out])
    };
    let ran = by(table(1, 6.0), "x.ply");
    ran.assert_stopped(&takes, "far.ply on near.ply: can't be laid without doubt: ");
    ran.assert_stopped(&takes, "they disagree (A lies ");
    by(table(3, 0.0), "x.ply").assert_stopped(&takes, " % of the surface is in common, and lie up to 0.");
    let ran = by(table(1, 0.0), "sheet.ply");
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    assert!(ran.stderr.contains("can't check each other"), "{}", ran.stderr);
    let record = record(&shop, "sheet.json");
    let points = &record["links"][0]["points"];
    assert_eq!(points["only_they_hold"].as_array().map(Vec::len), Some(3));
    // A pin's 0.4 mm on points 320 mm apart, at a corner 410 mm beyond their middle: 1.5 mm, and more at that of the box.
    for pm in [&record["takes"][1]["pm_mm"], &points["pm_mm"]] {
        assert!((1.3..3.0).contains(&pm.as_f64().unwrap()), "{pm}\n{}", ran.stdout);
    }
}

#[test]
fn a_take_in_another_unit_is_asked_about() {
    let shop = Shop::new();
    write_folded(&shop, [1.0, 1.0 / 25.4]);
    let takes = FOLDED.map(|(name, _, _)| name);
    let ran = join(&shop, &takes, &["--out", "x.ply"]);
    ran.assert_stopped(&takes, "far.ply: is the unit right? far.ply is 1/");
    ran.assert_stopped(
        &takes,
        "the size of near.ply, as if in were read as mm, too much to lay the one on the other",
    );
    assert!(!shop.path("x.ply").exists());
}
