//! A panel against the other side's, mirrored: answers come in the frame and the hand of the panel that was measured.

use std::fs;

use cloud::{Body, Motion, Point, Scan, Vector};
use serde_json::Value;

use crate::shop::{Shop, named, part, read_result, set_of_job};

/// Points and their normals.
type Set = (Vec<Point>, Vec<Vector>);

/// Where the scanner of the left panel stood.
fn pose() -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::new(2.0, -0.9, 1.4),
        Point::new(200.0, 150.0, 0.0),
        Vector::new(500.0, -300.0, 90.0),
    )
}

/// The right panel: its inner wall faces left at Y 500, its skin up to Y 800.
fn right(seed: u64, count: u64) -> Set {
    let (points, normals) = part(count, seed);
    let aside = Vector::new(0.0, 500.0, 0.0);
    (points.into_iter().map(|p| p + aside).collect(), normals)
}

fn mirrored((points, normals): Set) -> Set {
    let turned = |v: &Vector| Vector::new(v.x, -v.y, v.z);
    (
        points.iter().map(|p| Point::from(turned(&p.coords))).collect(),
        normals.iter().map(turned).collect(),
    )
}

/// The left panel: 4 mm low in a dent about (250, −650), its inner wall 3 mm to the right.
fn left(seed: u64, count: u64) -> Set {
    let (mut points, normals) = mirrored(right(seed, count));
    for (at, normal) in points.iter_mut().zip(&normals) {
        if normal.y > 0.9 {
            at.y += 3.0;
        } else if normal.z > 0.5 && (at.x - 250.0).hypot(at.y + 650.0) < 40.0 {
            at.z -= 4.0;
        }
    }
    (points, normals)
}

fn posed((points, normals): &Set) -> Set {
    (
        points.iter().map(|p| pose().apply(p)).collect(),
        normals.iter().map(|n| pose().turn(n)).collect(),
    )
}

fn write(shop: &Shop, name: &str, (points, normals): &Set) {
    shop.set(name, points, Some(normals));
}

/// Five places that were probed on the panel of side `side` (right is 1), each brought to where it was probed.
fn table(side: f64, probed: impl Fn(Point) -> Point) -> String {
    let at = [
        [0.0, 500.0, 0.0],
        [400.0, 500.0, 0.0],
        [400.0, 800.0, 0.0],
        [0.0, 800.0, 0.0],
        [0.0, 500.0, 120.0],
    ];
    let rows = at.iter().enumerate().map(|(i, [x, y, z])| {
        let p = probed(Point::new(*x, side * y, *z));
        format!("D{i},{},{},{}\n", p.x, p.y, p.z)
    });
    format!("name,x,y,z\n{}", rows.collect::<String>())
}

/// The regions of the panel of side `side`, whose inner wall faces `inside`.
fn regions(side: f64, inside: &str) -> String {
    let region = |name: &str, [x0, x1]: [f64; 2], [y0, y1]: [f64; 2], [z0, z1]: [f64; 2], more: &str| {
        let (y0, y1) = (side * y0, side * y1);
        format!("[[region]]\nname = \"{name}\"\nbox = [[{x0}, {y0}, {z0}], [{x1}, {y1}, {z1}]]\n{more}\n")
    };
    let inner = format!(
        "outside = \"{inside}\"\npads = {{ top = [200, {}, 110] }}",
        side * 500.0
    );
    [
        region(
            "skin",
            [10.0, 390.0],
            [510.0, 790.0],
            [-40.0, 40.0],
            "outside = \"up\"",
        ),
        region("inner wall", [5.0, 395.0], [495.0, 505.0], [30.0, 121.0], &inner),
        region(
            "front wall",
            [-5.0, 5.0],
            [510.0, 800.0],
            [30.0, 121.0],
            "outside = \"forward\"",
        ),
    ]
    .concat()
}

