//! Readings by hand, as a table: from which place to which, and what the tape said; an empty field is not taken yet.

mod written;

use std::path::Path;

use csv::StringRecord;

use crate::FormatError;
use crate::table::{Table, no_column};
use crate::trouble::shortened;

/// One reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The comparison whose sheet it stands on; empty where the table has no such column.
    pub sheet: String,
    /// From which place.
    pub from: String,
    /// To which.
    pub to: String,
    /// What was read, mm; `None` where the field is empty.
    pub mm: Option<f64>,
    /// Its line in the table.
    pub line: usize,
}

/// Reads a table with the heads `from`, `to` and `reading`, and `comparison` if there are several sheets in it. A reading
/// says its unit (`84-3/16 in`, `7' 0-3/16"`, `2138 mm`) or is in inches.
///
/// # Errors
/// A [`FormatError`] with the line of a missing column or of a reading that is no length.
pub fn read(path: &Path) -> Result<Vec<Reading>, FormatError> {
    let mut table = Table::open(path, None)?;
    let heads = &table.heads;
    let column = |wanted: &str| {
        heads
            .iter()
            .position(|h| h.split([' ', '(']).next() == Some(wanted))
    };
    let needed = |wanted: &str| {
        column(wanted).ok_or_else(|| no_column(path, heads, wanted, "fill in the sheet as it was written"))
    };
    let (from, to, reading) = (needed("from")?, needed("to")?, needed("reading")?);
    let sheet = column("comparison");
    let columns = heads.len();
    let mut readings = Vec::new();
    for row in table.rows() {
        let (line, record) = row?;
        let field = |column: usize| record.get(column).unwrap_or_default();
        readings.push(Reading {
            sheet: sheet.map_or("", field).to_string(),
            from: field(from).to_string(),
            to: field(to).to_string(),
            mm: length_mm(path, line, &whole(&record, reading, columns))?,
            line,
        });
    }
    Ok(readings)
}

/// The field of a reading. Where it is the last, what stands beyond the heads is its too: in a table of commas a decimal comma
/// has parted the two.
fn whole(record: &StringRecord, reading: usize, columns: usize) -> String {
    let mut text = record.get(reading).unwrap_or_default().to_string();
    if reading + 1 == columns {
        for beyond in record.iter().skip(columns).filter(|field| !field.is_empty()) {
            text.push(',');
            text.push_str(beyond);
        }
    }
    text
}

fn length_mm(path: &Path, line: usize, text: &str) -> Result<Option<f64>, FormatError> {
    if text.is_empty() {
        return Ok(None);
    }
    match written::mm(text) {
        Some(mm) if mm > 0.0 => Ok(Some(mm)),
        _ => Err(FormatError::at_line(
            path,
            line,
            format!("\"{}\" for a reading", shortened(text)),
            "write it in inches, like 84-3/16 (halves to 64ths), in feet and inches, like 7' 0-3/16\", or with its unit, like \"2138 mm\"",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_text(text: &str) -> Result<Vec<Reading>, FormatError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sheet.csv");
        std::fs::write(&path, text).unwrap();
        read(&path)
    }

    #[test]
    fn readings_are_in_inches_unless_they_say_otherwise_and_empty_ones_are_not_taken_yet() {
        let read = read_text(
            "comparison,from,to,foretold (in),reading\nlast,H1,H6,84-3/16,84 3/16\nlast,H2,H5,84,2133.6 mm\nlast,H1,H2,28,\n",
        )
        .unwrap();
        let mm: Vec<Option<f64>> = read.iter().map(|r| r.mm).collect();
        assert!((mm[0].unwrap() - 84.1875 * 25.4).abs() < 1e-9);
        assert!((mm[1].unwrap() - 2133.6).abs() < 1e-9);
        assert_eq!(mm[2], None);
        assert_eq!((read[0].sheet.as_str(), read[1].line), ("last", 3));
    }

    #[test]
    fn a_decimal_comma_is_one_whatever_parts_the_fields() {
        for text in [
            "from,to,reading\nH1,H6,84,25\n",
            "from,to,reading\nH1,H6,\"84,25\"\n",
            "from;to;reading\nH1;H6;84,25\n",
            "from,to,reading\nH1,H6,84.25,\n",
        ] {
            let read = read_text(text).unwrap();
            assert!((read[0].mm.unwrap() - 84.25 * 25.4).abs() < 1e-9, "{text}");
        }
    }

    #[test]
    fn lines_are_counted_as_an_editor_counts_them() {
        for end in ["\n", "\r\n", "\r"] {
            let text = format!("from,to,reading{end}H1,H6,84{end}{end}H2,H5,3' 4-1/2\"{end}H1,H2,28{end}");
            let lines: Vec<usize> = read_text(&text).unwrap().iter().map(|r| r.line).collect();
            assert_eq!(lines, [2, 4, 5], "{end:?}");
        }
    }

    #[test]
    fn a_reading_that_is_no_length_and_a_missing_column_are_told_with_their_line() {
        let trouble = read_text("from,to,reading\nH1,H6,about seven feet\n")
            .unwrap_err()
            .to_string();
        assert!(
            trouble.contains("line 2") && trouble.contains("about seven feet"),
            "{trouble}"
        );
        let trouble = read_text("from,to,foretold\nH1,H6,84\n").unwrap_err().to_string();
        assert!(trouble.contains("no column headed \"reading\""), "{trouble}");
    }
}
