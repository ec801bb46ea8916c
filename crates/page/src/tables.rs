//! The tables of a comparison as typed values, written once for CSV, spreadsheet, HTML and PDF.

mod extra;
mod figured;
mod found;
mod note;
mod regions;
mod said;
mod sections;
pub(crate) mod spots;
pub(crate) mod trims;

pub use note::note;
pub use said::said;

use cloud::held::follows::NOT_HELD_MM;
use cloud::unit::{decimal, fraction_of_inch, signed_32nds};
use record::Record;

/// A table: heads, and rows of as many cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The name of its file and of its sheet, without an ending: `regions`.
    pub name: &'static str,
    /// Its name for people.
    pub title: &'static str,
    /// What each column holds.
    pub heads: Vec<Head>,
    /// One line a thing that was found.
    pub rows: Vec<Vec<Cell>>,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// The quantity in words.
    pub words: &'static str,
    /// In what it is counted: `mm`, `in`, `32nds of in`, `deg`, `share`; empty where it is counted in nothing.
    pub unit: &'static str,
    /// Whether it is one of the few columns that are shown on paper.
    pub key: bool,
}

/// One value of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// The data don't carry it.
    Nothing,
    /// Words or a name.
    Text(String),
    /// A count.
    Whole(i64),
    /// A number in the unit of its head, and how many decimals are worth showing.
    Number {
        /// The number itself.
        value: f64,
        /// Decimals to show.
        decimals: u8,
    },
    /// A length that is shown in inches, to the nearest 32nd.
    Inches {
        /// The length, mm.
        mm: f64,
        /// Whether + and − are told apart, as in a deviation; a size has no sign.
        signed: bool,
    },
}

impl Cell {
    /// The cell as it stands in the CSV, not yet in quotes; empty where there is nothing.
    pub fn text(&self) -> String {
        match self {
            Cell::Nothing => String::new(),
            Cell::Text(words) => words.clone(),
            Cell::Whole(count) => count.to_string(),
            Cell::Number { value, decimals } => decimal(*value, usize::from(*decimals)),
            Cell::Inches { mm, signed: true } => signed_32nds(*mm),
            Cell::Inches { mm, signed: false } => fraction_of_inch(*mm, 32),
        }
    }

    /// Whether it is a figure, which stands flush right, and not words.
    pub fn is_number(&self) -> bool {
        matches!(self, Cell::Whole(_) | Cell::Number { .. } | Cell::Inches { .. })
    }
}

impl Head {
    /// The head as it is printed, its unit in brackets behind it.
    pub fn text(&self) -> String {
        if self.unit.is_empty() {
            self.words.to_string()
        } else {
            format!("{} ({})", self.words, self.unit)
        }
    }
}

impl Table {
    /// The table as CSV, a line each for the heads and every row.
    pub fn csv(&self) -> String {
        let heads = line(self.heads.iter().map(Head::text));
        let rows = self.rows.iter().map(|row| line(row.iter().map(Cell::text)));
        std::iter::once(heads).chain(rows).collect()
    }
}

fn line(texts: impl Iterator<Item = String>) -> String {
    let fields: Vec<String> = texts.map(|text| field(&text)).collect();
    fields.join(",") + "\n"
}

/// A field of a CSV table, in quotes where it must be (RFC 4180).
pub fn field(text: &str) -> String {
    if text.contains([',', '"', '\n']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_string()
    }
}

/// Every table of a comparison: that of the regions always, that of holes and beads where they were asked for, the others where
/// they have something to show.
pub fn all(record: &Record) -> Vec<Table> {
    let asked = &record.made_with.asked;
    let trims = trims::trims(record);
    let spots = spots::spots(record);
    let further = [
        (!spots.rows.is_empty(), spots),
        (!record.edges.is_empty(), found::edges(&record.edges)),
        (!trims.rows.is_empty(), trims),
        (!record.extra.is_empty(), extra::extra(&record.extra)),
        (asked.holes, found::holes(&record.holes)),
        (!asked.beads.is_empty(), found::beads(&record.beads)),
        (!record.sections.is_empty(), sections::sections(record)),
        (!record.places.is_empty(), figured::places(&record.places)),
        (!record.shell.is_empty(), figured::shell(&record.shell)),
        (!record.checks.is_empty(), figured::checks(&record.checks)),
        (!record.house.is_empty(), figured::house(&record.house)),
        (!record.work.is_empty(), figured::work(&record.work)),
        (!record.folds.is_empty(), found::folds(&record.folds)),
        (!record.recesses.is_empty(), found::recesses(&record.recesses)),
    ];
    let pads = regions::pads(&record.regions);
    let last = [
        (!pads.rows.is_empty(), pads),
        (!record.warnings.is_empty(), figured::warnings(&record.warnings)),
    ];
    let there = further.into_iter().chain(last).filter(|(there, _)| *there);
    std::iter::once(regions::regions(&record.regions))
        .chain(there.map(|(_, table)| table))
        .collect()
}

