//! Named points as a table: `name,x,y,z`, with heads; comma or semicolon; decimal point or decimal comma.
//!
//! Three more columns may say what is declared of a point: `pm` how well it is known (half the 95 % band, in the table's
//! unit unless its head says otherwise), `order` 1, 2 or 3, and `holds`: `up`, `across`, `fore-aft` joined by `+`, or `all`.
//! An empty field says nothing. A table of several takes has one more, `take`: whose point it is.

use std::path::Path;

use cloud::named::Datum;
use cloud::{NamedPoint, Point, Unit};

use crate::FormatError;
use crate::numbers::{number, number_with_comma};
use crate::table::{Table, no_column};
use crate::trouble::shortened;

/// The words of `holds`, along X, Y and Z.
const HOLDS: [&str; 3] = ["fore-aft", "across", "up"];

/// Reads named points given in `unit`; a head such as `x (in)` or `x_mm` that says otherwise wins. Other columns than
/// `name`, `x`, `y` and `z` are passed over, whatever they hold.
///
/// # Errors
/// A [`FormatError`] with the line of a missing column, a repeated or empty name, or a number that is none.
pub fn read(path: &Path, unit: Unit) -> Result<Vec<NamedPoint>, FormatError> {
    let datums = parsed(path, unit, false)?;
    Ok(datums.into_iter().map(|d| d.point).collect())
}

/// Reads named points as [`read`] does, and what the columns `pm`, `order` and `holds` declare of them.
///
/// # Errors
/// As [`read`], and the line of a `pm` that is no length above 0, an `order` that is not 1, 2 or 3, or a word of `holds`
/// that is none of its words.
pub fn read_datums(path: &Path, unit: Unit) -> Result<Vec<Datum>, FormatError> {
    parsed(path, unit, true)
}

/// A named point of one of several takes.
#[derive(Debug, Clone, PartialEq)]
pub struct OfTake {
    /// What the table calls the take.
    pub take: String,
    /// The line on which it stands.
    pub line: usize,
    /// The point, and what is declared of it.
    pub datum: Datum,
}

/// Reads the named points of several takes, as [`read_datums`] does with a column `take` besides; a name may stand once in each.
///
/// # Errors
/// As [`read_datums`], and the line of a point of no take.
pub fn read_of_takes(path: &Path, unit: Unit) -> Result<Vec<OfTake>, FormatError> {
    rows(path, unit, true, true)
}

fn parsed(path: &Path, unit: Unit, with_declared: bool) -> Result<Vec<Datum>, FormatError> {
    let rows = rows(path, unit, with_declared, false)?;
    Ok(rows.into_iter().map(|row| row.datum).collect())
}

fn rows(path: &Path, unit: Unit, with_declared: bool, of_takes: bool) -> Result<Vec<OfTake>, FormatError> {
    let mut table = Table::open(path, Some(b'#'))?;
    let columns = Columns::found(path, &table.heads, unit, with_declared, of_takes)?;
    let semicolons = table.semicolons;
    let mut found: Vec<OfTake> = Vec::new();
    for row in table.rows() {
        let (line, record) = row?;
        let row = Row {
            path,
            line,
            record: &record,
            name: record.get(columns.name).unwrap_or_default(),
            semicolons,
        };
        if row.name.is_empty() {
            return Err(row.trouble("a point without a name", "name it or take the line out"));
        }
        let take = row.written(columns.take);
        if of_takes && take.is_none() {
            let found = format!("the point \"{}\" of no take", shortened(row.name));
            return Err(row.trouble(found, "write the name of the take's file before it"));
        }
        let take = take.unwrap_or_default();
        if found
            .iter()
            .any(|f| f.datum.point.name == row.name && f.take == take)
        {
            return Err(row.trouble(
                format!("the name \"{}\" for the second time", shortened(row.name)),
                "give each point its own name",
            ));
        }
        found.push(OfTake {
            take: take.to_string(),
            line,
            datum: row.datum(&columns)?,
        });
    }
    if found.is_empty() {
        return Err(FormatError::whole(
            path,
            "no points under the heads",
            "give one point a line",
        ));
    }
    Ok(found)
}

/// Which column holds what, and the scales.
struct Columns {
    take: Option<usize>,
    name: usize,
    axes: [usize; 3],
    /// Millimetres in one of the table.
    scale: f64,
    /// The column and its own scale.
    pm: Option<(usize, f64)>,
    order: Option<usize>,
    holds: Option<usize>,
}

