//! What the view that turns is told beside its points: limits, colours, regions, and every place that can be flown to.

mod marks;
mod packed;

pub use packed::{MOST_BYTES, packed};

use serde_json::{Value, json};

pub use draw::colour::end_mm;
use draw::colour::{self, Rgb};
use record::Record;

use crate::words;

/// Steps of the ramp on each side of the limit.
const STEPS: usize = 128;
/// Lines of the hatching where nothing was measured, and of the cross-hatching beyond the edge of the measured set.
const NOT_MEASURED: Rgb = [120, 120, 120];
const BEYOND_EDGE: Rgb = [150, 150, 150];

/// What draws it in the page: one script of several files, whose names stay among themselves.
pub(crate) const CODE: &str = concat!(
    "\"use strict\";\n{\n",
    include_str!("../templates/view/words.js"),
    include_str!("../templates/view/points.js"),
    include_str!("../templates/view/shaders.js"),
    include_str!("../templates/view/camera.js"),
    include_str!("../templates/view/painter.js"),
    include_str!("../templates/view/pick.js"),
    include_str!("../templates/view/pace.js"),
    include_str!("../templates/view.js"),
    "}\n"
);

/// What `witnessmarkView.start` takes beside the points, as JSON that can stand in a page: it holds no `<`.
pub fn data(record: &Record) -> String {
    let limit_mm = record.made_with.limit_mm;
    let regions: Vec<Value> = record.regions.iter().map(|r| region(record, r)).collect();
    let data = json!({
        "limit_mm": limit_mm,
        "end_mm": end_mm(limit_mm),
        "unit": "in",
        "ramp": ramp(),
        "within": colour::WITHIN,
        "plain": colour::ASIDE,
        "unseen": colour::UNSEEN,
        "not_measured": NOT_MEASURED,
        "beyond_edge": BEYOND_EDGE,
        "ink": colour::INK,
        "paper": colour::PAPER,
        "regions": regions,
        "marks": marks::all(record),
    });
    // Between quotes only, since no other part of JSON has this sign; so no name can end the page's script.
    data.to_string().replace('<', "\\u003c")
}

/// From the shy end to the limit, and from the limit to the proud end.
fn ramp() -> Vec<Rgb> {
    let share = |k: usize| k as f64 / (STEPS - 1) as f64;
    let shy = (0..STEPS).rev().map(|k| colour::beyond(-share(k).max(1e-9)));
    shy.chain((0..STEPS).map(|k| colour::beyond(share(k)))).collect()
}

fn region(record: &Record, region: &record::RegionRecord) -> Value {
    let corners = record.made_with.regions.get(&region.name).map(|made| {
        let [a, b] = made.corners_mm;
        let low: [f64; 3] = std::array::from_fn(|axis| a[axis].min(b[axis]));
        let high: [f64; 3] = std::array::from_fn(|axis| a[axis].max(b[axis]));
        (low, high)
    });
    let said = region.shift.as_ref().map_or("", |shift| shift.words.as_str());
    json!({
        "id": format!("regions/{}", region.name),
        "name": region.name,
        "low": corners.map(|c| c.0),
        "high": corners.map(|c| c.1),
        "verdict": words::verdict_of_region(record, region),
        "words": said,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    fn read(text: &str) -> Value {
        serde_json::from_str(text).unwrap()
    }

    #[test]
    fn the_ramp_goes_from_dark_purple_over_the_limit_to_brown() {
        let ramp = ramp();
        assert_eq!(ramp.len(), 256);
        assert_eq!(ramp[0], colour::of_deviation(-9.0, 1.0, 4.0));
        assert_eq!(ramp[255], colour::of_deviation(9.0, 1.0, 4.0));
        assert_eq!(ramp[128], colour::beyond(0.0));
        let shy = ramp[127];
        assert!(
            shy[2] > shy[0],
            "the first beyond the limit is shy already: {shy:?}"
        );
    }

    #[test]
    fn limits_and_regions_are_told_in_the_order_of_the_record() {
        let data = read(&data(&made::record()));
        assert_eq!(data["limit_mm"], 1.5875);
        assert_eq!(data["end_mm"], 6.35);
        assert_eq!(data["within"], json!(colour::WITHIN));
        let first = &data["regions"][0];
        assert_eq!(first["id"], "regions/right <floor>");
        assert_eq!(first["verdict"], "OUT");
        assert_eq!(first["words"], "3/16 high, all of it: shim only");
        assert_eq!(first["high"], json!([1000.0, 500.0, 20.0]));
        assert_eq!(
            data["regions"][2]["low"],
            Value::Null,
            "a region whose box is not on record"
        );
    }

    #[test]
    fn the_script_is_one_block_and_nothing_in_it_ends_it() {
        assert!(CODE.starts_with("\"use strict\";\n{\n") && CODE.ends_with("}\n"));
        assert!(CODE.contains("globalThis.witnessmarkView"));
        assert!(!CODE.contains("</script") && !CODE.contains("<!--"));
    }

    #[test]
    fn no_name_ends_the_script() {
        let mut record = made::record();
        record.regions[0].name = "</script><b>".to_string();
        let text = data(&record);
        assert!(!text.contains('<'));
        assert_eq!(read(&text)["regions"][0]["name"], "</script><b>");
    }
}
