//! `compare`, `look`, `start` and `run` on small sets with known answers.

use cloud::{Body, Motion, Point, Scan, Vector};

use crate::shop::{Shop, named, part, uniform};

/// A motion of the measured set's frame, for tests that must find it again.
fn pose() -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::new(2.0, -0.9, 1.4),
        Point::new(200.0, 150.0, 0.0),
        Vector::new(500.0, -300.0, 90.0),
    )
}

fn moved(points: &[Point]) -> Vec<Point> {
    points.iter().map(|p| pose().apply(p)).collect()
}

fn turned(normals: &[Vector]) -> Vec<Vector> {
    normals.iter().map(|n| pose().turn(n)).collect()
}

/// The largest difference of the found motion from the truth over the part, mm.
fn gap_mm(found: &serde_json::Value) -> f64 {
    let row = |i: usize| {
        found[i]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_f64().unwrap())
            .collect::<Vec<_>>()
    };
    let rows = [row(0), row(1), row(2)];
    [
        [0.0, 0.0, 0.0],
        [400.0, 300.0, 0.0],
        [400.0, 0.0, 120.0],
        [0.0, 300.0, 120.0],
    ]
    .map(|corner| {
        let there = pose().apply(&Point::from(corner));
        let back = Vector::from_fn(|i, _| {
            rows[i][0] * there.x + rows[i][1] * there.y + rows[i][2] * there.z + rows[i][3]
        });
        (back - Vector::from(corner)).norm()
    })
    .into_iter()
    .fold(0.0, f64::max)
}

#[test]
fn from_any_pose_with_a_dent() {
    let shop = Shop::new();
    let (points, normals) = part(60_000, 1);
    shop.set("good.ply", &points, Some(&normals));
    let (mut points, normals) = part(50_000, 2);
    for p in &mut points {
        if (p.x - 250.0).hypot(p.y - 150.0) < 40.0 {
            p.z -= 3.0;
        }
    }
    shop.set("dented.ply", &moved(&points), Some(&turned(&normals)));
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "dented.ply",
        "--units",
        "mm",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    assert!(ran.stderr.contains("warning:") && ran.stderr.contains("hide the fault"));
    let result = shop.result("out");
    assert!(gap_mm(&result["setting"]["reference_from_measured"]) < 0.1);
    assert_eq!(result["verdict"], "outside");
    let low = result["figures"]["min_mm"].as_f64().unwrap();
    assert!((low + 3.0).abs() < 0.4, "{low}");
    let at = &result["figures"]["min_at_mm"];
    assert!((at[0].as_f64().unwrap() - 250.0).hypot(at[1].as_f64().unwrap() - 150.0) < 45.0);
    assert_eq!(result["reference"]["sha256"].as_str().unwrap().len(), 64);
    // The same set against itself is all within.
    let ran = shop.run(&[
        "compare", "good.ply", "good.ply", "--units", "mm", "--set-by", "as-is", "--out", "same",
    ]);
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    assert_eq!(shop.result("same")["figures"]["max_mm"].as_f64().unwrap(), 0.0);
}

