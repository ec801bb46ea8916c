//! The tables of a comparison as paper shows them: key columns, edges by one row each, the longest cut; the rest is in the workbook.

use record::Record;
use record::found::EdgeRecord;
use record::verdict::IN;

use crate::tables::{self, Table};
use crate::words;

use super::flow::Flow;
use super::grid::{Column, Entry, Grid};

/// Tables that are printed as lists.
const AS_LISTS: [&str; 2] = ["work", "warnings"];
/// Most rows of a table: about a sheet.
const MOST_ROWS: usize = 40;
/// Size of the type in tables, points.
const SIZE_PT: f32 = 8.0;

/// Every table that has a row, each with what its ± is a ± of, and where all of them stand in full.
pub(super) fn tables(flow: &mut Flow<'_>, record: &Record) {
    let beside = flow.body().sized(7.5).pale();
    for table in tables::all(record) {
        if AS_LISTS.contains(&table.name) || table.rows.is_empty() {
            continue;
        }
        flow.heading(table.title);
        match table.name {
            "edges" => edges(flow, &record.edges, record),
            _ => flow.grid(&grid(&table, record)),
        }
        let left_out = match table.name {
            "edges" => 0,
            _ => table.rows.len().saturating_sub(MOST_ROWS),
        };
        if left_out > 0 {
            let more = format!("And {left_out} rows more: tables.xlsx, sheet {}.", table.name);
            flow.paragraph(&more, flow.body());
        }
        let note = tables::note(table.name);
        if !note.is_empty() {
            flow.paragraph(note, beside);
        }
    }
    flow.paragraph(
        "Every row, with all its columns: tables.xlsx beside this page.",
        beside,
    );
}

/// The rows that are printed, by their places: where not all are, those that are within their limit go first.
fn shown(table: &Table) -> Vec<usize> {
    let verdict = table.heads.iter().position(|head| head.words == "verdict");
    let within = |r: usize| verdict.is_some_and(|k| table.rows[r][k].text() == "within");
    let mut rows: Vec<usize> = (0..table.rows.len()).collect();
    rows.sort_by_key(|r| within(*r));
    rows.truncate(MOST_ROWS);
    rows.sort_unstable();
    rows
}

/// An edge a row, and those that are in by name; its runs, some hundreds of a shell, are for the workbook.
fn edges(flow: &mut Flow<'_>, edges: &[EdgeRecord], record: &Record) {
    let said = |edge: &EdgeRecord| words::verdict_of(record, &edge.verdict);
    let (fine, told): (Vec<&EdgeRecord>, Vec<&EdgeRecord>) = edges.iter().partition(|e| said(e) == IN);
    let row = |edge: &&EdgeRecord| -> Vec<Entry> {
        vec![
            edge.name.as_str().into(),
            Entry::verdict(said(edge)),
            edge.words.join(", ").into(),
            words::length(edge.length_mm).into(),
        ]
    };
    flow.grid(&Grid {
        columns: vec![
            Column::words("edge"),
            Column::words("verdict"),
            Column::words("words"),
            Column::figures("length"),
        ],
        rows: told.iter().take(MOST_ROWS).map(row).collect(),
        size_pt: SIZE_PT,
    });
    let mut further = Vec::new();
    if told.len() > MOST_ROWS {
        further.push(format!("And {} edges more.", told.len() - MOST_ROWS));
    }
    if !fine.is_empty() {
        let names: Vec<&str> = fine.iter().map(|e| e.name.as_str()).collect();
        further.push(format!("In ({}): {}.", names.len(), names.join("; ")));
    }
    let runs: usize = edges.iter().map(|e| e.runs.len()).sum();
    further.push(format!(
        "All {runs} runs of these edges, each with its place and its ±: tables.xlsx, sheet edges."
    ));
    flow.paragraph(&further.join(" "), flow.body().sized(SIZE_PT));
}

