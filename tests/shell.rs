//! A whole shell in an unknown pose, with a piece moved, a dent and strays: the pose and the faults are found.

use cloud::{Body, Motion, Point, Scan, Vector};
use demo::scan::Scanner;
use demo::tub;

use crate::shop::{Shop, named};

#[test]
fn a_shell_in_an_unknown_pose_with_a_piece_moved() {
    let sheets = tub::sheets();
    let scanner = |spacing_mm: f64, strays: f64, pose: Motion<Body, Scan>, seed: u64| Scanner {
        spacing_mm,
        noise_mm: 0.1,
        strays,
        blind: Vec::new(),
        pose,
        seed,
    };
    let reference = scanner(3.4, 0.06, Motion::identity(), 1).scan(&sheets, |_, _| {});
    let pose: Motion<Body, Scan> = Motion::turn_about(
        Vector::new(-2.0, 1.3, 0.9),
        Point::new(900.0, 100.0, 500.0),
        Vector::new(4000.0, -700.0, 1200.0),
    );
    let measured = scanner(3.6, 0.06, pose, 2).scan(&sheets, |part, place| {
        if part == "left leg" {
            place.at.z += 3.0 / 25.4;
        }
        // A round dent of 4 mm in the boot floor.
        let from_middle = (place.at.x - 65.0).hypot(place.at.y - 5.0) / 4.0;
        if part == "boot floor" && from_middle < 1.0 {
            place.at.z -= 4.0 / 25.4 * demo::sheet::hump(from_middle);
        }
    });
    assert!(
        (550_000..680_000).contains(&reference.points_mm.len()),
        "{}",
        reference.points_mm.len()
    );
    assert!(
        (490_000..610_000).contains(&measured.points_mm.len()),
        "{}",
        measured.points_mm.len()
    );
    let shop = Shop::new();
    shop.set("reference.ply", &reference.points_mm, Some(&reference.normals));
    shop.set("measured.ply", &measured.points_mm, Some(&measured.normals));
    shop.write(
        "regions.toml",
        "units = \"in\"\n[[region]]\nname = \"boot floor\"\nbox = [[51, -21.5, 27.5], [84.5, 21.5, 28.5]]\noutside = \"up\"\n[[region]]\nname = \"left floor\"\nbox = [[2.2, -23.7, 19.4], [49.7, -5.3, 20.6]]\noutside = \"up\"\n[[region]]\nname = \"front bulkhead\"\nbox = [[-1, -25, 29.5], [0.5, 25, 43]]\n[[region]]\nname = \"right boot side\"\nbox = [[56.2, 21.6, 28.6], [84.5, 22.8, 43.5]]\n[[region]]\nname = \"left leg\"\nbox = [[55, -17, 18], [84, -14.1, 26.5]]\noutside = \"down\"\n",
    );
    let ran = shop.run(&[
        "compare",
        "reference.ply",
        "measured.ply",
        "--units",
        "mm",
        "--regions",
        "regions.toml",
        "--out",
        "out",
    ]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("out");
    let rows = &result["setting"]["reference_from_measured"];
    let value = |i: usize, j: usize| rows[i][j].as_f64().unwrap();
    let mut gap: f64 = 0.0;
    for corner in [
        [-50.0, -700.0, 490.0],
        [2140.0, 700.0, 1120.0],
        [2140.0, -700.0, 490.0],
        [-50.0, 700.0, 1120.0],
    ] {
        let there = pose.apply(&Point::from(corner));
        let back = Vector::from_fn(|i, _| {
            value(i, 0) * there.x + value(i, 1) * there.y + value(i, 2) * there.z + value(i, 3)
        });
        gap = gap.max((back - Vector::from(corner)).norm());
    }
    assert!(
        gap < 0.05,
        "{gap} mm at the far corner {} {}",
        ran.stdout,
        ran.stderr
    );
    let mean = |name: &str| named(&result["regions"], name)["mean_mm"].as_f64().unwrap();
    for name in ["left floor", "front bulkhead", "right boot side"] {
        assert!(mean(name).abs() < 0.05, "{name}: {}", mean(name));
        assert_eq!(named(&result["regions"], name)["verdict"], "within", "{name}");
    }
    let dent = named(&result["regions"], "boot floor")["min_mm"]
        .as_f64()
        .unwrap();
    assert!((dent + 4.0).abs() < 0.5, "{dent}");
    // Seen from below, where its outside is, a leg that has gone up is shy.
    let leg = named(&result["regions"], "left leg");
    assert!((mean("left leg") + 3.0).abs() < 0.25, "{}", mean("left leg"));
    assert_eq!(leg["verdict"], "outside");
}