/// A column that is shown on paper too.
const fn key(words: &'static str, unit: &'static str) -> Head {
    Head {
        words,
        unit,
        key: true,
    }
}

/// A column for the files only.
const fn more(words: &'static str, unit: &'static str) -> Head {
    Head {
        words,
        unit,
        key: false,
    }
}

/// Words; none at all is nothing.
fn text(words: &str) -> Cell {
    if words.is_empty() {
        Cell::Nothing
    } else {
        Cell::Text(words.to_string())
    }
}

fn whole(count: usize) -> Cell {
    Cell::Whole(i64::try_from(count).unwrap_or(i64::MAX))
}

fn number(value: f64, decimals: u8) -> Cell {
    Cell::Number { value, decimals }
}

/// A length or an angle, to a thousandth.
fn fine(value: f64) -> Cell {
    number(value, 3)
}

/// A ± to a thousandth; words where it says no more than that nothing holds the set that way.
fn pm(mm: f64) -> Cell {
    match mm > NOT_HELD_MM {
        true => text("not held"),
        false => fine(mm),
    }
}

fn maybe(value: Option<f64>) -> Cell {
    value.map_or(Cell::Nothing, fine)
}

fn signed_inches(mm: Option<f64>) -> Cell {
    mm.map_or(Cell::Nothing, |mm| Cell::Inches { mm, signed: true })
}

fn plain_inches(mm: Option<f64>) -> Cell {
    mm.map_or(Cell::Nothing, |mm| Cell::Inches { mm, signed: false })
}

