//! The table of spots that are proud or shy: of each region without its move, of the whole set where there are no regions.

use record::{Record, SpotRecord};

use super::{Cell, Table, fine, key, maybe, more, number, plain_inches, signed_inches, text, triple};

/// What spots are said to be of where no regions are declared.
pub(crate) const WHOLE: &str = "the whole set";

pub(super) fn spots(record: &Record) -> Table {
    let of_regions = record.regions.iter().flat_map(|region| {
        let spots = region.shape.iter().flat_map(|shape| &shape.spots);
        spots.enumerate().map(move |(k, spot)| row(&region.name, k, spot))
    });
    let of_whole = record.spots.iter().enumerate();
    let of_whole = of_whole.map(|(k, spot)| row(WHOLE, k, spot));
    Table {
        name: "spots",
        title: "Spots that are proud or shy",
        heads: vec![
            key("spot", ""),
            more("off", "mm"),
            key("off", "in"),
            key("which way", ""),
            more("long", "mm"),
            key("long", "in"),
            more("wide", "mm"),
            key("wide", "in"),
            more("area", "mm2"),
            key("at x", "mm"),
            key("at y", "mm"),
            key("at z", "mm"),
        ],
        rows: of_regions.chain(of_whole).collect(),
    }
}

/// Named as the view that turns names its place.
fn row(of: &str, k: usize, spot: &SpotRecord) -> Vec<Cell> {
    let mut row = vec![
        text(&format!("{of}/{}", k + 1)),
        fine(spot.off_mm),
        signed_inches(Some(spot.off_mm)),
        text(if spot.off_mm > 0.0 { "proud" } else { "shy" }),
    ];
    for size in [spot.length_mm, spot.width_mm] {
        row.extend([maybe(size), plain_inches(size)]);
    }
    row.push(number(spot.area_mm2, 0));
    row.extend(triple(Some(spot.at_mm)));
    row
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn the_whole_set_has_its_spots_where_there_are_no_regions() {
        let mut record = made::record();
        assert!(spots(&record).rows.is_empty());
        record.regions.clear();
        record.spots = serde_json::from_str(
            r#"[{"off_mm": -2.38125, "at_mm": [10, 20, 30], "area_mm2": 1200, "length_mm": 50.8, "width_mm": 19.05}]"#,
        )
        .unwrap();
        let wanted = "spot,off (mm),off (in),which way,long (mm),long (in),wide (mm),wide (in),area (mm2),at x (mm),at y (mm),at z (mm)
the whole set/1,-2.381,-3/32,shy,50.800,2,19.050,3/4,1200,10.000,20.000,30.000
";
        assert_eq!(spots(&record).csv(), wanted);
    }
}
