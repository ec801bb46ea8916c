//! A made record for the tests: a floor that lies high, a panel's hole that is small, a tunnel that was not seen.

use record::{MirrorRecord, Record};

use crate::given::{About, Picture};

const RECORD: &str = r#"{
"schema": 1, "program": "witnessmark 0.1.0", "comparison": "floor <1> & \"sills\"",
"made_with": {"settings_sha256": "aa11", "set_by": "left-alone", "limit_mm": 1.5875, "reach_mm": 12.7,
  "asked": {"holes": true, "edges": false, "shell": false, "folds": [], "recesses": [], "beads": [], "sections": ["across"],
    "checks": [], "originals": []},
  "regions": {"right <floor>": {"status": "new", "box": [[0, 0, 0], [1000, 500, 20]], "limit_mm": 1.5875}}, "disc_mm": 10.5},
"inputs": [],
"reference": {"name": "as \"found\"", "file": "sets/as-found.ply", "sha256": "bb22", "bytes": 10806519, "unit": "mm",
  "scale": 1.0, "points": 300175, "points_used": 297675, "spacing_mm": 4.1, "noise_mm": 0.12, "strays": 2500},
"measured": {"name": "floor & sills", "file": "C:\\jobs\\floor.ply", "sha256": "cc33", "bytes": 999, "unit": "in",
  "scale": 1.0, "celsius": 20.0, "points": 1234, "points_used": 1200, "spacing_mm": 4.0, "noise_mm": 0.1, "strays": 34},
"setting": {"method": "left-alone", "words": "what was left alone (67 % of the points): tunnel",
  "reference_from_measured": [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]], "rms_mm": 0.1562, "worst_mm": 0.9,
  "pairs": 1234, "settled": true,
  "held": {"condition": 8.0, "free": [{"words": "fore and aft", "vector": [1, 0, 0, 0, 0, 0]}],
    "sd_mm": [0.1, 0.1, 0.1, 0.1, 0.1, 9.0],
    "motions": ["up and down", "side to side", "a", "b", "c", "fore and aft"]},
  "predicted_pm_mm": [{"at_mm": [0, 0, 0], "pm_mm": 0.1}, {"at_mm": [2000, 0, 0], "pm_mm": 0.3288}]},
"figures": {"points": 300175, "coverage": 0.78, "beyond_edge": 12, "mean_mm": 0.5, "mean_pm_mm": 0.01, "sd_mm": 1.0,
  "rms_mm": 1.1, "median_mm": 0.4, "p05_mm": -0.2, "p95_mm": 4.7, "min_mm": -1.0, "max_mm": 4.8, "within_share": 0.7,
  "profile_mm": 9.6, "pm_mm": 0.5, "min_at_mm": [0, 0, 0], "max_at_mm": [500, 200, 10]},
"regions": [
  {"name": "right <floor>", "status": "new", "limit_mm": 1.5875, "points": 90000, "coverage": 0.98, "beyond_edge": 0,
   "mean_mm": 4.7, "mean_pm_mm": 0.01, "sd_mm": 0.1, "rms_mm": 4.7, "median_mm": 4.75, "p05_mm": 4.6, "p95_mm": 4.8,
   "min_mm": 4.5, "max_mm": 4.8, "within_share": 0.0, "profile_mm": 9.6, "pm_mm": 0.5, "min_at_mm": [0, 0, 0],
   "max_at_mm": [500, 200, 10], "verdict": "outside",
   "move": {"words": "3/16 high, all of it: shim only", "translation_mm": [0, 0, 4.75], "rotation_deg": [0, 0, 0],
     "about_mm": [500, 200, 0], "pm_mm": 0.05, "explained": 0.99, "unheld": [],
     "pads": [{"name": "front inner", "at_mm": [100, 100, 0], "shim_mm": [0, 0, -4.75], "pm_mm": 0.05,
       "words": "take 3/16 of shim out"}]},
   "shape": {"spots": []}},
  {"name": "boot floor", "status": "kept", "limit_mm": 1.5875, "points": 90000, "coverage": 0.95, "beyond_edge": 0,
   "mean_mm": 0.0, "mean_pm_mm": 0.01, "sd_mm": 0.1, "rms_mm": 0.1, "median_mm": 0.0, "p05_mm": -0.2, "p95_mm": 0.2,
   "min_mm": -0.4, "max_mm": 0.3, "within_share": 1.0, "profile_mm": 0.8, "pm_mm": 0.5, "min_at_mm": [0, 0, 0],
   "max_at_mm": [1500, 200, 10], "verdict": "within"},
  {"name": "tunnel", "status": "unsure", "limit_mm": 1.5875, "points": 9000, "coverage": 0.0, "beyond_edge": 0,
   "verdict": "not-measured"}],