#[test]
fn named_points_and_regions() {
    let shop = Shop::new();
    let (points, normals) = part(40_000, 1);
    shop.set("good.ply", &points, Some(&normals));
    let (mut points, normals) = part(40_000, 2);
    for (p, n) in points.iter_mut().zip(&normals) {
        // The wall at the far end leans out by 4 mm.
        if n.x > 0.9 && p.x > 390.0 {
            p.x += 4.0;
        }
    }
    shop.set("bent.ply", &moved(&points), Some(&turned(&normals)));
    let at = [
        [0.0, 0.0, 0.0],
        [400.0, 0.0, 0.0],
        [400.0, 300.0, 0.0],
        [0.0, 300.0, 0.0],
        [0.0, 0.0, 120.0],
    ];
    let table = |place: &dyn Fn(Point) -> Point| {
        let rows: String = at
            .iter()
            .enumerate()
            .map(|(i, p)| {
                let p = place(Point::from(*p));
                format!("D{i},{},{},{}\n", p.x, p.y, p.z)
            })
            .collect();
        format!("name,x,y,z\n{rows}")
    };
    shop.write("there.csv", table(&|p| p));
    shop.write("here.csv", table(&|p| pose().apply(&p)));
    shop.write(
        "regions.toml",
        "[[region]]\nname = \"end wall\"\nbox = [[395, 150, -1], [405, 301, 61]]\noutside = \"rearward\"\npads = { \"top\" = [400, 225, 60] }\n\n[[region]]\nname = \"far wall\"\nbox = [[-5, 5, 30], [5, 300, 121]]\nstatus = \"kept\"\noutside = \"forward\"\n\n[[region]]\nname = \"front wall\"\nbox = [[5, -5, 30], [395, 5, 121]]\nstatus = \"kept\"\noutside = \"left\"\n",
    );
    let common = [
        "compare",
        "good.ply",
        "bent.ply",
        "--units",
        "mm",
        "--regions",
        "regions.toml",
    ];
    let points = ["--points-reference", "there.csv", "--points-measured", "here.csv"];
    let ran = shop.run(&[&common[..], &points, &["--set-by", "points", "--out", "out"]].concat());
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("out");
    assert_eq!(result["setting"]["method"], "points");
    assert!(gap_mm(&result["setting"]["reference_from_measured"]) < 1e-3);
    let wall = named(&result["regions"], "end wall");
    assert_eq!(wall["verdict"], "outside");
    assert!((wall["mean_mm"].as_f64().unwrap() - 4.0).abs() < 0.1, "{wall}");
    let shim = wall["move"]["pads"][0]["shim_mm"][0].as_f64().unwrap();
    assert!((shim + 4.0).abs() < 0.1, "{shim}");
    assert!(wall["move"]["words"].as_str().unwrap().contains("5/32 rearward"));
    // Two plain walls leave the setting free to slide up and down; the points that started it hold it that way.
    let ran = shop.run(&[&common[..], &points, &["--out", "kept"]].concat());
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("kept");
    assert_eq!(result["setting"]["method"], "left-alone");
    let (words, free) = (&result["setting"]["words"], &result["setting"]["held"]["free"]);
    assert!(free.as_array().unwrap().is_empty(), "{free}");
    assert!(
        words
            .as_str()
            .unwrap()
            .ends_with("; the points hold it up and down"),
        "{words}"
    );
    assert_eq!(named(&result["regions"], "end wall")["verdict"], "outside");
}

