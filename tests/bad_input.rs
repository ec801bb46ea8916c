//! Bad input gets one clear message that names the file; nothing half-written is left and nothing that was there is lost.

use cloud::{Point, Vector};

use crate::shop::{Shop, part};

/// A shop with a good set and earlier results in `out`.
pub fn with_earlier_results() -> Shop {
    let shop = Shop::new();
    let (points, normals) = part(8_000, 1);
    shop.set("good.ply", &points, Some(&normals));
    let ran = shop.run(&[
        "compare", "good.ply", "good.ply", "--units", "mm", "--set-by", "as-is", "--out", "out",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    shop
}

/// Compares a bad set with the good one and checks that the message says what it should and the old results are there.
fn refused(shop: &Shop, name: &str, expected: &[&str]) {
    let before = std::fs::read(shop.path("out/result.json")).unwrap();
    for arguments in [["compare", "good.ply", name], ["compare", name, "good.ply"]] {
        let ran = shop.run(&[&arguments[..], &["--units", "mm", "--out", "out"]].concat());
        assert_eq!(ran.code, 2, "{name}: {}{}", ran.stdout, ran.stderr);
        let message: Vec<&str> = ran
            .stderr
            .lines()
            .filter(|l| l.starts_with("witnessmark: "))
            .collect();
        assert_eq!(message.len(), 1, "{name}: one message: {}", ran.stderr);
        for word in expected.iter().chain(&[name]) {
            assert!(message[0].contains(word), "{name}: {word} in {}", message[0]);
        }
        assert!(!ran.stdout.contains("results:"), "{name}: {}", ran.stdout);
    }
    assert_eq!(
        std::fs::read(shop.path("out/result.json")).unwrap(),
        before,
        "{name}: the earlier results"
    );
    let left: Vec<String> = std::fs::read_dir(shop.path(""))
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| n.starts_with('.'))
        .collect();
    assert!(left.is_empty(), "{name}: {left:?}");
}

#[test]
fn bad_files_are_refused_with_the_reason_and_the_place() {
    let shop = with_earlier_results();
    let good = std::fs::read(shop.path("good.ply")).unwrap();
    let head = "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nend_header\n";
    shop.write("empty.ply", "");
    refused(&shop, "empty.ply", &["empty"]);
    shop.write("short.ply", &good[..good.len() / 2]);
    refused(&shop, "short.ply", &["cut short"]);
    shop.write("header.ply", head);
    refused(&shop, "header.ply", &["line 7", "announces 3"]);
    shop.write("none.ply", head.replace("vertex 3", "vertex 0"));
    refused(&shop, "none.ply", &["no points"]);
    shop.write("huge.ply", head.replace("vertex 3", "vertex 1000000000000"));
    refused(&shop, "huge.ply", &["1000000000000"]);
    shop.write("axis.ply", head.replace("property float z\n", ""));
    refused(&shop, "axis.ply", &["\"z\""]);
    let mut picture = b"\x89PNG\r\n\x1a\n".to_vec();
    picture.resize(2000, 7);
    shop.write("picture.ply", picture);
    refused(&shop, "picture.ply", &["PNG picture"]);
    shop.write("text.ply", format!("{head}1 2 3\n4 five 6\n7 8 9\n"));
    refused(&shop, "text.ply", &["line 9", "five"]);
    shop.set("alike.ply", &vec![Point::new(1.0, 2.0, 3.0); 500], None);
    refused(&shop, "alike.ply", &["all points in one place"]);
    let line: Vec<Point> = (0..500)
        .map(|i| Point::new(f64::from(i), 2.0 * f64::from(i), 5.0))
        .collect();
    shop.set("line.ply", &line, None);
    refused(&shop, "line.ply", &["on one line"]);
    shop.set(
        "three.ply",
        &[
            Point::origin(),
            Point::new(1.0, 0.0, 0.0),
            Point::new(0.0, 1.0, 0.0),
        ],
        None,
    );
    refused(&shop, "three.ply", &["only 3"]);
    refused(&shop, "missing.ply", &["no such file"]);
    std::fs::create_dir(shop.path("folder.ply")).unwrap();
    refused(&shop, "folder.ply", &["a folder"]);
    shop.write("nan.xyz", "nan nan nan\n".repeat(100));
    refused(&shop, "nan.xyz", &["three numbers"]);
    shop.write(
        "noise.bin",
        (0..5000u32)
            .flat_map(|i| (i.wrapping_mul(2_654_435_761)).to_le_bytes())
            .collect::<Vec<u8>>(),
    );
    refused(&shop, "noise.bin", &["no format"]);
}

#[test]
fn rows_that_are_no_numbers_are_counted_and_a_wrong_unit_is_warned_of() {
    let shop = with_earlier_results();
    let (points, normals) = part(8_000, 1);
    let mut holed = points.clone();
    for p in holed.iter_mut().step_by(100) {
        p.x = f64::NAN;
    }
    shop.set("holed.ply", &holed, Some(&normals));
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "holed.ply",
        "--units",
        "mm",
        "--set-by",
        "as-is",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    assert!(
        ran.stderr.contains("80 of 8000 rows are not numbers"),
        "{}",
        ran.stderr
    );
    let inches: Vec<Point> = points.iter().map(|p| p / 25.4).collect();
    shop.set("inches.ply", &inches, Some(&normals));
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "inches.ply",
        "--units",
        "mm",
        "--set-by",
        "as-is",
        "--out",
        "other",
    ]);
    assert!(
        ran.stderr.contains("25.4") && ran.stderr.contains("warning:"),
        "{}",
        ran.stderr
    );
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "inches.ply",
        "--units",
        "in",
        "--reference-units",
        "mm",
        "--set-by",
        "as-is",
        "--out",
        "right",
    ]);
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    let ran = shop.run(&[
        "compare", "good.ply", "good.ply", "--set-by", "as-is", "--out", "none",
    ]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.stderr.contains("does not say its unit") && ran.stderr.contains("--units"),
        "{}",
        ran.stderr
    );
}

