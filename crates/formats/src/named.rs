//! Named points as a table: `name,x,y,z`, with heads; comma or semicolon; decimal point or decimal comma.

use std::path::Path;

use cloud::{NamedPoint, Point, Unit};

use crate::FormatError;
use crate::numbers::{number, number_with_comma};
use crate::trouble::shortened;

/// Reads named points given in `unit`; a head such as `x (in)` or `x_mm` that says otherwise wins.
///
/// # Errors
/// A [`FormatError`] with the line of a missing column, a repeated or empty name, or a number that is none.
pub fn read(path: &Path, unit: Unit) -> Result<Vec<NamedPoint>, FormatError> {
    let bytes = std::fs::read(path).map_err(|e| FormatError::io(path, &e))?;
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes);
    let first = bytes.split(|b| *b == b'\n').next().unwrap_or_default();
    let semicolons = first.contains(&b';');
    let mut table = csv::ReaderBuilder::new()
        .delimiter(if semicolons { b';' } else { b',' })
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(bytes);
    let unreadable = |e: &csv::Error| {
        let line = e.position().map_or(1, |p| p.line() as usize);
        FormatError::at_line(path, line, "a row that is no text", "save the table as UTF-8 CSV")
    };
    let heads: Vec<String> = table
        .headers()
        .map_err(|e| unreadable(&e))?
        .iter()
        .map(str::to_ascii_lowercase)
        .collect();
    let column = |wanted: &str| {
        heads
            .iter()
            .position(|h| h.split(['(', '[', ' ', '_']).next() == Some(wanted))
            .ok_or_else(|| {
                FormatError::at_line(
                    path,
                    1,
                    format!(
                        "no column headed \"{wanted}\" (the heads are {})",
                        heads.join(", ")
                    ),
                    "head the columns name, x, y and z",
                )
            })
    };
    let name_column = column("name")?;
    let axes = [column("x")?, column("y")?, column("z")?];
    let scale = Unit::ALL
        .into_iter()
        .find(|u| {
            let symbol = u.symbol();
            axes.iter().all(|&a| {
                let rest = &heads[a][1..];
                rest.trim_matches([' ', '_', '(', ')', '[', ']']) == symbol
            })
        })
        .unwrap_or(unit)
        .in_mm();
    let mut points: Vec<NamedPoint> = Vec::new();
    for record in table.records() {
        let record = record.map_err(|e| unreadable(&e))?;
        let line = record.position().map_or(0, |p| p.line() as usize);
        let field = |at: usize| record.get(at).unwrap_or_default();
        let name = field(name_column).to_string();
        if name.is_empty() {
            return Err(FormatError::at_line(
                path,
                line,
                "a point without a name",
                "name it or take the line out",
            ));
        }
        if points.iter().any(|p| p.name == name) {
            return Err(FormatError::at_line(
                path,
                line,
                format!("the name \"{}\" for the second time", shortened(&name)),
                "give each point its own name",
            ));
        }
        let mut at = [0.0; 3];
        for (value, (&axis, letter)) in at.iter_mut().zip(axes.iter().zip(["x", "y", "z"])) {
            let text = field(axis);
            *value = number(text)
                .or_else(|| if semicolons { number_with_comma(text) } else { None })
                .filter(|v| v.is_finite())
                .ok_or_else(|| {
                    FormatError::at_line(
                        path,
                        line,
                        format!("\"{}\" as {letter} of \"{}\"", shortened(text), shortened(&name)),
                        "give a number",
                    )
                })?
                * scale;
        }
        points.push(NamedPoint {
            name,
            at_mm: Point::from(at),
        });
    }
    if points.is_empty() {
        return Err(FormatError::whole(
            path,
            "no points under the heads",
            "give one point a line",
        ));
    }
    Ok(points)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_table_makes_it_panic(text in "(name,x,y,z\n)?[a-z0-9.,;\"\n -]{0,200}") {
            let _ = read_text(&text);
        }
    }

    fn read_text(text: &str) -> Result<Vec<NamedPoint>, FormatError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("points.csv");
        std::fs::write(&path, text).unwrap();
        read(&path, Unit::Inch)
    }

    #[test]
    fn columns_are_found_by_their_heads_and_scaled() {
        let points = read_text("\u{feff}name,note,z,x,y\nH1,\"datum, left\",20,4,-14\n").unwrap();
        assert!((points[0].at_mm - Point::new(101.6, -355.6, 508.0)).norm() < 1e-9);
        let points = read_text("name;x (mm);y (mm);z (mm)\nH1;1,5;2;3\n").unwrap();
        assert_eq!(points[0].at_mm, Point::new(1.5, 2.0, 3.0));
    }

    #[test]
    fn trouble_is_told_with_its_line() {
        let message = |text: &str| read_text(text).unwrap_err().to_string();
        assert!(message("name,x,y\nA,1,2\n").contains("no column headed \"z\""));
        assert!(message("name,x,y,z\nA,1,2,3\nA,1,2,3\n").contains("line 3"));
        assert!(message("name,x,y,z\nA,1,,3\n").contains("as y of \"A\""));
        assert!(message("name,x,y,z\n").contains("no points"));
    }
}
