//! The table of metal that the reference does not have.

use record::found::ExtraRecord;

use super::{Cell, Table, fine, key, more, number, plain_inches, text, triple, whole};

pub(super) fn extra(pieces: &[ExtraRecord]) -> Table {
    Table {
        name: "extra",
        title: "Metal that the reference does not have",
        heads: vec![
            key("piece", ""),
            key("at region", ""),
            key("words", ""),
            more("at x", "mm"),
            more("at y", "mm"),
            more("at z", "mm"),
            more("long", "mm"),
            key("long", "in"),
            more("wide", "mm"),
            key("wide", "in"),
            more("area", "mm2"),
            more("stands off", "mm"),
            key("stands off", "in"),
            more("points", ""),
        ],
        rows: pieces.iter().map(row).collect(),
    }
}

fn row(piece: &ExtraRecord) -> Vec<Cell> {
    let mut row = vec![
        text(&piece.name),
        text(piece.region.as_deref().unwrap_or_default()),
        text(&piece.words),
    ];
    row.extend(triple(Some(piece.at_mm)));
    for size in piece.size_mm {
        row.extend([fine(size), plain_inches(Some(size))]);
    }
    row.extend([
        number(piece.area_mm2, 0),
        fine(piece.off_mm),
        plain_inches(Some(piece.off_mm)),
        whole(piece.points),
    ]);
    row
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_has_its_size_and_what_it_stands_off() {
        let pieces: Vec<ExtraRecord> = serde_json::from_str(
            r#"[{"name": "extra 1", "region": "floor", "at_mm": [1, 2, 10], "size_mm": [50.8, 31.75], "area_mm2": 1612.4,
              "off_mm": 9.525, "points": 800, "words": "a tab"}]"#,
        )
        .unwrap();
        assert_eq!(
            extra(&pieces).csv(),
            "piece,at region,words,at x (mm),at y (mm),at z (mm),long (mm),long (in),wide (mm),wide (in),area (mm2),stands off (mm),stands off (in),points
extra 1,floor,a tab,1.000,2.000,10.000,50.800,2,31.750,1-1/4,1612,9.525,3/8,800
"
        );
    }
}