impl Columns {
    fn found(
        path: &Path,
        heads: &[String],
        unit: Unit,
        with_declared: bool,
        of_takes: bool,
    ) -> Result<Self, FormatError> {
        let seek = |wanted: &str| {
            heads
                .iter()
                .position(|h| h.split(['(', '[', ' ', '_']).next() == Some(wanted))
        };
        let needed = |wanted: &str| {
            let advice = if of_takes {
                "head the columns take, name, x, y and z"
            } else {
                "head the columns name, x, y and z"
            };
            seek(wanted).ok_or_else(|| no_column(path, heads, wanted, advice))
        };
        // These two have no unit, and "order no." is another column.
        let declared = |wanted: &str| heads.iter().position(|h| with_declared && h == wanted);
        let says = |column: usize, letters: usize, unit: &Unit| {
            heads[column][letters..].trim_matches([' ', '_', '(', ')', '[', ']']) == unit.symbol()
        };
        let take = of_takes.then(|| needed("take")).transpose()?;
        let name = needed("name")?;
        let axes = [needed("x")?, needed("y")?, needed("z")?];
        let scale = Unit::ALL
            .into_iter()
            .find(|u| axes.iter().all(|&a| says(a, 1, u)))
            .unwrap_or(unit)
            .in_mm();
        let pm = seek("pm").filter(|_| with_declared).map(|column| {
            let own = Unit::ALL.into_iter().find(|u| says(column, 2, u));
            (column, own.map_or(scale, Unit::in_mm))
        });
        Ok(Self {
            take,
            name,
            axes,
            scale,
            pm,
            order: declared("order"),
            holds: declared("holds"),
        })
    }
}

/// One line of the table.
struct Row<'a> {
    path: &'a Path,
    line: usize,
    record: &'a csv::StringRecord,
    name: &'a str,
    /// Semicolons part the fields, so that a comma may be a decimal comma.
    semicolons: bool,
}

