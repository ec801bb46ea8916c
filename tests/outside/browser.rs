//! The pages in a browser: worked by mouse and by keys, read by axe-core, printed, held against the files beside them, and with a
//! million points in the view.
//!
//! `WITNESSMARK_NODE` names a folder whose `node_modules` hold playwright-core and axe-core; `WITNESSMARK_CHROMIUM` the
//! browser, where it is not /usr/bin/chromium. What is checked stands in browser.mjs.

use std::path::{Path, PathBuf};
use std::process::Command;

use cloud::{Point, Vector};
use serde_json::Value;

use crate::shop::{Shop, named, part};

/// Two holes in the floor: x, y, radius, mm.
const HOLES: [[f64; 3]; 2] = [[70.0, 90.0, 12.0], [330.0, 200.0, 10.0]];

/// A name that must not be taken for markup, regions that were left alone, one that was worked on with its pads, and holes:
/// so the page has every part.
const JOB: &str = r#"
name = "small <shell> & all"
units = "mm"
limit = "1/16 in"

[[set]]
name = "before"
file = "sets/before.ply"
units = "mm"
[[set]]
name = "after"
file = "sets/after.ply"
units = "mm"

[[region]]
name = "near wall"
status = "kept"
box = [[-5, -5, 40], [405, 5, 125]]
[[region]]
name = "left wall"
status = "kept"
box = [[-5, 10, 40], [5, 305, 125]]
[[region]]
name = "front floor"
status = "kept"
box = [[10, 10, -50], [120, 290, 50]]
outside = "up"
[[region]]
name = "rear floor"
status = "kept"
box = [[280, 10, -50], [390, 290, 50]]
outside = "up"
[[region]]
name = "mid floor"
status = "worked"
box = [[152, 10, -50], [248, 290, 50]]
outside = "up"
pads = { "front" = [170, 60, 22], "rear" = [230, 60, 20], "far" = [200, 270, 6] }

[[comparison]]
name = "mended"
reference = "before"
measured = "after"
set_by = "left-alone"
kept = ["near wall", "left wall", "front floor", "rear floor"]
worked = ["mid floor"]
holes = true
"#;

/// The part with its holes; its middle may lie high, with a dent in it.
fn floor(seed: u64, mended: bool) -> (Vec<Point>, Vec<Vector>) {
    let (points, normals) = part(20_000, seed);
    points
        .into_iter()
        .zip(normals)
        .filter(|(at, normal)| {
            let holed = HOLES
                .iter()
                .any(|[x, y, radius]| (at.x - x).hypot(at.y - y) < *radius);
            normal.z < 0.5 || !holed
        })
        .map(|(mut at, normal)| {
            if mended && normal.z > 0.5 && (150.0..250.0).contains(&at.x) {
                let dented = (at.x - 200.0).hypot(at.y - 210.0) < 25.0;
                at.z += if dented { -2.6 } else { 2.4 };
            }
            (at, normal)
        })
        .unzip()
}

fn job() -> Shop {
    let shop = Shop::new();
    for (name, seed, mended) in [("before", 1, false), ("after", 2, true)] {
        let (points, normals) = floor(seed, mended);
        shop.set(&format!("job/sets/{name}.ply"), &points, Some(&normals));
    }
    shop.write("job/job.toml", JOB);
    shop
}

/// The folder with the browser's driver and the reader of pages, which must be there.
fn node() -> PathBuf {
    let folder = std::env::var("WITNESSMARK_NODE")
        .expect("set WITNESSMARK_NODE to a folder in which `npm install playwright-core axe-core` was run");
    for package in ["playwright-core", "axe-core"] {
        let path = Path::new(&folder).join("node_modules").join(package);
        assert!(
            path.exists(),
            "{} is missing: run `npm install {package}` in {folder}",
            path.display()
        );
    }
    PathBuf::from(folder)
}

#[test]
fn the_pages_hold_in_a_browser() {
    let node = node();
    let shop = job();
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let ran = shop.run(&["page", "job"]);
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    let result = shop.result("job/results/mended");
    assert_eq!(named(&result["regions"], "mid floor")["verdict"], "outside");
    assert_eq!(result["holes"].as_array().unwrap().len(), HOLES.len());

    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/browser.mjs");
    let output = Command::new("node")
        .arg(script)
        .arg(&node)
        .arg(shop.path("job/results/mended"))
        .arg(shop.path("job/pages/page.html"))
        .output()
        .expect("node must be there: it drives the browser");
    let said = String::from_utf8(output.stdout).unwrap();
    let lines: Vec<Value> = said
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let failed: Vec<String> = lines
        .iter()
        .filter(|line| line["ok"] != true)
        .map(|line| format!("{}: {}", line["check"], line["said"]))
        .collect();
    assert!(failed.is_empty(), "{}", failed.join("\n"));
    let trouble = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{said}{trouble}");
    // A script that stops early says little.
    assert!(lines.len() > 40, "{said}{trouble}");
}