/// A table's columns for paper, verdicts with their shapes; a column in which nothing stands is left out.
fn grid(table: &Table, record: &Record) -> Grid {
    let filled = |k: usize| {
        table
            .rows
            .iter()
            .any(|row| row.get(k).is_some_and(|c| !c.text().is_empty()))
    };
    let columns: Vec<usize> = (0..table.heads.len())
        .filter(|k| table.heads[*k].key && filled(*k))
        .collect();
    let column = |k: &usize| {
        let head = &table.heads[*k];
        let words = match head.unit {
            "" | "share" => tables::said(head.words),
            unit => format!("{} ({unit})", tables::said(head.words)),
        };
        let number = |row: &Vec<tables::Cell>| row.get(*k).is_some_and(tables::Cell::is_number);
        if table.rows.iter().any(number) {
            Column::figures(words)
        } else {
            Column::words(words)
        }
    };
    let row = |r: usize| -> Vec<Entry> {
        let cells = &table.rows[r];
        let entry = |k: &usize| {
            let (head, cell) = (&table.heads[*k], &cells[*k]);
            match (head.words, head.unit, cell) {
                ("verdict", ..) => Entry::verdict(said(table, record, r, &cell.text())),
                (_, "share", tables::Cell::Number { value, .. }) => format!("{:.0} %", 100.0 * value).into(),
                _ => cell.text().into(),
            }
        };
        columns.iter().map(entry).collect()
    };
    Grid {
        columns: columns.iter().map(column).collect(),
        rows: shown(table).into_iter().map(row).collect(),
        size_pt: SIZE_PT,
    }
}

/// A verdict in words; that of a region may be withheld.
fn said(table: &Table, record: &Record, row: usize, word: &str) -> &'static str {
    match (table.name, record.regions.get(row)) {
        ("regions", Some(region)) => words::verdict_of_region(record, region),
        _ => words::verdict_of(record, word),
    }
}

#[cfg(test)]
mod tests {
    use super::super::face::Faces;
    use super::super::margins;
    use super::*;
    use crate::{Given, made};

    fn printed(record: &Record) -> (usize, String) {
        let (about, faces) = (made::about(), Faces::new().unwrap());
        let given = Given {
            about: &about,
            record,
            pictures: &[],
        };
        let mut flow = Flow::new(&faces, 9.0);
        tables(&mut flow, record);
        let laid = flow.finish(&margins(&given, "tables", ""));
        laid.assert_tidy();
        (laid.sheets.len(), laid.words())
    }

    #[test]
    fn the_runs_of_edges_are_for_the_workbook_and_each_edge_is_told() {
        let mut record = made::record();
        let run = r#"{"from_mm": [777, 1, 2], "to_mm": [25, 1, 2], "short_mm": -0.8, "pm_mm": 0.3}"#;
        let edge = |name: &str, verdict: &str, words: &str| {
            format!(
                r#"{{"name": "{name}", "length_mm": 254, "closed": false, "verdict": "{verdict}", "words": ["{words}"],
                  "stretches": [], "runs": [{}]}}"#,
                [run; 50].join(",")
            )
        };
        let both = [
            edge("rear", "outside", "3/16 short over 2"),
            edge("front", "within", "home"),
        ];
        record.edges = serde_json::from_str(&format!("[{}]", both.join(","))).unwrap();
        let (sheets, words) = printed(&record);
        assert_eq!(sheets, 1);
        for told in [
            "3/16 short over 2",
            "10 (254.0 mm)",
            "In (1): front.",
            "All 100 runs of these edges",
        ] {
            assert!(words.contains(told), "{told}\n{words}");
        }
        assert!(!words.contains("777"), "{words}");
    }

    #[test]
    fn of_a_long_table_what_is_within_is_left_out_first_and_what_is_left_out_is_told() {
        let mut record = made::record();
        let within = record.regions[1].clone();
        for k in 0..60 {
            let mut region = within.clone();
            region.name = format!("floor {k}");
            record.regions.insert(k, region);
        }
        let (_, words) = printed(&record);
        // Two of the sixty-three are not within, and thirty-eight of the others come first.
        for told in [
            "And 23 rows more: tables.xlsx, sheet regions.",
            "floor 37",
            "right <floor>",
            "tunnel",
        ] {
            assert!(words.contains(told), "{told}\n{words}");
        }
        assert!(!words.contains("floor 38"), "{words}");
    }

    #[test]
    fn each_table_says_what_its_pm_is_of() {
        let (_, words) = printed(&made::record());
        assert!(
            words.contains("farthest spot") && words.contains("comes out at the pad"),
            "{words}"
        );
    }
}