"folds": [], "edges": [], "recesses": [], "beads": [],
"holes": [{"name": "hole 1", "kind": "round", "state": "matched", "reference_at_mm": [546.1, 0.0, 279.4],
  "measured_at_mm": [546.2, 0.0, 279.4], "offset_mm": [0.1, 0.0, 0.0], "reference_size_mm": {"diameter": 38.1},
  "measured_size_mm": {"diameter": 35.0}, "pm_mm": 0.09, "verdict": "outside", "words": "1-3/8 for 1-1/2, in its place"}],
"sections": [{"name": "across", "planes": [{"through_mm": [0, 0, 0], "facing": [1, 0, 0], "along_mm": 0.0, "off_mm": 1.5,
  "pm_mm": 0.1, "reference_length_mm": 1200.5, "measured_length_mm": 1201.0, "length_pm_mm": 0.4,
  "ends": [{"at_mm": [600, 0, 0], "short_mm": 5.5, "pm_mm": 0.8, "words": "7/32 short at its rear end"}]},
  {"through_mm": [25.4, 0, 0], "facing": [1, 0, 0], "along_mm": 25.4, "cuts_nothing": true}]}],
"places": [], "shell": [], "checks": [], "arrangement": [], "house": [],
"work": [
  {"for": "shop", "words": "right <floor>: take 3/16 of shim out at front inner", "figure": "regions/right <floor>",
   "picture": "heat-plan.png"},
  {"for": "shop", "words": "hole 1: open it out to 1-1/2", "figure": "holes/hole 1", "picture": "heat-plan.png"},
  {"for": "supplier or toolmaker", "words": "hole 1: 1-3/8 for 1-1/2, in its place", "figure": "holes/hole 1"}],
"warnings": [{"code": "coarse", "words": "the points lie so far apart that </script> each figure is averaged over 21 mm"}],
"verdict": "outside", "pictures": [], "files": ["result.json", "regions.csv"]
}"#;

/// The record.
pub fn record() -> Record {
    Record::from_json(RECORD.as_bytes()).unwrap()
}

/// The centre plane of a part that is held against its own mirror image.
pub fn mirror() -> MirrorRecord {
    serde_json::from_str(r#"{"plane": {"normal": [0, 1, 0], "offset_mm": 0}}"#).unwrap()
}

/// What the owner says, with signs that a page must escape.
pub fn about() -> About {
    About {
        job: "Demo <tub> & \"boot\"".to_string(),
        shop: "Rust & Sons".to_string(),
        shell: "number <7>".to_string(),
        ..About::default()
    }
}

/// A picture of eight by six: a pale ground with a dark corner.
pub fn picture(file: &str, caption: &str) -> Picture {
    let mut paper = image::RgbImage::from_pixel(8, 6, image::Rgb([242, 241, 236]));
    paper.put_pixel(0, 0, image::Rgb([28, 28, 30]));
    let mut png = std::io::Cursor::new(Vec::new());
    paper.write_to(&mut png, image::ImageFormat::Png).unwrap();
    Picture {
        file: file.to_string(),
        caption: caption.to_string(),
        png: png.into_inner(),
    }
}
