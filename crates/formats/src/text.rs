//! Delimited text of points: `x y z` with or without heads, normals, colours; comma, semicolon, tab or blanks;
//! decimal point or decimal comma.

use std::path::Path;

use cloud::{Point, Warning};

use crate::numbers::{number, number_with_comma};
use crate::trouble::shortened;
use crate::{FormatError, RawPoints};

/// How the columns of a file are told apart, and how its numbers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Style {
    delimiter: Option<char>,
    decimal_comma: bool,
}

impl Style {
    fn fields(self, line: &str) -> Vec<&str> {
        match self.delimiter {
            Some(delimiter) => line.split(delimiter).map(str::trim).collect(),
            None => line.split_whitespace().collect(),
        }
    }

    fn number(self, field: &str) -> Option<f64> {
        if self.decimal_comma {
            number_with_comma(field)
        } else {
            number(field)
        }
    }
}

/// What each column is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Column {
    Position(usize),
    Normal(usize),
    Colour(usize),
    Other,
}

/// Reads a text of points.
///
/// # Errors
/// A [`FormatError`] with the line where a number, a column or the whole file is not what it should be.
pub fn read(path: &Path) -> Result<RawPoints, FormatError> {
    let bytes = std::fs::read(path).map_err(|e| FormatError::io(path, &e))?;
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes);
    if bytes.iter().take(4096).any(|b| *b == 0) {
        return Err(FormatError::whole(
            path,
            "bytes that are no text, in no format that is known here",
            "give a PLY, STL, OBJ, E57 or text file",
        ));
    }
    let text = String::from_utf8_lossy(bytes);
    let ends: &[char] = if text.contains('\n') { &['\n'] } else { &['\r'] };
    let mut lines = text
        .split(ends)
        .enumerate()
        .map(|(i, line)| (i + 1, line.trim()))
        .filter(|(_, line)| !line.is_empty() && !line.starts_with('#') && !line.starts_with("//"))
        .peekable();

    let mut raw = RawPoints {
        format: "text".to_string(),
        ..RawPoints::default()
    };
    // Some programs write the number of points on a line of its own first.
    let announced: Option<(usize, usize)> = lines.peek().and_then(|(number, line)| {
        let count = line.parse().ok()?;
        Some((*number, count))
    });
    if announced.is_some() {
        lines.next();
    }
    let Some(&(first_number, first)) = lines.peek() else {
        return Ok(raw);
    };
    let mut data = lines.clone().map(|(_, line)| line);
    let has_heads = first.chars().any(|c| c.is_alphabetic())
        && style_of(first)
            .fields(first)
            .iter()
            .any(|f| number(f).is_none() && number_with_comma(f).is_none());
    let sample = if has_heads { data.nth(1) } else { data.next() };
    let Some(sample) = sample else {
        return Ok(raw);
    };
    let style = style_of(sample);
    let columns = if has_heads {
        lines.next();
        heads(path, first_number, first, style)?
    } else {
        by_shape(path, first_number, sample, style, &mut raw.warnings)?
    };
    raw.format = format!(
        "text, {} columns, {}{}",
        columns.len(),
        match style.delimiter {
            Some('\t') => "tabs",
            Some(';') => "semicolons",
            Some(_) => "commas",
            None => "blanks",
        },
        if style.decimal_comma {
            ", decimal comma"
        } else {
            ""
        }
    );
    if style.decimal_comma {
        raw.warnings.push(Warning::new(
            "decimal-comma",
            format!("{}: numbers are read with a decimal comma", path.display()),
        ));
    }
    rows(path, lines, style, (&columns, has_heads), &mut raw)?;
    if let Some((number, count)) = announced
        && count != raw.points.len()
    {
        return Err(FormatError::at_line(
            path,
            number,
            format!("a count of {count} and then {} points", raw.points.len()),
            "the file is cut short or damaged; export it again",
        ));
    }
    Ok(raw)
}