#[test]
fn a_mesh_of_few_large_faces_is_exact() {
    let shop = Shop::new();
    // A box of 200 × 100 × 50 as twelve triangles in inches, and points 0.5 mm outside its top.
    let corner = |i: usize| {
        let pick = |bit: usize, size: f64| if i >> bit & 1 == 0 { 0.0 } else { size / 25.4 };
        format!("v {} {} {}\n", pick(0, 200.0), pick(1, 100.0), pick(2, 50.0))
    };
    let faces = "f 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n";
    let text: String = (0..8).map(corner).collect::<String>() + faces;
    shop.write("box.obj", text);
    let points: Vec<Point> = (0..20_000)
        .map(|i| Point::new(f64::from(i % 200) + 0.5, f64::from(i / 200) + 0.5, 50.5))
        .collect();
    shop.set("top.ply", &points, None);
    let ran = shop.run(&[
        "compare",
        "box.obj",
        "top.ply",
        "--units",
        "mm",
        "--reference-units",
        "in",
        "--set-by",
        "as-is",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let figures = &shop.result("out")["figures"];
    for key in ["mean_mm", "min_mm", "max_mm"] {
        assert!(
            (figures[key].as_f64().unwrap() - 0.5).abs() < 1e-3,
            "{key}: {figures}"
        );
    }
    // One face of six, a third of the area.
    let coverage = figures["coverage"].as_f64().unwrap();
    assert!((coverage - 0.2857).abs() < 0.02, "{coverage}");
    assert_eq!(shop.result("out")["verdict"], "not-measured");
}

/// A mesh wound the wrong way round: the declared outside turns the direction and the number alike.
#[test]
fn a_declared_outside_turns_a_mesh_as_well() {
    let shop = Shop::new();
    shop.write(
        "sheet.obj",
        "v 0 0 0\nv 200 0 0\nv 200 100 0\nv 0 100 0\nf 1 4 3 2\n",
    );
    let points: Vec<Point> = (0..20_000)
        .map(|i| Point::new(f64::from(i % 200) + 0.5, f64::from(i / 200) + 0.5, 2.0))
        .collect();
    shop.set("up.ply", &points, None);
    for (outside, sign) in [("up", 1.0), ("down", -1.0)] {
        shop.write(
            "regions.toml",
            format!("[[region]]\nname = \"sheet\"\nbox = [[-1, -1, -5], [201, 101, 5]]\noutside = \"{outside}\"\npads = {{ \"mid\" = [100, 50, 0] }}\n"),
        );
        let ran = shop.run(&[
            "compare",
            "sheet.obj",
            "up.ply",
            "--units",
            "mm",
            "--set-by",
            "as-is",
            "--regions",
            "regions.toml",
            "--out",
            "out",
        ]);
        assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
        let region = shop.result("out")["regions"][0].clone();
        assert!(
            (region["mean_mm"].as_f64().unwrap() - 2.0 * sign).abs() < 1e-3,
            "{outside}: {region}"
        );
        // Whichever side is out, the metal is 2 mm up and a shim must take it down.
        assert!(
            (region["move"]["translation_mm"][2].as_f64().unwrap() - 2.0).abs() < 1e-3,
            "{outside}"
        );
        assert!(
            (region["move"]["pads"][0]["shim_mm"][2].as_f64().unwrap() + 2.0).abs() < 1e-3,
            "{outside}"
        );
    }
}

#[test]
fn look_says_what_a_file_holds() {
    let shop = Shop::new();
    let (points, normals) = part(20_000, 1);
    shop.set("a.ply", &points, Some(&normals));
    shop.write("b.xyz", "x,y,z\n1,2,3\n4,5\n");
    let ran = shop.run(&["look", "a.ply", "b.xyz"]);
    assert_eq!(ran.code, 2);
    for expected in [
        "PLY, binary little-endian",
        "20000, with normals",
        "a car's part if mm",
        "spacing",
        "noise",
        "sha256",
    ] {
        assert!(ran.stdout.contains(expected), "{expected}\n{}", ran.stdout);
    }
    assert!(ran.stderr.contains("b.xyz, line 3"), "{}", ran.stderr);
}

#[test]
fn a_new_job_runs_once_its_sets_are_there_and_one_bad_comparison_stops_no_other() {
    let shop = Shop::new();
    assert_eq!(shop.run(&["start", "job"]).code, 0);
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.stderr.contains("job.toml, line 9") && ran.stderr.contains("job.toml, line 17"),
        "{}",
        ran.stderr
    );
    assert_eq!(shop.run(&["start", "job"]).code, 2, "a job is never written over");
    let (points, normals) = part(20_000, 1);
    shop.set("job/sets/before.ply", &points, Some(&normals));
    let (points, normals) = part(20_000, 2);
    shop.set("job/sets/after.ply", &moved(&points), Some(&turned(&normals)));
    let job = std::fs::read_to_string(shop.path("job/job.toml")).unwrap();
    shop.write("job/sets/broken.ply", "ply\nformat ascii 1.0\n");
    shop.write(
        "job/job.toml",
        job + "\n[[set]]\nname = \"broken\"\nfile = \"sets/broken.ply\"\nunits = \"mm\"\n\n[[comparison]]\nname = \"broken\"\nreference = \"broken\"\nmeasured = \"after\"\n",
    );
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 2, "{}{}", ran.stdout, ran.stderr);
    assert!(
        ran.stderr.contains("broken: ") && ran.stderr.contains("line 3"),
        "{}",
        ran.stderr
    );
    assert!(!shop.path("job/results/broken").exists());
    assert_eq!(shop.result("job/results/before and after")["verdict"], "within");
    assert_eq!(shop.run(&["run", "job", "--only", "before and after"]).code, 0);
    assert_eq!(shop.run(&["run", "job", "--only", "nothing"]).code, 2);
}