/// Three cells of a place or a move.
fn triple(mm: Option<[f64; 3]>) -> [Cell; 3] {
    mm.map_or([const { Cell::Nothing }; 3], |axes| axes.map(fine))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    const OF_REGIONS: &str = "region,status,verdict,words,limit (mm),points,coverage (share),mean (mm),mean (32nds of in),mean pm (mm),sd (mm),rms (mm),median (mm),p05 (mm),p95 (mm),min (mm),min (in),max (mm),max (in),within limit (share),profile (mm),pm (mm),min at x (mm),min at y (mm),min at z (mm),max at x (mm),max at y (mm),max at z (mm),shape\n";

    fn csv(record: &Record, name: &str) -> String {
        all(record).iter().find(|table| table.name == name).unwrap().csv()
    }

    fn from<T: serde::de::DeserializeOwned>(json: &str) -> T {
        serde_json::from_str(json).unwrap()
    }

    /// The made record with one of everything.
    fn full() -> Record {
        let mut record = made::record();
        record.made_with.asked.beads = vec!["floor".to_string()];
        record.folds = from(
            r#"[{"name": "rear", "short_mm": 5.55, "pm_mm": 0.2, "verdict": "outside", "words": "7/32 short"}]"#,
        );
        record.edges = from(
            r#"[{"name": "sill, left", "length_mm": 50, "closed": false, "verdict": "within", "words": [], "stretches": [],
              "runs": [{"from_mm": [0, 1, 2], "to_mm": [25, 1, 2], "short_mm": -0.8, "pm_mm": 0.3},
                       {"from_mm": [25, 1, 2], "to_mm": [50, 1, 2]}]}]"#,
        );
        record.beads = from(
            r#"[{"name": "bead 1", "region": "floor", "state": "missing", "pm_mm": 0.2, "verdict": "outside",
              "reference": {"at_mm": [0, 0, 0], "ends_mm": [[0, 0, 0], [9, 0, 0]], "length_mm": 900, "width_mm": 32,
                "depth_mm": 6.3}, "words": ["a bead is missing", "\"as found\""]}]"#,
        );
        let recess = r#"{"at_mm": [0, 0, 0], "depth_mm": 9.5, "width_mm": [120, 200], "wall_deg": 80, "outer_radius_mm": 1.6}"#;
        record.recesses = from(&format!(
            r#"[{{"name": "recess", "reference": {recess}, "measured": {recess}, "moved_mm": [4.75, 0, 0], "pm_mm": 0.2,
              "verdict": "outside", "words": ["3/16 forward", "depth as it should be"]}}]"#
        ));
        record.places = from(
            r#"[{"name": "H1", "reference_at_mm": [100, 0, 0], "measured_at_mm": [101, 0, 0], "moved_mm": [1, 0, 0],
              "pm_mm": 0.1}]"#,
        );
        record.shell = from(
            r#"[{"name": "rock", "reference_mm": 0, "measured_mm": 4.7, "off_mm": 4.7, "pm_mm": 0.2, "limit_mm": 3.175, "verdict": "outside",
              "words": "right rear up"}]"#,
        );
        record.checks = from(
            r#"[{"name": "flange", "kind": "flange", "reference_deg": 90, "measured_deg": 92.5, "off_deg": 2.5, "pm_deg": 0.3, "limit_deg": 1,
              "verdict": "outside", "words": "2.5 deg open"}]"#,
        );
        record.house = from(
            r#"[{"name": "rock", "originals": 3, "median": 0.1, "spread": 0.2, "range": [-0.1, 0.3], "measured": 4.7,
              "words": "outside all of them"}]"#,
        );
        record
    }

    #[test]
    fn regions_are_written_as_ever() {
        let rows = "right <floor>,new,outside,\"3/16 high, all of it: shim only\",1.587,90000,0.9800,4.700,5.9,0.010,0.100,4.700,4.750,4.600,4.800,4.500,+3/16,4.800,+3/16,0.0000,9.600,0.500,0.0,0.0,0.0,500.0,200.0,10.0,
boot floor,kept,within,,1.587,90000,0.9500,0.000,0.0,0.010,0.100,0.100,0.000,-0.200,0.200,-0.400,-1/32,0.300,0,1.0000,0.800,0.500,0.0,0.0,0.0,1500.0,200.0,10.0,
tunnel,unsure,not-measured,,1.587,9000,0.0000,,,,,,,,,,,,,,,,,,,,,,
";
        assert_eq!(csv(&made::record(), "regions"), format!("{OF_REGIONS}{rows}"));
    }

    #[test]
    fn holes_and_work_are_written_as_ever() {
        assert_eq!(
            csv(&made::record(), "holes"),
            "hole,kind,state,verdict,words,reference x (mm),reference y (mm),reference z (mm),off x (mm),off y (mm),off z (mm),reference diameter (mm),reference diameter (in),measured diameter (mm),measured diameter (in),reference length (mm),measured length (mm),pm (mm),off along the sheet (mm),off across it (mm),off out of it (mm),pm out of it (mm),tipped (deg),pm of tipped (deg),clear through both (mm),pm of clear (mm),goes through both
hole 1,round,matched,outside,\"1-3/8 for 1-1/2, in its place\",546.100,0.000,279.400,0.100,0.000,0.000,38.100,1-1/2,35.000,1-3/8,,,0.090,,,,,,,,,
"
        );
        assert_eq!(
            csv(&made::record(), "work"),
            "order,for,to do,figure,picture
1,shop,right <floor>: take 3/16 of shim out at front inner,regions/right <floor>,heat-plan.png
2,shop,hole 1: open it out to 1-1/2,holes/hole 1,heat-plan.png
3,supplier or toolmaker,\"hole 1: 1-3/8 for 1-1/2, in its place\",holes/hole 1,
"
        );
    }

    #[test]
    fn the_others_are_written_as_ever() {
        let record = full();
        for (name, wanted) in [
            (
                "edges",
                "edge,run,from x (mm),from y (mm),from z (mm),to x (mm),to y (mm),to z (mm),short (mm),short (in),pm (mm)
\"sill, left\",1,0.000,1.000,2.000,25.000,1.000,2.000,-0.800,-1/32,0.300
\"sill, left\",2,25.000,1.000,2.000,50.000,1.000,2.000,not seen,,
",
            ),
            (
                "beads",
                "bead,state,verdict,words,moved x (mm),moved y (mm),moved z (mm),reference depth (mm),measured depth (mm),reference width (mm),measured width (mm),reference length (mm),measured length (mm),reference ring across (mm),measured ring across (mm),measured outer radius (mm),pm (mm)
bead 1,missing,outside,\"a bead is missing; \"\"as found\"\"\",,,,6.300,,32.000,,900.000,,,,,0.200
",
            ),
            (
                "sections",
                "section,cut,where,along (mm),through x (mm),through y (mm),through z (mm),off (mm),off (in),pm (mm),reference length (mm),measured length (mm),pm of the lengths' difference (mm),grown by the warmth (mm),ends
across,1,\"0 along, from H1: 3-15/16 forward\",0.000,0.000,0.000,0.000,1.500,+1/16,0.100,1200.500,1201.000,0.400,,7/32 short at its rear end
across,cuts nothing,\"1 along, from H1: 2-15/16 forward\",25.400,25.400,0.000,0.000,,,,cuts nothing,,,,
",
            ),
            (
                "places",
                "place,reference x (mm),reference y (mm),reference z (mm),measured x (mm),measured y (mm),measured z (mm),moved x (mm),moved y (mm),moved z (mm),pm (mm)
H1,100.000,0.000,0.000,101.000,0.000,0.000,1.000,0.000,0.000,0.100
",
            ),
            (
                "shell",
                "figure,verdict,words,reference (mm),measured (mm),off (mm),off (in),pm (mm),limit (mm),limit (in)
rock,outside,right rear up,0.000,4.700,4.700,+3/16,0.200,3.175,1/8
",
            ),
            (
                "checks",
                "check,kind,verdict,words,reference (mm),measured (mm),off (mm),off (in),pm (mm),reference (deg),measured (deg),off (deg),pm (deg),limit (mm),limit (in),limit (deg)
flange,flange,outside,2.5 deg open,,,,,,90.000,92.500,2.500,0.300,,,1.000
",
            ),
            (
                "house",
                "figure,originals,median,spread,least,largest,measured,words
rock,3,0.100,0.200,-0.100,0.300,4.700,outside all of them
",
            ),
            (
                "pads",
                "region,pad,at x (mm),at y (mm),at z (mm),shim x (mm),shim y (mm),shim z (mm),pm (mm),words
right <floor>,front inner,100.000,100.000,0.000,0.000,0.000,-4.750,0.050,take 3/16 of shim out
",
            ),
        ] {
            assert_eq!(csv(&record, name), wanted);
        }
    }

    #[test]
    fn there_is_a_table_for_what_there_is() {
        let names =
            |record: &Record| -> Vec<&'static str> { all(record).iter().map(|table| table.name).collect() };
        let every =
            "regions edges holes beads sections places shell checks house work folds recesses pads warnings";
        assert_eq!(names(&full()).join(" "), every);
        let mut record = made::record();
        record.regions.clear();
        record.sections.clear();
        record.work.clear();
        record.warnings.clear();
        record.holes.clear();
        assert_eq!(
            names(&record),
            ["regions", "holes"],
            "holes were asked for and none was found"
        );
        record.made_with.asked.holes = false;
        assert_eq!(names(&record), ["regions"]);
        assert_eq!(csv(&record, "regions"), OF_REGIONS);
    }

    #[test]
    fn every_row_has_a_cell_a_head_and_paper_gets_eight_columns_at_most() {
        for table in all(&full()) {
            assert!(!table.rows.is_empty(), "{}", table.name);
            assert!(
                table.rows.iter().all(|row| row.len() == table.heads.len()),
                "{}",
                table.name
            );
            let shown = table.heads.iter().filter(|head| head.key).count();
            assert!((1..=8).contains(&shown), "{}: {shown}", table.name);
        }
    }

    #[test]
    fn a_field_is_in_quotes_where_it_must_be() {
        assert_eq!(field("sill"), "sill");
        assert_eq!(field("sill, left"), "\"sill, left\"");
        assert_eq!(field("3\" long"), "\"3\"\" long\"");
        assert_eq!(field("two\nlines"), "\"two\nlines\"");
        assert_eq!(
            Cell::Inches {
                mm: 31.75,
                signed: false
            }
            .text(),
            "1-1/4"
        );
        assert_eq!(Cell::Whole(-3).text(), "-3");
        assert!(!Cell::Text("3".to_string()).is_number() && !Cell::Nothing.is_number());
    }
}