fn by_points<'a>(reference: &'a str, measured: &'a str, tables: [&'a str; 2]) -> Vec<&'a str> {
    let [there, here] = tables;
    vec![
        "compare",
        reference,
        measured,
        "--units",
        "mm",
        "--set-by",
        "points",
        "--points-reference",
        there,
        "--points-measured",
        here,
    ]
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[test]
fn what_differs_is_told_in_the_hand_of_the_panel_that_was_measured() {
    let shop = Shop::new();
    let good = right(1, 40_000);
    write(&shop, "right.ply", &good);
    write(&shop, "image.ply", &mirrored(good));
    write(&shop, "left.ply", &posed(&left(2, 40_000)));
    shop.write("there.csv", table(1.0, |p| p));
    shop.write("image.csv", table(-1.0, |p| p));
    shop.write("here.csv", table(-1.0, |p| pose().apply(&p)));
    shop.write("regions.toml", regions(1.0, "left"));
    shop.write("image.toml", regions(-1.0, "right"));
    let mut asked = by_points("right.ply", "left.ply", ["there.csv", "here.csv"]);
    asked.extend(["--regions", "regions.toml", "--mirror", "--out", "out"]);
    let ran = shop.run(&asked);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    assert!(
        ran.stdout.contains("differs") && !ran.stdout.contains("OUT"),
        "{}",
        ran.stdout
    );
    assert!(
        ran.stdout
            .contains("left.ply against right.ply (the other side, mirrored)"),
        "{}",
        ran.stdout
    );
    assert!(
        ran.stderr.contains("a suspicion and not a drawing"),
        "{}",
        ran.stderr
    );

    let result = shop.result("out");
    assert_eq!(result["reference"]["mirrored"], true);
    assert!(result["mirror"].is_null() && result["measured"]["mirrored"].is_null());
    let wall = named(&result["regions"], "inner wall");
    assert_eq!(wall["verdict"], "outside");
    assert!((number(&wall["mean_mm"]) - 3.0).abs() < 0.1, "{wall}");
    assert!(
        (number(&wall["move"]["translation_mm"][1]) - 3.0).abs() < 0.1,
        "{wall}"
    );
    let words = wall["move"]["words"].as_str().unwrap();
    assert!(words.starts_with("1/8 to the right"), "{words}");
    let pad = &wall["move"]["pads"][0];
    assert!((number(&pad["at_mm"][1]) + 500.0).abs() < 1.0, "{pad}");
    assert_eq!(pad["words"], "move left 1/8", "{pad}");
    let skin = named(&result["regions"], "skin");
    assert!((number(&skin["min_mm"]) + 4.0).abs() < 0.4, "{skin}");
    let at = &skin["min_at_mm"];
    assert!(
        (number(&at[0]) - 250.0).hypot(number(&at[1]) + 650.0) < 45.0,
        "{at}"
    );
    assert_eq!(named(&result["regions"], "front wall")["verdict"], "within");

    // Nothing is to be mended by a suspicion: it is put on record, the dent with its place.
    let work = result["work"].as_array().unwrap();
    assert!(work.iter().all(|task| task["for"] == "record"), "{work:?}");
    let told = result["work"].to_string();
    for words in ["inner wall: 1/8 to the right of the other side", "skin: 5/32 in"] {
        assert!(told.contains(words), "{words}: {told}");
    }
    let rows = fs::read(shop.path("out/deviation.ply")).unwrap();
    let head = String::from_utf8_lossy(&rows[..2_000.min(rows.len())]).into_owned();
    assert!(head.contains("mirrored in Y = 0 of its own frame"), "{head}");
    let page = fs::read_to_string(shop.path("out/page.html")).unwrap();
    assert!(page.contains("right.ply (the other side, mirrored)"));

    // The same by hand: the set, its points and its regions mirrored before they are given.
    let mut asked = by_points("image.ply", "left.ply", ["image.csv", "here.csv"]);
    asked.extend(["--regions", "image.toml", "--out", "by hand"]);
    assert_eq!(shop.run(&asked).code, 1);
    let by_hand = shop.result("by hand");
    for key in ["regions", "figures", "setting"] {
        assert_eq!(by_hand[key], result[key], "{key}");
    }
    assert!(by_hand["reference"]["mirrored"].is_null());
}

