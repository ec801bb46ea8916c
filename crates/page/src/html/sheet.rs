//! A table of the record as a page shows it: key columns at first, figures flush right, verdicts with their marks.

use record::verdict::WITHHELD;

use super::parts::mark;
use crate::tables::{self, Cell, Head, Table};

/// A table as it stands in a page.
pub(super) struct Sheet {
    pub name: &'static str,
    pub title: &'static str,
    pub heads: Vec<SheetHead>,
    pub rows: Vec<Vec<SheetCell>>,
    /// Whether there are columns besides the key ones.
    pub more: bool,
    /// What its ± is a ± of, or nothing.
    pub note: &'static str,
}

pub(super) struct SheetHead {
    pub words: String,
    pub unit: &'static str,
    pub more: bool,
    pub number: bool,
}

#[derive(Default)]
pub(super) struct SheetCell {
    pub text: String,
    pub more: bool,
    pub number: bool,
    /// Whether it names its row.
    pub names: bool,
    /// The mark of a verdict, or nothing.
    pub mark: &'static str,
    /// Proud or shy, or nothing.
    pub way: &'static str,
    /// Where the view that turns shows it, or nothing.
    pub fly: String,
}

/// What a verdict of a table depends on besides its word.
#[derive(Clone, Copy)]
pub(super) struct Said {
    pub withheld: bool,
    pub mirrored: bool,
    /// Whether the page has a view that turns.
    pub view: bool,
}

pub(super) fn sheet(table: &Table, said: Said) -> Sheet {
    let number = |column: usize| {
        let first = table.rows.iter().map(|row| &row[column]);
        first
            .filter(|c| **c != Cell::Nothing)
            .take(1)
            .any(Cell::is_number)
    };
    let heads: Vec<SheetHead> = table
        .heads
        .iter()
        .enumerate()
        .map(|(column, head)| SheetHead {
            words: tables::said(head.words),
            unit: unit(head.unit),
            more: !head.key,
            number: number(column),
        })
        .collect();
    let row = |row: &Vec<Cell>| {
        let cells = row.iter().zip(&table.heads).enumerate();
        cells
            .map(|(k, (one, head))| cell(table.name, k, one, head, said))
            .collect()
    };
    Sheet {
        name: table.name,
        title: table.title,
        more: heads.iter().any(|h| h.more),
        note: tables::note(table.name),
        rows: table.rows.iter().map(row).collect(),
        heads,
    }
}

/// Whether the view that turns knows the places of a table.
pub(super) fn can_be_flown_to(table: &str) -> bool {
    [
        "regions", "spots", "folds", "edges", "holes", "beads", "recesses", "places",
    ]
    .contains(&table)
}

fn cell(table: &str, column: usize, cell: &Cell, head: &Head, said: Said) -> SheetCell {
    let mut out = SheetCell {
        text: cell.text(),
        more: !head.key,
        number: cell.is_number(),
        ..SheetCell::default()
    };
    out.names = column == 0 && !out.text.is_empty();
    // Edges have a row a run, and one link for each would be too many.
    if out.names && said.view && table != "edges" && can_be_flown_to(table) {
        out.fly = format!("{table}/{}", out.text);
    }
    match cell {
        Cell::Text(word) if head.words == "verdict" => {
            let words = if said.withheld {
                WITHHELD
            } else {
                record::verdict::said(word, said.mirrored)
            };
            out.text = words.to_string();
            out.mark = mark(words);
        }
        Cell::Number { value, .. } if head.unit == "share" => out.text = format!("{:.1}", 100.0 * value),
        // What rounds to nothing is neither.
        Cell::Inches { mm, signed: true } if table == "regions" && out.text != "0" => {
            out.way = if *mm > 0.0 { "proud" } else { "shy" };
        }
        _ => {}
    }
    out
}

fn unit(unit: &'static str) -> &'static str {
    match unit {
        "share" => "%",
        "deg" => "°",
        "32nds of in" => "32nds",
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{made, tables};

    const SAID: Said = Said {
        withheld: false,
        mirrored: false,
        view: true,
    };

    fn regions(said: Said) -> Sheet {
        let tables = tables::all(&made::record());
        sheet(tables.iter().find(|t| t.name == "regions").unwrap(), said)
    }

    #[test]
    fn figures_stand_right_and_verdicts_have_marks() {
        let sheet = regions(SAID);
        assert!(sheet.more);
        let first = &sheet.rows[0];
        assert!(first[0].names && !first[0].number);
        assert_eq!(first[0].fly, "regions/right <floor>");
        let verdict = first.iter().find(|c| !c.mark.is_empty()).unwrap();
        assert_eq!((verdict.text.as_str(), verdict.mark), ("OUT", "out"));
        let seen = sheet.heads.iter().position(|h| h.words == "seen").unwrap();
        assert_eq!((sheet.heads[seen].unit, first[seen].text.as_str()), ("%", "98.0"));
        assert!(sheet.heads[seen].number && first[seen].number);
        assert!(first.iter().any(|c| c.way == "proud"));
    }

    #[test]
    fn every_verdict_is_withheld_while_questions_are_open() {
        let sheet = regions(Said {
            withheld: true,
            view: false,
            ..SAID
        });
        assert!(
            sheet
                .rows
                .iter()
                .flatten()
                .all(|c| c.mark.is_empty() || c.mark == "withheld")
        );
        assert!(sheet.rows.iter().flatten().all(|c| c.fly.is_empty()));
    }
}
