//! Two kept regions of which one was moved as one piece: nothing tells which, and no ± may hide it.

use crate::shop::{Shop, part};

const REGIONS: &str = "[[region]]\nname = \"front\"\nstatus = \"kept\"\nbox = [[-5, -5, -50], [190, 305, 125]]\n[[region]]\nname = \"rear\"\nstatus = \"kept\"\nbox = [[210, -5, -50], [405, 305, 125]]\n";

/// The result after the rear half was lifted by so much.
fn lifted(shop: &Shop, by_mm: f64) -> serde_json::Value {
    let (points, normals) = part(60_000, 1);
    shop.set("good.ply", &points, Some(&normals));
    let (mut points, normals) = part(60_000, 2);
    for p in points.iter_mut().filter(|p| p.x > 200.0) {
        p.z += by_mm;
    }
    shop.set("later.ply", &points, Some(&normals));
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
    shop.result("out")
}

fn told(result: &serde_json::Value) -> Option<String> {
    let warnings = result["warnings"].as_array().unwrap();
    let told = warnings.iter().find(|w| w["code"] == "may-have-moved");
    told.map(|w| w["words"].as_str().unwrap().to_string())
}

#[test]
fn of_two_kept_regions_that_part_either_may_have_moved_and_every_pm_counts_it() {
    let shop = Shop::new();
    let home = lifted(&shop, 0.0);
    assert!(told(&home).is_none(), "{:?}", told(&home));
    let result = lifted(&shop, 1.5);
    let words = told(&result).unwrap();
    assert!(
        words.contains("front") && words.contains("rear") && words.contains("high"),
        "{words}"
    );
    // The front lies as it did: how far the setting is off at each corner must be within its ±.
    let rows = &result["setting"]["reference_from_measured"];
    let at = |i: usize, j: usize| rows[i][j].as_f64().unwrap();
    let mut widest_mm = 0.0f64;
    for place in result["setting"]["predicted_pm_mm"].as_array().unwrap() {
        let corner: Vec<f64> = (0..3).map(|i| place["at_mm"][i].as_f64().unwrap()).collect();
        let off = (0..3).map(|i| (0..3).map(|j| at(i, j) * corner[j]).sum::<f64>() + at(i, 3) - corner[i]);
        let off_mm = off.map(|mm| mm * mm).sum::<f64>().sqrt();
        let pm_mm = place["pm_mm"].as_f64().unwrap();
        assert!(off_mm < pm_mm + 0.1, "{off_mm} ± {pm_mm} at {corner:?}");
        assert!(pm_mm < 6.0, "{pm_mm}");
        widest_mm = widest_mm.max(pm_mm);
    }
    // The rear may as well be the one.
    assert!(widest_mm > 0.7, "{widest_mm}");
}