#[test]
fn a_set_of_the_reference_s_own_hand_is_asked_about() {
    let shop = Shop::new();
    write(&shop, "right.ply", &right(1, 20_000));
    write(&shop, "same.ply", &posed(&right(2, 20_000)));
    shop.write("there.csv", table(1.0, |p| p));
    shop.write("here.csv", table(1.0, |p| pose().apply(&p)));
    let own_hand = "is it of the reference's own hand, so that the mirror is to be left out";
    let mut asked = by_points("right.ply", "same.ply", ["there.csv", "here.csv"]);
    asked.extend(["--mirror", "--out", "points"]);
    shop.stopped(&asked, own_hand);
    let ran = shop.run(&[
        "compare",
        "right.ply",
        "same.ply",
        "--units",
        "mm",
        "--mirror",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    assert!(ran.stderr.contains(own_hand), "{}", ran.stderr);
    assert!(!ran.stderr.contains("is it the other hand"), "{}", ran.stderr);
    assert!(ran.stdout.contains("withheld"), "{}", ran.stdout);
}

/// A face that is mirrored is wound the other way: what stands off its top is proud all the same.
#[test]
fn a_mesh_of_the_other_side_keeps_its_outside() {
    let shop = Shop::new();
    // A box of 200 × 100 × 50 mm to the right of the middle as twelve triangles, and points 0.5 mm over its image's top.
    let corner = |i: usize| {
        let pick = |bit: usize, size: f64| if i >> bit & 1 == 0 { 0.0 } else { size };
        format!("v {} {} {}\n", pick(0, 200.0), pick(1, 100.0), pick(2, 50.0))
    };
    let faces = "f 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n";
    let text: String = (0..8).map(corner).collect::<String>() + faces;
    shop.write("box.obj", text);
    let points: Vec<Point> = (0..20_000)
        .map(|i| Point::new(f64::from(i % 200) + 0.5, -f64::from(i / 200) - 0.5, 50.5))
        .collect();
    shop.set("top.ply", &points, None);
    let ran = shop.run(&[
        "compare", "box.obj", "top.ply", "--units", "mm", "--mirror", "--set-by", "as-is", "--out", "out",
    ]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let figures = &shop.result("out")["figures"];
    for key in ["mean_mm", "min_mm", "max_mm"] {
        assert!((number(&figures[key]) - 0.5).abs() < 1e-3, "{key}: {figures}");
    }
}

/// In a job the other side is a set like another, and a trip that is like such a comparison has it mirrored too.
#[test]
fn a_job_and_its_trips_take_the_other_side() {
    let shop = Shop::new();
    write(&shop, "job/sets/right.ply", &right(1, 20_000));
    write(&shop, "job/sets/left.ply", &left(2, 20_000));
    write(&shop, "job/sets/later.ply", &left(3, 20_000));
    let sets = ["right", "left", "later"].map(set_of_job).concat();
    let text = format!(
        "name = \"panels\"\nunits = \"mm\"\n{sets}{}[[section]]\nname = \"through the dent\"\nthrough = [250, 650, 0]\nfacing = [0, 1, 0]\n[[comparison]]\nname = \"other side\"\nreference = \"right\"\nmeasured = \"left\"\nset_by = \"as-is\"\nsections = [\"through the dent\"]\nmirror = true\n[[trip]]\nname = \"trip 1\"\nday = \"2026-10-05\"\nlike = \"other side\"\nmeasured = \"later\"\n",
        regions(1.0, "left")
    );
    shop.write("job/job.toml", &text);
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    for name in ["other side", "trip 1"] {
        let result = read_result(&shop.path("job/results").join(name));
        assert_eq!(result["reference"]["mirrored"], true, "{name}");
        let wall = &named(&result["regions"], "inner wall")["move"]["translation_mm"][1];
        assert!((number(wall) - 3.0).abs() < 0.2, "{name}: {wall}");
        let plane = &result["sections"][0]["planes"][0];
        assert_eq!(number(&plane["through_mm"][1]), -650.0, "{name}: {plane}");
    }
    let plan = shop.run(&["run", "job", "--plan"]);
    assert!(!plan.stdout.contains("settings have changed"), "{}", plan.stdout);
    // Without the mirror it is another comparison.
    shop.write("job/job.toml", text.replace("mirror = true\n", ""));
    let plan = shop.run(&["run", "job", "--plan"]);
    assert!(plan.stdout.contains("settings have changed"), "{}", plan.stdout);
}
