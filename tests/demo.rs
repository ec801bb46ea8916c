//! The demo finds what was planted, says what it should, and nothing that it can't know.

use crate::shop::{Shop, named, read_result};

const IN: f64 = 25.4;
/// A thirty-second, in mm.
const BAND: f64 = IN / 32.0;

fn near(found: &serde_json::Value, inches: f64) {
    let mm = found.as_f64().unwrap_or_else(|| panic!("no number: {found}"));
    assert!((mm - inches * IN).abs() <= BAND, "{} in for {inches} in", mm / IN);
}

#[test]
fn the_demo_says_what_was_planted() {
    let shop = Shop::new();
    let ran = shop.run(&["demo", "job"]);
    assert_eq!(ran.code, 0, "{}\n{}", ran.stdout, ran.stderr);
    assert!(!ran.stdout.contains("NOT within"), "{}", ran.stdout);
    for word in ["certified", "safe", "roadworthy"] {
        assert!(!ran.stdout.contains(word));
    }
    for line in ran.stdout.lines() {
        assert!(
            line.chars().count() <= 100,
            "{} columns: {line}",
            line.chars().count()
        );
    }

    // 2: the floor on its pads needs shims and nothing else; everything else is home.
    let floor = read_result(&shop.path("job/results/floor on its pads"));
    assert_eq!(floor["setting"]["method"], "left-alone");
    let right_floor = named(&floor["regions"], "right floor");
    assert_eq!(right_floor["verdict"], "outside");
    assert!(
        right_floor["move"]["words"]
            .as_str()
            .unwrap()
            .ends_with("shim only")
    );
    let pads = &right_floor["move"]["pads"];
    for (pad, words, inches) in [
        ("front inner", "shim up 3/64", 0.0475),
        ("front outer", "shim up 1/8", 0.1175),
        ("rear inner", "shim up 9/64", 0.1425),
        ("rear outer", "shim up 7/32", 0.2125),
    ] {
        let pad = named(pads, pad);
        assert_eq!(pad["words"], words);
        near(&pad["shim_mm"][2], inches);
    }
    // A flat floor says nothing of side to side.
    let unheld = right_floor["move"]["unheld"].to_string();
    assert!(unheld.contains("side to side"), "{unheld}");
    for region in floor["regions"].as_array().unwrap() {
        if region["status"] == "kept" {
            assert_eq!(region["verdict"], "within", "{}", region["name"]);
        }
    }

    // 3: the right side is 3/16 high, all of it.
    let side = read_result(&shop.path("job/results/right side repaired"));
    for name in ["right floor", "right outer sill"] {
        let region = named(&side["regions"], name);
        assert_eq!(region["verdict"], "outside");
        let words = region["move"]["words"].as_str().unwrap();
        assert!(words.starts_with("3/16 high, all of it"), "{name}: {words}");
        near(&region["move"]["translation_mm"][2], 0.1875);
    }
    near(&named(&side["regions"], "left floor")["mean_mm"], 0.0);

    // 6: five findings, each; the reference's own radius can't be told at this spacing.
    let panel = read_result(&shop.path("job/results/bought-in boot side"));
    near(&named(&panel["folds"], "rear flange")["short_mm"], 7.0 / 32.0);
    assert_eq!(named(&panel["folds"], "front flange")["words"], "home");
    let recess = named(&panel["recesses"], "recess");
    near(&recess["moved_mm"][0], -3.0 / 16.0);
    near(&recess["measured"]["depth_mm"], 5.0 / 16.0);
    near(&recess["measured"]["outer_radius_mm"], 3.0 / 16.0);
    assert!(recess["reference"].get("outer_radius_mm").is_none());
    assert!(recess["words"].to_string().contains("can't be told"));
    let holes = panel["holes"].as_array().unwrap();
    assert_eq!(holes.len(), 1, "{holes:?}");
    near(&holes[0]["measured_size_mm"]["diameter"], 1.375);
    near(&holes[0]["reference_size_mm"]["diameter"], 1.5);
    assert!(
        panel["work"].to_string().contains("send back"),
        "{}",
        panel["work"]
    );
    assert_eq!(panel["verdict"], "outside");

    // Every picture and table that is on record is there, and the pictures are pictures.
    for file in panel["files"].as_array().unwrap() {
        let path = shop
            .path("job/results/bought-in boot side")
            .join(file.as_str().unwrap());
        let bytes = std::fs::read(&path).unwrap();
        assert!(!bytes.is_empty());
        if path.extension().is_some_and(|e| e == "png") {
            assert!(
                bytes.starts_with(b"\x89PNG") && bytes.len() > 50_000,
                "{}",
                path.display()
            );
        }
    }

    // The same bytes from one thread and from two, and an unfinished folder is left nowhere.
    let before = std::fs::read(shop.path("job/results/bought-in boot side/result.json")).unwrap();
    let picture = std::fs::read(shop.path("job/results/bought-in boot side/heat-right.png")).unwrap();
    for threads in ["1", "2"] {
        let ran = shop.run(&[
            "run",
            "job",
            "--only",
            "bought-in boot side",
            "--threads",
            threads,
            "--quiet",
        ]);
        assert_eq!(ran.code, 1, "{}", ran.stderr);
        let again = shop.path("job/results/bought-in boot side");
        assert_eq!(std::fs::read(again.join("result.json")).unwrap(), before);
        assert_eq!(std::fs::read(again.join("heat-right.png")).unwrap(), picture);
    }
    for entry in std::fs::read_dir(shop.path("job/results")).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(!name.starts_with('.'), "{name}");
    }
}