fn rows<'a>(
    path: &Path,
    lines: impl Iterator<Item = (usize, &'a str)>,
    style: Style,
    (columns, has_heads): (&[Column], bool),
    raw: &mut RawPoints,
) -> Result<(), FormatError> {
    let has = |column: Column| columns.contains(&column);
    let wants_normals = has(Column::Normal(0));
    let wants_colours = has(Column::Colour(0));
    let (mut normals, mut colours) = (Vec::new(), Vec::new());
    for (number, line) in lines {
        let fields = style.fields(line);
        if has_heads && fields.iter().skip(columns.len()).any(|f| !f.is_empty()) {
            return Err(FormatError::at_line(
                path,
                number,
                format!(
                    "{} fields under {} heads: \"{}\"",
                    fields.len(),
                    columns.len(),
                    shortened(line)
                ),
                "where numbers have decimal commas, separate them by semicolons",
            ));
        }
        if fields.len() < columns.len() {
            return Err(FormatError::at_line(
                path,
                number,
                format!(
                    "{} columns where the first row has {}: \"{}\"",
                    fields.len(),
                    columns.len(),
                    shortened(line)
                ),
                "the row is cut short; mend it or export it again",
            ));
        }
        let (mut at, mut normal, mut colour) = ([0.0; 3], [0.0; 3], [0.0; 3]);
        for (column, field) in columns.iter().zip(&fields) {
            let slot = match column {
                Column::Position(axis) => &mut at[*axis],
                Column::Normal(axis) => &mut normal[*axis],
                Column::Colour(axis) => &mut colour[*axis],
                Column::Other => continue,
            };
            *slot = style.number(field).ok_or_else(|| {
                FormatError::at_line(
                    path,
                    number,
                    format!("\"{}\" where a number should be", shortened(field)),
                    "mend the line or export it again",
                )
            })?;
        }
        raw.points.push(Point::from(at));
        if wants_normals {
            normals.push(normal.map(|c: f64| c as f32));
        }
        if wants_colours {
            colours.push(colour);
        }
    }
    raw.normals = wants_normals.then_some(normals);
    raw.colours = wants_colours.then(|| {
        let fractions = colours.iter().flatten().all(|c| *c <= 1.0);
        let scale = if fractions { 255.0 } else { 1.0 };
        colours.iter().map(|c| c.map(|c| (c * scale) as u8)).collect()
    });
    Ok(())
}

fn style_of(line: &str) -> Style {
    let has = |c: char| line.contains(c);
    let (delimiter, decimal_comma) = if has(';') {
        (Some(';'), has(','))
    } else if has('\t') {
        (Some('\t'), has(','))
    } else if has(',') {
        // "1,5 2,5 3,5" is three numbers with decimal commas; "1, 2, 3" and "1,2,3" are three fields.
        let words: Vec<&str> = line.split_whitespace().collect();
        let commas = words.len() >= 3
            && words
                .iter()
                .all(|w| number_with_comma(w).is_some() && !w.ends_with(','));
        if commas { (None, true) } else { (Some(','), false) }
    } else {
        (None, false)
    };
    Style {
        delimiter,
        decimal_comma,
    }
}

/// Columns by their heads.
fn heads(path: &Path, line: usize, text: &str, style: Style) -> Result<Vec<Column>, FormatError> {
    let names: Vec<String> = style
        .fields(text)
        .iter()
        .map(|f| f.trim_matches(['"', '\'']).to_ascii_lowercase())
        .collect();
    let columns: Vec<Column> = names
        .iter()
        .map(|name| {
            // "x (mm)", "X[in]" and "x_mm" all head the column x.
            let bare = name.split(['(', '[', ' ', '_']).next().unwrap_or(name);
            match (name.as_str(), bare) {
                (_, "x") => Column::Position(0),
                (_, "y") => Column::Position(1),
                (_, "z") => Column::Position(2),
                (_, "nx") | ("normal_x", _) => Column::Normal(0),
                (_, "ny") | ("normal_y", _) => Column::Normal(1),
                (_, "nz") | ("normal_z", _) => Column::Normal(2),
                (_, "r" | "red") => Column::Colour(0),
                (_, "g" | "green") => Column::Colour(1),
                (_, "b" | "blue") => Column::Colour(2),
                _ => Column::Other,
            }
        })
        .collect();
    for (axis, name) in ["x", "y", "z"].iter().enumerate() {
        let count = columns.iter().filter(|c| **c == Column::Position(axis)).count();
        if count != 1 {
            let times = if count == 0 {
                "no column"
            } else {
                "more than one column"
            };
            return Err(FormatError::at_line(
                path,
                line,
                format!("{times} headed \"{name}\" (the heads are {})", names.join(", ")),
                "head the three columns of the points x, y and z",
            ));
        }
    }
    Ok(columns)
}

