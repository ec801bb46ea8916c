//! The demo finds what was planted, says what it should, and nothing that it can't know.

use std::path::Path;

use serde_json::Value;

use crate::job_life::files;
use crate::shop::{Shop, named, read_result};

const IN: f64 = 25.4;
/// A thirty-second, in mm.
const BAND: f64 = IN / 32.0;

fn near(found: &Value, inches: f64) {
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
    let first = &panel["work"][0];
    let words = first["words"].as_str().unwrap();
    assert_eq!(first["for"], "shop");
    assert!(words.contains("send it back with the supplier's list"), "{words}");
    assert_eq!(panel["verdict"], "outside");

    // 1: what differs from side to side is put on record, and nothing is to be mended.
    let record = read_result(&shop.path("job/results/as found, side to side"));
    let on_record = record["work"].as_array().unwrap();
    assert!(on_record.iter().all(|task| task["for"] == "record"));
    for expected in [
        "left cross bar: 5/16 rearward of the other side: as found",
        "right floor bead 3: on this side only: another style",
    ] {
        let told = on_record
            .iter()
            .any(|task| task["words"].as_str().unwrap().starts_with(expected));
        assert!(told, "{expected}\n{on_record:?}");
    }
    // The notch of 3/8 is shorter than two runs of this coarse set: found to 1/32, and nothing else of that edge is off.
    let stretches = named(&record["edges"], "top edge of the left sill top")["stretches"]
        .as_array()
        .unwrap();
    assert_eq!(stretches.len(), 1, "{stretches:?}");
    near(&stretches[0]["short_mm"], 3.0 / 8.0);
    assert!(on_record.iter().any(|task| {
        let words = task["words"].as_str().unwrap();
        words.starts_with("top edge of the left sill top: ")
            && words.contains(" short over 1 than the other side")
    }));

    // 5: the bar is bent though its ends are home; it is straightened, not shimmed.
    let bar = read_result(&shop.path("job/results/bar bent in welding"));
    let words = named(&bar["checks"], "right bar")["words"]
        .as_str()
        .unwrap()
        .to_string();
    for expected in [
        "bow 3/32 up at 9-1/2 from its left end",
        "ends home",
        "twisted 0.6°",
        "straight edge shows 3/32 from below",
    ] {
        assert!(words.contains(expected), "{words}");
    }
    assert!(
        bar["work"][0]["words"]
            .as_str()
            .unwrap()
            .starts_with("right bar: straighten")
    );
    assert_eq!(bar["work"].as_array().unwrap().len(), 1, "{}", bar["work"]);

    // 7: the crown goes when held and is not judged; flanges and beads stay, with a note to the toolmaker.
    let pan = read_result(&shop.path("job/results/first-off pan"));
    assert_eq!(named(&pan["arrangement"], "pan")["kind"], "arrangement");
    assert_eq!(named(&pan["regions"], "pan")["verdict"], "within");
    assert_eq!(named(&pan["arrangement"], "front flange angle")["kind"], "shape");
    let words = named(&pan["beads"], "pan bead 1")["words"].to_string();
    assert!(words.contains("1/32 shallow"), "{words}");
    let for_the_maker = |task: &Value| {
        task["for"] == "supplier or toolmaker"
            && task["words"]
                .as_str()
                .unwrap()
                .contains("first guess at the tool")
    };
    assert!(
        pan["work"].as_array().unwrap().iter().any(for_the_maker),
        "{}",
        pan["work"]
    );

    // 10: the shell's figures come before its parts; later what the warmth explains is told apart from the sag.
    let over = read_result(&shop.path("job/results/handed over"));
    let rock = named(&over["shell"], "rock")["words"]
        .as_str()
        .unwrap()
        .to_string();
    assert!(rock.starts_with("rock 3/16"), "{rock}");
    assert!(
        over["work"][0]["words"]
            .as_str()
            .unwrap()
            .starts_with("shell: rock")
    );
    let years = read_result(&shop.path("job/results/years later"));
    let mash = named(&years["shell"], "mash")["words"]
        .as_str()
        .unwrap()
        .to_string();
    assert!(mash.contains("warmth"), "{mash}");
    assert_eq!(named(&years["shell"], "sag")["words"], "sag 1/16");
    let ran = shop.run(&["tape", "job"]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    assert!(ran.stdout.contains("H1             to H6"), "{}", ran.stdout);

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

    // The same bytes from one thread and from several, pages and workbook among them, and an unfinished folder is left nowhere.
    let place = shop.path("job/results/bought-in boot side");
    let before = files(&place);
    // It was made with all cores.
    let ran = shop.run(&[
        "run",
        "job",
        "--only",
        "bought-in boot side",
        "--again",
        "--threads",
        "1",
        "--quiet",
    ]);
    assert_eq!(ran.code, 1, "{}", ran.stderr);
    for ((name, was), (_, is)) in before.iter().zip(files(&place)) {
        assert!(*was == is, "{name} with one thread");
    }
    assert_eq!(files(&place).len(), before.len());
    for entry in std::fs::read_dir(shop.path("job/results")).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(!name.starts_with('.'), "{name}");
    }
    the_readme_shows_what_the_demo_draws(&shop);
}

/// The README's pictures are the demo's own: `WITNESSMARK_REMAKE=1 cargo test --test whole the_demo` makes them anew.
fn the_readme_shows_what_the_demo_draws(shop: &Shop) {
    for (shown, drawn) in [
        (
            "bought-in-boot-side.png",
            "results/bought-in boot side/heat-right.png",
        ),
        ("trips.png", "trips/trips-bar-bent-in-welding-1.png"),
    ] {
        let shown = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("test-data")
            .join(shown);
        let drawn = std::fs::read(shop.path("job").join(drawn)).unwrap();
        if std::env::var_os("WITNESSMARK_REMAKE").is_some() {
            std::fs::write(&shown, &drawn).unwrap();
        }
        let kept = std::fs::read(&shown).unwrap();
        assert!(kept == drawn, "{} is not what the demo draws", shown.display());
    }
}
