//! What a comparison writes, read back by libraries that know nothing of the program: openpyxl, pypdf, trimesh (PyPI).

use serde_json::Value;

use crate::data::numbers;
use crate::judges::asked;
use crate::shop::Shop;
use crate::small_job::{self, RAISED_MM};

/// How far the noise of the small job may lead a figure off, mm.
const NOISE_MM: f64 = 0.15;

#[test]
fn others_read_what_was_written() {
    let shop = Shop::new();
    small_job::write(&shop, "job", &["look 0"]);
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 1, "{}", ran.stderr);
    let results = "job/results/look 0";
    let found = asked("read_back.py", &[&shop.path(results).to_string_lossy()]);
    the_workbook_holds_the_tables(&found["workbook"], &found["tables"]);
    the_sheets_can_be_printed_anywhere(&found["printed"]);
    let used = &shop.result(results)["reference"]["points_used"];
    assert_eq!(found["deviation"]["points"], *used);
    the_raised_piece_is_seen(&found["deviation"]);
    the_view_stands_as_gltf_wants_it(&found["view"], used);
    the_raised_piece_is_seen(&found["view"]["deviation"]);
}

/// Office Open XML (ISO/IEC 29500) by openpyxl, against the CSV files by Python's csv.
fn the_workbook_holds_the_tables(sheets: &Value, tables: &Value) {
    let sheets = sheets.as_object().unwrap();
    for name in ["about", "regions", "work", "warnings"] {
        assert!(sheets.contains_key(name), "{name} in {:?}", sheets.keys());
    }
    let mut figures = 0;
    for (name, sheet) in sheets {
        assert_eq!(sheet["formulas"], 0, "{name}");
        assert_eq!(sheet["errors"], 0, "{name}");
        if name == "about" {
            continue;
        }
        assert_eq!(sheet["frozen"], "B2", "{name}: heads and names stay in sight");
        let rows = sheet["rows"].as_array().unwrap();
        let lines = tables[name].as_array().unwrap();
        assert_eq!(rows.len(), lines.len(), "{name}");
        for (row, line) in rows.iter().zip(lines) {
            let cells = row.as_array().unwrap();
            let texts = line.as_array().unwrap();
            assert_eq!(cells.len(), texts.len(), "{name}: {line}");
            for (cell, text) in cells.iter().zip(texts) {
                figures += usize::from(same(cell, text.as_str().unwrap(), name));
            }
        }
    }
    assert!(figures > 30, "{figures} figures are numbers");
    let heads = sheets["regions"]["rows"][0].as_array().unwrap();
    for head in ["mean (mm)", "mean (32nds of in)", "max (in)", "coverage (share)"] {
        assert!(heads.iter().any(|h| h == head), "{head} in {heads:?}");
    }
}

/// Holds a cell to the text of the table, a number to all of the digits there; tells whether it is a number.
fn same(cell: &Value, text: &str, sheet: &str) -> bool {
    let Some(number) = cell.as_f64() else {
        assert_eq!(cell.as_str().unwrap_or_default(), text, "{sheet}");
        return false;
    };
    let decimals = text.split_once('.').map_or(0, |(_, digits)| digits.len());
    let half = 0.5 * 10f64.powi(-(decimals as i32));
    let written: f64 = text.parse().unwrap();
    assert!(
        (number - written).abs() <= half + 1e-9,
        "{sheet}: {number} for {text}"
    );
    true
}

/// PDF (ISO 32000-1) by pypdf.
fn the_sheets_can_be_printed_anywhere(printed: &Value) {
    for (name, words) in [
        ("page.pdf", ["OUT", "right floor", "left floor", "Positions only"]),
        // The piece was raised within a rim that is home: it is dressed, and nothing is shimmed.
        (
            "bench.pdf",
            ["dress 5/32", "right floor", "1/16", "Positions only"],
        ),
    ] {
        let sheet = &printed[name];
        assert!(sheet["pages"].as_u64().unwrap() >= 1, "{name}");
        let text = sheet["text"].as_str().unwrap();
        for word in words {
            assert!(text.contains(word), "{name}: {word} in {text}");
        }
        let fonts = sheet["fonts"].as_array().unwrap();
        assert!(!fonts.is_empty(), "{name}");
        for font in fonts {
            assert_eq!(font[1], true, "{name}: {font} is not embedded");
        }
    }
}

/// Both in deviation.ply and in the view: 4 mm in the middle of the raised piece, nothing where it was left alone.
fn the_raised_piece_is_seen(deviation: &Value) {
    for (place, expected) in [("raised_mm", RAISED_MM), ("left_mm", 0.0)] {
        let ends = numbers(&deviation[place]);
        assert!(
            ends.iter().all(|mm| (mm - expected).abs() < NOISE_MM),
            "{place}: {ends:?}"
        );
    }
    for state in numbers(&deviation["states"]) {
        assert!([0.0, 1.0, 2.0].contains(&state), "{state}");
    }
}

/// glTF 2.0 by trimesh: metres, Y up, the front of the car toward +Z, which is where X is least; every point of the
/// reference is there once.
fn the_view_stands_as_gltf_wants_it(view: &Value, used: &Value) {
    assert_eq!(view["nodes"], serde_json::json!(["measured", "reference"]));
    assert_eq!(view["points"], *used);
    assert_eq!(view["distinct"], *used);
    assert_eq!(view["states_off"], 0);
    let rounding_mm = view["rounding_mm"]["place"].as_f64().unwrap();
    assert!(rounding_mm < 0.01, "{rounding_mm}");
    let most_mm = rounding_mm + 1e-4;
    let off_mm = view["places_off_mm"].as_f64().unwrap();
    assert!(off_mm <= most_mm, "{off_mm} mm, and {rounding_mm} is said");
    // The part is 400 long, 300 wide and 120 high at its walls.
    for (end, part) in [(0_usize, [-0.3, -0.032, -0.4]), (1, [0.0, 0.12, 0.0])] {
        let found = numbers(&view["bounds_m"][end]);
        let reference = numbers(&view["expected_m"][end]);
        for axis in 0..3 {
            assert!(
                (found[axis] - reference[axis]).abs() <= most_mm / 1000.0,
                "{found:?} for {reference:?}"
            );
            assert!((found[axis] - part[axis]).abs() < 0.002, "{found:?} for {part:?}");
        }
    }
}
