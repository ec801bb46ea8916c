//! Metal that was taken far more thinly than the rest of its set: never dropped, never a figure or an end, and told of.

use cloud::{Point, Vector};

use crate::shop::{Shop, named};

/// A square of 100 mm from `from_mm` on, its points a step apart, flat at a height.
fn square(from_mm: f64, step_mm: f64, height_mm: f64) -> Vec<Point> {
    let count = (100.0 / step_mm) as usize;
    let place = |i: usize, from: f64| from + i as f64 * step_mm;
    (0..count * count)
        .map(|i| Point::new(place(i % count, from_mm), place(i / count, 0.0), height_mm))
        .collect()
}

const REGIONS: &str = r#"
units = "mm"
[[region]]
name = "scanned"
box = [[0, 0, -5], [90, 100, 5]]
[[region]]
name = "probed"
box = [[104, 0, -5], [195, 84, 5]]
"#;

/// A scan at 1 mm joined with points probed every 12 mm.
#[test]
fn probed_metal_beside_a_fine_scan_reads_not_measured_and_says_why() {
    let shop = Shop::new();
    let reference = [square(0.0, 2.0, 0.0), square(100.0, 2.0, 0.0)].concat();
    let measured = [square(0.0, 1.0, 0.5), square(111.0, 12.0, 0.5)].concat();
    shop.set("good.ply", &reference, Some(&vec![Vector::z(); reference.len()]));
    shop.set("joined.ply", &measured, Some(&vec![Vector::z(); measured.len()]));
    shop.write("parts.toml", REGIONS);
    let ran = shop.run(&[
        "compare",
        "good.ply",
        "joined.ply",
        "--units",
        "mm",
        "--set-by",
        "as-is",
        "--regions",
        "parts.toml",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("out");
    assert_eq!(result["measured"]["strays"], 0);
    assert_eq!(named(&result["regions"], "scanned")["verdict"], "within");
    let probed = named(&result["regions"], "probed");
    assert_eq!(probed["verdict"], "not-measured");
    assert_eq!(probed["coverage"], 0.0);
    assert_eq!(probed["beyond_edge"], 0);
    let warnings = result["warnings"].as_array().unwrap();
    let thin: Vec<&str> = warnings
        .iter()
        .filter(|w| w["code"] == "thin")
        .map(|w| w["words"].as_str().unwrap())
        .collect();
    assert!(
        thin.len() == 1 && thin[0].starts_with("region probed: over 97 %") && thin[0].contains("12 mm apart"),
        "{thin:?}"
    );
}