#[test]
fn two_sets_with_little_in_common_are_refused() {
    let shop = Shop::new();
    let (points, normals) = part(8_000, 1);
    shop.set("part.ply", &points, Some(&normals));
    // A tube as thick as a leg: nothing of the part fits along it.
    let tube: Vec<Point> = (0..20_000)
        .map(|i| {
            let (a, z) = (f64::from(i) * 2.399_963, f64::from(i) * 0.09);
            Point::new(40.0 * a.cos(), 40.0 * a.sin(), z)
        })
        .collect();
    shop.set("tube.ply", &tube, None);
    let asked = ["compare", "part.ply", "tube.ply", "--units", "mm", "--out", "out"];
    shop.stopped(&asked, "in common");
    assert!(!shop.path("out").exists());
}

#[test]
fn the_other_hand_and_exchanged_names_are_told() {
    let shop = Shop::new();
    let (points, normals) = part(20_000, 1);
    shop.set("left.ply", &points, Some(&normals));
    let (points, normals) = part(20_000, 2);
    let mirrored = |v: &Vector| Vector::new(-v.x, v.y, v.z);
    let (points, normals): (Vec<Point>, Vec<Vector>) = points
        .iter()
        .zip(&normals)
        .map(|(p, n)| (Point::from(mirrored(&p.coords)), mirrored(n)))
        .unzip();
    shop.set("right.ply", &points, Some(&normals));
    let ran = shop.run(&[
        "compare",
        "left.ply",
        "right.ply",
        "--units",
        "mm",
        "--out",
        "out",
    ]);
    let told = ran.stderr.contains("fits clearly better mirrored");
    assert!(told || ran.code == 2, "{}{}", ran.stdout, ran.stderr);

    shop.write(
        "there.csv",
        "name,x,y,z\nA,0,0,0\nB,400,0,0\nC,400,300,0\nD,0,300,0\nE,0,0,120\n",
    );
    shop.write(
        "here.csv",
        "name,x,y,z\nA,0,0,0\nC,400,0,0\nB,400,300,0\nD,0,300,0\nE,0,0,120\n",
    );
    let ran = shop.run(&[
        "compare",
        "left.ply",
        "left.ply",
        "--units",
        "mm",
        "--set-by",
        "points",
        "--points-reference",
        "there.csv",
        "--points-measured",
        "here.csv",
        "--out",
        "points",
    ]);
    assert_eq!(ran.code, 2, "{}{}", ran.stdout, ran.stderr);
    for told in ["B and C look exchanged", "and exchanged they lie within 1/64 in"] {
        assert!(ran.stderr.contains(told), "{told}: {}", ran.stderr);
    }
    assert!(!shop.path("points").exists());
}

#[test]
fn misspelt_names_of_points_are_told_on_each_side() {
    let shop = Shop::new();
    let (points, normals) = part(4_000, 1);
    shop.set("part.ply", &points, Some(&normals));
    shop.write(
        "there.csv",
        "name,x,y,z\nA1,0,0,0\nB1,400,0,0\nfront left,400,300,0\nD,0,300,0\n",
    );
    shop.write(
        "here.csv",
        "name,x,y,z\na1,0,0,0\nB1,400,0,0\nfrnot left,400,300,0\nD,0,300,0\n",
    );
    let asked = "compare part.ply part.ply --units mm --points-reference there.csv --points-measured here.csv --out out";
    for set_by in ["points", "order"] {
        let arguments: Vec<&str> = asked.split(' ').chain(["--set-by", set_by]).collect();
        shop.stopped(
            &arguments,
            "only there.csv has A1, front left; only here.csv has a1 (did you mean A1?), frnot left (did you mean front left?)",
        );
    }
    assert!(!shop.path("out").exists());
}

#[test]
fn what_is_typed_wrong_is_told_with_the_nearest_right_one() {
    let shop = with_earlier_results();
    shop.stopped(
        &[
            "compare", "good.ply", "good.ply", "--units", "mm", "--beads", "--out", "new",
        ],
        "--beads reads beads region by region: give --regions FILE",
    );
    for (arguments, expected) in [
        (
            vec!["compare", "good.ply", "good.ply", "--limti", "1 mm"],
            "--limit",
        ),
        (
            vec!["compare", "good.ply", "good.ply", "--units", "furlong"],
            "mm, cm, m, in or ft",
        ),
        (
            vec![
                "compare", "good.ply", "good.ply", "--units", "mm", "--limit", "3/16",
            ],
            "with its unit",
        ),
        (vec!["compaer"], "compare"),
        (vec!["compare", "good.ply"], "a measured set"),
        (
            vec!["compare", "good.ply", "good.ply", "--mirror"],
            "leave the reference out",
        ),
        (vec!["look", "good.ply", "--threads", "0"], "from 1 to 1024"),
    ] {
        shop.stopped(&arguments, expected);
    }
    shop.write(
        "regions.toml",
        "[[region]]\nnaem = \"a\"\nbox = [[0, 0, 0], [1, 1, 1]]\n",
    );
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "good.ply",
        "--units",
        "mm",
        "--regions",
        "regions.toml",
    ]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.stderr.contains("regions.toml, line 2") && ran.stderr.contains("did you mean \"name\""),
        "{}",
        ran.stderr
    );
}