/// Columns of a file without heads, by how many there are and what the first row looks like.
fn by_shape(
    path: &Path,
    line: usize,
    sample: &str,
    style: Style,
    warnings: &mut Vec<Warning>,
) -> Result<Vec<Column>, FormatError> {
    use Column::{Colour, Normal, Other, Position};
    let values: Vec<Option<f64>> = style.fields(sample).iter().map(|f| style.number(f)).collect();
    if values.len() < 3 || values[..3].iter().any(Option::is_none) {
        return Err(FormatError::at_line(
            path,
            line,
            format!(
                "\"{}\" where a row of points begins with three numbers",
                shortened(sample)
            ),
            "give x, y and z on each line, or heads on the first",
        ));
    }
    let unit_length = |from: usize| {
        let square: f64 = values[from..from + 3]
            .iter()
            .map(|v| v.unwrap_or(9.0).powi(2))
            .sum();
        (square.sqrt() - 1.0).abs() < 0.02
    };
    let byte_like = |from: usize| {
        values[from..from + 3]
            .iter()
            .all(|v| v.is_some_and(|v| (0.0..=255.0).contains(&v) && v.fract() == 0.0))
    };
    let mut columns = vec![Position(0), Position(1), Position(2)];
    while columns.len() + 3 <= values.len() {
        let from = columns.len();
        if unit_length(from) && !columns.contains(&Normal(0)) {
            columns.extend([Normal(0), Normal(1), Normal(2)]);
        } else if byte_like(from) && !columns.contains(&Colour(0)) {
            columns.extend([Colour(0), Colour(1), Colour(2)]);
        } else {
            columns.push(Other);
        }
    }
    columns.resize(values.len(), Other);
    if columns.contains(&Other) {
        warnings.push(Warning::new(
            "columns-passed-over",
            format!(
                "{}: it has {} columns without heads; those beyond the points, normals and colours were passed over",
                path.display(),
                values.len()
            ),
        ));
    }
    Ok(columns)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read_text(text: &[u8]) -> Result<RawPoints, FormatError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("points.xyz");
        std::fs::write(&path, text).unwrap();
        read(&path)
    }

    #[test]
    fn every_usual_spelling_gives_the_same_points() {
        let expected = vec![Point::new(1.5, 2.0, -0.5), Point::new(4.0, 5.0, 6.25)];
        for text in [
            "1.5 2 -.5\n4. 5 6.25\n",
            "1.5,2,-0.5\r\n4,5,6.25\r\n",
            "1.5, 2, -0.5\n4, 5, 6.25",
            "1.5;2;-0.5\n4;5;6.25\n",
            "1,5;2;-0,5\n4;5;6,25\n",
            "1,5 2,0 -0,5\n4,0 5,0 6,25\n",
            "1.5\t2\t-0.5\n\n4\t5\t6.25\n",
            "# a comment\nX Y Z\n1.5 2 -0.5\n4 5 6.25\n",
            "\u{feff}\"x\",\"y\",\"z\"\n1.5,2,-0.5\n4,5,6.25\n",
            "2\n1.5 2 -0.5\n4 5 6.25\n",
            "z (mm);x (mm);y (mm)\n-0,5;1,5;2\n6,25;4;5\n",
        ] {
            assert_eq!(read_text(text.as_bytes()).unwrap().points, expected, "{text}");
        }
    }

    #[test]
    fn normals_and_colours_are_known_with_and_without_heads() {
        let raw = read_text(b"1 2 3 0 0.6 0.8 255 0 10\n4 5 6 0 0 1 1 2 3\n").unwrap();
        assert_eq!(raw.normals.unwrap()[0], [0.0, 0.6, 0.8]);
        assert_eq!(raw.colours.unwrap()[1], [1, 2, 3]);
        let raw = read_text(b"x,y,z,red,green,blue,nx,ny,nz\n1,2,3,9,8,7,0,0,1\n").unwrap();
        assert_eq!(raw.colours.unwrap()[0], [9, 8, 7]);
        assert_eq!(raw.normals.unwrap()[0], [0.0, 0.0, 1.0]);
    }

    #[test]
    fn trouble_is_told_with_its_line() {
        let message = |text: &[u8]| read_text(text).unwrap_err().to_string();
        assert!(message(b"x,y,w\n1,2,3\n").contains("line 1: found no column headed \"z\""));
        assert!(message(b"1 2 3\n1 2\n").contains("line 2: found 2 columns"));
        assert!(message(b"1 2 3\r\n1 oops 3\r\n").contains("line 2: found \"oops\""));
        assert!(message(b"5\n1 2 3\n").contains("a count of 5 and then 1 points"));
        assert!(message(b"hello\nworld\n").contains("line 1"));
        assert!(message(b"x,y,z\n1,5,2,5,3,5\n").contains("6 fields under 3 heads"));
    }

    #[test]
    fn not_finite_rows_are_kept_for_the_next_stage_to_count() {
        let raw = read_text(b"1 2 3\nnan nan nan\n-nan(ind) 0 0\n").unwrap();
        assert_eq!(raw.points.len(), 3);
        assert!(raw.points[1].x.is_nan() && raw.points[2].x.is_nan());
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            let _ = read_text(&bytes);
        }

        #[test]
        fn no_table_makes_it_panic(text in "[xyz0-9.,;\t \n\r#e-]{0,200}") {
            let _ = read_text(text.as_bytes());
        }
    }
}
