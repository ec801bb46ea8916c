//! What a table's ± is a ± of, in one short line: the same place has another one wherever it is asked about otherwise.

/// Said of the ± of a region's worst spot.
const OF_THE_SPOT: &str =
    "±: of the region's farthest spot, how it was set counted in; mean ±: of the whole region's mean.";
/// Said of the ± at a pad.
const AT_THE_PAD: &str = "±: of how the region as a whole has moved, as it comes out at the pad, or of the metal there where that lies otherwise; how it was set counted in.";
/// Said of places, whose own ± goes without that of how it was set.
const OF_THE_PLACE: &str = "±: of how the place has moved along each axis, how it was set not counted in.";

/// The line that stands by the table of this name; empty where its ± needs none.
pub fn note(table: &str) -> &'static str {
    match table {
        "regions" => OF_THE_SPOT,
        "pads" => AT_THE_PAD,
        "places" => OF_THE_PLACE,
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{made, tables};

    #[test]
    fn the_tables_that_have_a_note_are_there_under_these_names() {
        let names: Vec<&str> = tables::all(&made::record()).iter().map(|t| t.name).collect();
        for table in ["regions", "pads"] {
            assert!(names.contains(&table) && !note(table).is_empty(), "{table}");
        }
        assert_eq!(note("holes"), "");
    }
}