#[test]
fn a_regions_own_side_decides_what_is_proud() {
    let shop = Shop::new();
    let sheet = |z: f64| -> Vec<Point> {
        let mut points: Vec<Point> = (0..10_000)
            .map(|i| Point::new(f64::from(i % 100) * 2.0, f64::from(i / 100) * 2.0, z))
            .collect();
        points.push(Point::new(0.0, 0.0, -400.0));
        points
    };
    shop.set("a.ply", &sheet(0.0), None);
    shop.set("b.ply", &sheet(1.0), None);
    for (side, sign) in [("up", 1.0), ("down", -1.0)] {
        shop.write(
            "regions.toml",
            format!(
                "[[region]]\nname = \"floor\"\nbox = [[1, 1, -5], [197, 197, 5]]\noutside = \"{side}\"\n"
            ),
        );
        let ran = shop.run(&[
            "compare",
            "a.ply",
            "b.ply",
            "--units",
            "mm",
            "--set-by",
            "as-is",
            "--regions",
            "regions.toml",
            "--out",
            "out",
        ]);
        assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
        let mean = shop.result("out")["regions"][0]["mean_mm"].as_f64().unwrap();
        assert!((mean - sign).abs() < 1e-6, "{side}: {mean}");
    }
}

/// A panel that its shape does not tell from its mirror image: its two holes do.
#[test]
fn where_only_the_holes_tell_the_hand_it_is_asked_about() {
    let shop = Shop::new();
    let panel = |seed: u64, side: f64| -> Vec<Point> {
        let holes = [[150.0, 110.0, 20.0], [420.0, 60.0, 16.0]];
        (0..40_000)
            .filter_map(|i| {
                let k = 4 * (i + 1_000_000 * seed);
                let (u, v, noise) = (uniform(k), uniform(k + 1), 0.1 * (uniform(k + 2) - 0.5));
                let (x, y) = (600.0 * u, 400.0 * v - 200.0);
                let crown = |x: f64, y: f64| -(x - 300.0).powi(2) / 3_000.0 - y * y / 2_000.0;
                let at = match i % 10 {
                    0 => Point::new(x, 200.0 + noise, crown(x, 200.0) - 30.0 * v),
                    1 => Point::new(x, -200.0 - noise, crown(x, 200.0) - 30.0 * v),
                    2 => Point::new(noise, y, crown(0.0, y) - 30.0 * u),
                    _ => Point::new(x, y, crown(x, y) + noise),
                };
                let clear = |h: &[f64; 3]| i % 10 < 3 || (at.x - h[0]).hypot(at.y - h[1]) > h[2];
                holes
                    .iter()
                    .all(clear)
                    .then(|| Point::new(at.x, side * at.y, at.z))
            })
            .collect()
    };
    shop.set("good.ply", &panel(1, 1.0), None);
    shop.set("same.ply", &panel(2, 1.0), None);
    shop.set("other.ply", &panel(2, -1.0), None);
    let compare = |set: &str, more: &[&str]| {
        let asked = [
            "compare", "good.ply", set, "--units", "mm", "--holes", "--out", "out",
        ];
        let ran = shop.run(&[&asked[..], more].concat());
        assert!(ran.code < 2, "{}{}", ran.stdout, ran.stderr);
        (ran, shop.result("out"))
    };
    let (same, _) = compare("same.ply", &[]);
    assert!(!same.stderr.contains("is it the right hand"), "{}", same.stderr);
    let (other, result) = compare("other.ply", &[]);
    assert!(other.stderr.contains("is it the right hand"), "{}", other.stderr);
    assert!(
        !result["work"].to_string().contains("drill"),
        "{}",
        result["work"]
    );
    // Who has looked and says so is told what is missing.
    let (_, result) = compare("other.ply", &["--answered", "hand"]);
    assert!(result["work"].to_string().contains("drill"), "{}", result["work"]);
}
