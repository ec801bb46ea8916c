//! Sets as declared: file and unit, which way they stand, their sheet, and the bars that they are scaled by.

use std::path::Path;

use cloud::gauge::Gauge;
use cloud::{Matrix3, Point};

use super::Set;
use super::file::Faults;
use super::inside::file_of;
use super::regions::one_of;
use super::section::Section;

/// Which axis of a file points up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Up {
    /// The third, as the body's own frame has it.
    Z,
    /// The second, as most programs for photographs write.
    Y,
    /// The first.
    X,
    /// Against the third: the set hangs upside down.
    MinusZ,
    /// Against the second.
    MinusY,
    /// Against the first.
    MinusX,
}

impl Up {
    /// All of them, with their words.
    const ALL: [(&'static str, Up); 6] = [
        ("z", Up::Z),
        ("y", Up::Y),
        ("x", Up::X),
        ("-z", Up::MinusZ),
        ("-y", Up::MinusY),
        ("-x", Up::MinusX),
    ];

    /// The turn that brings this axis to Z and leaves X as near to itself as it can: a proper rotation, so that the hand
    /// stays.
    pub fn turn(self) -> Matrix3 {
        let rows = match self {
            Up::Z => [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
            Up::Y => [[1, 0, 0], [0, 0, -1], [0, 1, 0]],
            Up::X => [[0, 0, -1], [0, 1, 0], [1, 0, 0]],
            Up::MinusZ => [[1, 0, 0], [0, -1, 0], [0, 0, -1]],
            Up::MinusY => [[1, 0, 0], [0, 0, 1], [0, -1, 0]],
            Up::MinusX => [[0, 0, 1], [0, 1, 0], [-1, 0, 0]],
        };
        Matrix3::from_fn(|row, column| f64::from(rows[row][column]))
    }
}

/// A face of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// The one that regions call outside.
    Outside,
    /// The other.
    Inside,
}

/// A known distance in a set.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Its ends, in the file's own numbers.
    pub ends: [Point; 2],
    /// Its true length, mm.
    pub length_mm: f64,
    /// The length as it was written.
    pub written: String,
}

impl Bar {
    /// How long it is in the file's own numbers.
    pub fn measured(&self) -> f64 {
        (self.ends[1] - self.ends[0]).norm()
    }
}

/// Two bars that lie within this of one direction see the same fault alike, degrees.
const APART_DEG: f64 = 20.0;

/// Checks a set whose name is known; `None` where its file is not.
pub fn set(mut section: Section<'_, '_>, name: &str, folder: &Path, faults: &mut Faults<'_>) -> Option<Set> {
    let file = section.needed_text("file", faults);
    let unit = section.unit("units", faults);
    let up = one_of(&mut section, "up", &Up::ALL, faults);
    let face = one_of(
        &mut section,
        "face",
        &[("outside", Face::Outside), ("inside", Face::Inside)],
        faults,
    );
    let gauge = section.text_or_number("gauge", faults).and_then(|(text, span)| {
        text.parse::<Gauge>()
            .map_err(|words| faults.add(&span, format!("\"gauge\" in {}: {words}", section.title)))
            .ok()
    });
    let celsius = section.number("celsius", faults);
    let bars = bars(&mut section, faults);
    let points = section.text("points", faults);
    section.end(faults);
    let (file, span) = file?;
    let path = file_of(folder, &file, &format!("set \"{name}\""), &span, faults);
    let points = points.map(|(table, span)| {
        let what = format!("\"points\" of set \"{name}\"");
        file_of(folder, &table, &what, &span, faults)
    });
    Some(Set {
        up,
        gauge,
        face,
        celsius,
        bars,
        points,
        file,
        ..Set::new(name, &path, unit)
    })
}

/// The bars of a set: none, or enough of them.
fn bars(section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Vec<Bar> {
    let tables = section.tables("bars", faults);
    let asked = tables.len();
    let bars: Vec<Bar> = tables
        .into_iter()
        .enumerate()
        .filter_map(|(i, mut table)| {
            table.title = format!("bar {} of {}", i + 1, section.title);
            bar(table, faults)
        })
        .collect();
    if asked == 0 || bars.len() < asked {
        return bars;
    }
    let span = section.span().clone();
    let written: Vec<&str> = bars.iter().map(|b| b.written.as_str()).collect();
    if asked == 1 {
        faults.add(
            &span,
            format!(
                "{} has one bar only ({}); give at least two, in different directions, so that one can be held against the other",
                section.title, written[0]
            ),
        );
    } else if !directions_differ(&bars) {
        faults.add(
            &span,
            format!(
                "the bars of {} ({}) all lie within {APART_DEG:.0}° of one direction; lay one of them across",
                section.title,
                written.join(", ")
            ),
        );
    }
    bars
}

fn bar(mut section: Section<'_, '_>, faults: &mut Faults<'_>) -> Option<Bar> {
    let span = section.span().clone();
    let ends = section.two_places("ends", "ends", faults);
    let written = section.needed_text("length", faults);
    let length_mm = section.length_mm("length", faults);
    let title = section.title.clone();
    section.end(faults);
    let bar = Bar {
        ends: ends?.map(Point::from),
        length_mm: length_mm?,
        written: written?.0,
    };
    if bar.measured() <= 0.0 {
        faults.add(&span, format!("both ends of {title} are one place"));
        return None;
    }
    Some(bar)
}

/// Whether two of the bars lie in really different directions.
fn directions_differ(bars: &[Bar]) -> bool {
    let alike = APART_DEG.to_radians().cos();
    let along = |bar: &Bar| (bar.ends[1] - bar.ends[0]).normalize();
    bars.iter().enumerate().any(|(i, a)| {
        bars[i + 1..]
            .iter()
            .any(|b| along(a).dot(&along(b)).abs() < alike)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Vector;

    #[test]
    fn every_turn_keeps_the_hand_and_brings_its_axis_up() {
        for (word, up) in Up::ALL {
            let turn = up.turn();
            assert!((turn.determinant() - 1.0).abs() < 1e-12, "{word}");
            assert!((turn * turn.transpose() - Matrix3::identity()).norm() < 1e-12);
            let axis = match word.trim_start_matches('-') {
                "x" => Vector::x(),
                "y" => Vector::y(),
                _ => Vector::z(),
            };
            let sign = if word.starts_with('-') { -1.0 } else { 1.0 };
            assert!((turn * axis * sign - Vector::z()).norm() < 1e-12, "{word}");
            // X stays where it can, and else it is Y that does.
            let stays = if axis == Vector::x() {
                Vector::y()
            } else {
                Vector::x()
            };
            assert!((turn * stays - stays).norm() < 1e-12, "{word}");
        }
        let turned = Up::Y.turn() * Vector::new(1.0, 2.0, 3.0);
        assert!((turned - Vector::new(1.0, -3.0, 2.0)).norm() < 1e-12);
    }
}