impl Row<'_> {
    fn trouble(&self, found: impl Into<String>, advice: &str) -> FormatError {
        FormatError::at_line(self.path, self.line, found, advice)
    }

    fn wrong(&self, text: &str, what: &str, advice: &str) -> FormatError {
        let found = format!(
            "\"{}\" as {what} of \"{}\"",
            shortened(text),
            shortened(self.name)
        );
        self.trouble(found, advice)
    }

    fn field(&self, column: usize) -> &str {
        self.record.get(column).unwrap_or_default()
    }

    /// What is written in a column that need not be there; `None` where nothing is.
    fn written(&self, column: Option<usize>) -> Option<&str> {
        column.map(|c| self.field(c)).filter(|text| !text.is_empty())
    }

    fn finite(&self, text: &str) -> Option<f64> {
        number(text)
            .or_else(|| {
                if self.semicolons {
                    number_with_comma(text)
                } else {
                    None
                }
            })
            .filter(|v| v.is_finite())
    }

    fn datum(&self, columns: &Columns) -> Result<Datum, FormatError> {
        let mut at = [0.0; 3];
        for (value, (&axis, letter)) in at.iter_mut().zip(columns.axes.iter().zip(["x", "y", "z"])) {
            let text = self.field(axis);
            let found = self
                .finite(text)
                .ok_or_else(|| self.wrong(text, letter, "give a number"))?;
            *value = found * columns.scale;
        }
        Ok(Datum {
            point: NamedPoint {
                name: self.name.to_string(),
                at_mm: Point::from(at),
            },
            pm_mm: self.pm_mm(columns)?,
            order: self.order(columns)?,
            holds: self.holds(columns)?,
        })
    }

    fn pm_mm(&self, columns: &Columns) -> Result<Option<f64>, FormatError> {
        let Some((text, scale)) = columns
            .pm
            .and_then(|(column, scale)| Some((self.written(Some(column))?, scale)))
        else {
            return Ok(None);
        };
        let advice = "give how well the point is known as a length above 0, or leave the field empty";
        let value = self
            .finite(text)
            .filter(|v| *v > 0.0)
            .ok_or_else(|| self.wrong(text, "pm", advice))?;
        Ok(Some(value * scale))
    }

    fn order(&self, columns: &Columns) -> Result<Option<u8>, FormatError> {
        let Some(text) = self.written(columns.order) else {
            return Ok(None);
        };
        match text {
            "1" => Ok(Some(1)),
            "2" => Ok(Some(2)),
            "3" => Ok(Some(3)),
            _ => Err(self.wrong(text, "order", "write 1, 2 or 3, or leave the field empty")),
        }
    }

    fn holds(&self, columns: &Columns) -> Result<Option<[bool; 3]>, FormatError> {
        let Some(text) = self.written(columns.holds) else {
            return Ok(None);
        };
        let mut holds = [false; 3];
        for word in text.split('+').map(|w| w.trim().to_ascii_lowercase()) {
            if word == "all" {
                holds = [true; 3];
            } else if let Some(axis) = HOLDS.iter().position(|known| *known == word) {
                holds[axis] = true;
            } else {
                let advice = "write up, across or fore-aft, joined by + where it holds several ways, or all";
                return Err(self.wrong(text, "holds", advice));
            }
        }
        Ok(Some(holds))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_table_makes_it_panic(text in "(name,x,y,z(,pm,order,holds)?\n)?[a-z0-9.,;+\"\n -]{0,200}") {
            let _ = of_text(&text, |path| read_datums(path, Unit::Inch));
        }
    }

    fn of_text<T>(text: &str, read: impl Fn(&Path) -> T) -> T {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("points.csv");
        std::fs::write(&path, text).unwrap();
        read(&path)
    }

    fn read_text(text: &str) -> Result<Vec<NamedPoint>, FormatError> {
        of_text(text, |path| read(path, Unit::Inch))
    }

    fn datums_of(text: &str) -> Result<Vec<Datum>, FormatError> {
        of_text(text, |path| read_datums(path, Unit::Inch))
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

    #[test]
    fn a_table_of_several_takes_has_each_name_once_a_take() {
        let of_takes = |text: &str| of_text(text, |path| read_of_takes(path, Unit::Inch));
        let found = of_takes("take,name,x,y,z,pm\na.ply,H1,1,2,3,0.1\nb,H1,4,5,6,\n").unwrap();
        let told: Vec<(&str, usize)> = found.iter().map(|f| (f.take.as_str(), f.line)).collect();
        assert_eq!(told, [("a.ply", 2), ("b", 3)]);
        assert!((found[1].datum.point.at_mm - Point::new(101.6, 127.0, 152.4)).norm() < 1e-9);
        assert!((found[0].datum.pm_mm.unwrap() - 2.54).abs() < 1e-12);
        let message = |text: &str| of_takes(text).unwrap_err().to_string();
        for (text, expected) in [
            ("name,x,y,z\nH1,1,2,3\n", "no column headed \"take\""),
            (
                "take,name,x,y,z\n,H1,1,2,3\n",
                "line 2: found the point \"H1\" of no take",
            ),
            (
                "take,name,x,y,z\na,H1,1,2,3\nb,H1,1,2,3\na,H1,1,2,3\n",
                "line 4: found the name \"H1\" for the second time",
            ),
        ] {
            assert!(message(text).contains(expected), "{}", message(text));
        }
    }

    #[test]
    fn what_is_declared_of_a_point_is_read() {
        let datums = datums_of("name,x,y,z,order,holds,pm\nP1,1,2,3,1,,0.5\n").unwrap();
        assert_eq!(datums[0].order, Some(1));
        assert_eq!(datums[0].holds, None);
        assert!((datums[0].pm_mm.unwrap() - 12.7).abs() < 1e-12);
        let datums = datums_of(
            "name;x (mm);y (mm);z (mm);pm (in);holds;order\nH;1;2;3;0,5;Up + across;2\nS;1;2;3;;all\nT;1;2;3\n",
        )
        .unwrap();
        assert!((datums[0].pm_mm.unwrap() - 12.7).abs() < 1e-12);
        assert_eq!(datums[0].holds, Some([false, true, true]));
        assert_eq!(datums[0].order, Some(2));
        assert_eq!(datums[1].holds, Some([true; 3]));
        assert_eq!(
            (datums[1].pm_mm, datums[1].order, datums[2].holds),
            (None, None, None)
        );
        // The unit of the places is that of the pm where its head says nothing.
        let datums = datums_of("name,x_mm,y_mm,z_mm,pm\nH,1,2,3,0.4\n").unwrap();
        assert_eq!(datums[0].pm_mm, Some(0.4));
    }

    #[test]
    fn what_cannot_be_declared_is_told_and_does_not_hinder_plain_points() {
        let head = "name,x,y,z,pm,order,holds\nA,1,2,3,0.1,1,up\n";
        for (row, found) in [
            ("B,1,2,3,0,1,up", "\"0\" as pm of \"B\""),
            ("B,1,2,3,-1,1,up", "\"-1\" as pm of \"B\""),
            ("B,1,2,3,good,1,up", "\"good\" as pm"),
            ("B,1,2,3,,4,up", "\"4\" as order of \"B\""),
            ("B,1,2,3,,first,up", "\"first\" as order"),
            ("B,1,2,3,,1,up+sideways", "\"up+sideways\" as holds of \"B\""),
            ("B,1,2,3,,1,up+", "\"up+\" as holds"),
        ] {
            let text = format!("{head}{row}\n");
            let message = datums_of(&text).unwrap_err().to_string();
            assert!(
                message.contains("line 3") && message.contains(found),
                "{row}: {message}"
            );
            assert_eq!(read_text(&text).unwrap().len(), 2);
        }
    }
}
