//! Named points of the takes, from one table: whose each is, and whether they are enough to lay one take on another.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use ::register::takes::FEWEST_POINTS;
use archive::Fingerprint;
use cloud::Unit;
use cloud::named::Datum;
use formats::FormatError;
use formats::named::{OfTake, read_of_takes};

use super::record::name_of;
use crate::job::file::did_you_mean;
use crate::stages::scale::Known;
use crate::trouble::Trouble;

/// The named points of all takes.
pub struct Named {
    /// The table.
    pub file: String,
    /// Its fingerprint.
    pub print: Fingerprint,
    /// The points of each take, in its own frame.
    pub of_takes: Vec<Vec<Datum>>,
}

/// Reads the table; where its heads don't say the unit it is that of the take.
pub fn read(path: &Path, takes: &[PathBuf], known: &[Known]) -> Result<Named, Trouble> {
    let mut of_takes: Vec<Vec<Datum>> = vec![Vec::new(); takes.len()];
    let mut begins = vec![0; takes.len()];
    let units = Unit::ALL.into_iter();
    for unit in units.filter(|unit| known.iter().any(|file| file.unit == *unit)) {
        for row in read_of_takes(path, unit)? {
            let take = take_called(path, &row, takes)?;
            if known[take].unit != unit {
                continue;
            }
            let points = &mut of_takes[take];
            if points.is_empty() {
                begins[take] = row.line;
            }
            if points.iter().any(|d| d.point.name == row.datum.point.name) {
                let found = format!(
                    "the name \"{}\" for the second time in {}",
                    row.datum.point.name,
                    name_of(&takes[take])
                );
                return Err(
                    FormatError::at_line(path, row.line, found, "give each point its own name").into(),
                );
            }
            points.push(row.datum);
        }
    }
    refuse_too_few(path, takes, &of_takes, &begins)?;
    Ok(Named {
        file: path.display().to_string(),
        print: Fingerprint::of(path)?,
        of_takes,
    })
}

/// The take that a row speaks of: by its path as it was given, by its file's name, or by that without its ending.
fn take_called(path: &Path, row: &OfTake, takes: &[PathBuf]) -> Result<usize, Trouble> {
    let trouble =
        |found: String, advice: String| Trouble::from(FormatError::at_line(path, row.line, found, advice));
    let ways: [fn(&Path) -> Option<&OsStr>; 3] = [as_given, Path::file_name, Path::file_stem];
    for way in ways {
        let mut called = (0..takes.len()).filter(|&k| way(&takes[k]).is_some_and(|n| n == row.take.as_str()));
        match (called.next(), called.next()) {
            (Some(take), None) => return Ok(take),
            (Some(a), Some(b)) => {
                let (a, b) = (takes[a].display(), takes[b].display());
                return Err(trouble(
                    format!("the take \"{}\", which may be {a} or {b}", row.take),
                    "write it as it is given to join".to_string(),
                ));
            }
            _ => {}
        }
    }
    let names: Vec<String> = takes.iter().map(|take| name_of(take)).collect();
    let hint = did_you_mean(&row.take, names.iter().map(String::as_str));
    Err(trouble(
        format!("the take \"{}\", which is none of those to be joined", row.take),
        format!("call it by its file's name ({}){hint}", names.join(", ")),
    ))
}

fn as_given(take: &Path) -> Option<&OsStr> {
    Some(take.as_os_str())
}

/// Points of a take that no other has can lay nothing.
fn refuse_too_few(
    path: &Path,
    takes: &[PathBuf],
    of_takes: &[Vec<Datum>],
    begins: &[usize],
) -> Result<(), Trouble> {
    let shared = |a: &[Datum], b: &[Datum]| {
        a.iter()
            .filter(|one| b.iter().any(|other| other.point.name == one.point.name))
            .count()
    };
    for (take, points) in of_takes.iter().enumerate().filter(|(_, p)| !p.is_empty()) {
        let others = (0..of_takes.len()).filter(|other| *other != take);
        let most = others.map(|other| shared(points, &of_takes[other])).max();
        let most = most.unwrap_or(0);
        if most >= FEWEST_POINTS {
            continue;
        }
        let name = name_of(&takes[take]);
        let found = match most {
            0 => format!("no point of {name} that another take has as well"),
            1 => format!("only one point of {name} that another take has as well"),
            more => format!("only {more} points of {name} that another take has as well"),
        };
        let advice = format!(
            "name at least {FEWEST_POINTS} that both takes show by the same names, or take the lines of {name} out"
        );
        return Err(FormatError::at_line(path, begins[take], found, advice).into());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn called(take: &str, takes: &[&str]) -> Result<usize, Trouble> {
        let takes: Vec<PathBuf> = takes.iter().map(PathBuf::from).collect();
        let row = OfTake {
            take: take.to_string(),
            line: 4,
            datum: Datum::from(cloud::NamedPoint {
                name: "H1".to_string(),
                at_mm: cloud::Point::origin(),
            }),
        };
        take_called(Path::new("points.csv"), &row, &takes)
    }

    #[test]
    fn a_take_is_called_by_its_path_its_name_or_its_name_without_ending() {
        let takes = ["day1/left.ply", "day2/left.ply", "right.ply", "right.stl"];
        for (name, expected) in [("day2/left.ply", 1), ("right.ply", 2), ("right.stl", 3)] {
            assert_eq!(called(name, &takes), Ok(expected));
        }
        assert_eq!(called("left", &takes[1..]), Ok(0));
        for (name, words) in [
            ("left", "may be day1/left.ply or day2/left.ply"),
            ("right", "may be right.ply or right.stl"),
            ("rihgt.ply", "did you mean \"right.ply\"?"),
            (
                "bonnet",
                "points.csv, line 4: found the take \"bonnet\", which is none of those",
            ),
        ] {
            let told = called(name, &takes).unwrap_err().to_string();
            assert!(told.contains(words), "{told}");
        }
    }

    #[test]
    fn points_that_no_other_take_has_are_refused_where_they_stand() {
        let points = |names: &[&str]| -> Vec<Datum> {
            let named = |name: &&str| cloud::NamedPoint {
                name: (*name).to_string(),
                at_mm: cloud::Point::origin(),
            };
            names.iter().map(|name| named(name).into()).collect()
        };
        let takes = ["a.ply", "b.ply", "c.ply"].map(PathBuf::from);
        let of_takes = [
            points(&["1", "2", "3"]),
            points(&["3", "2", "1", "4"]),
            points(&["4", "3"]),
        ];
        let refused = refuse_too_few(Path::new("p.csv"), &takes, &of_takes, &[2, 5, 9]);
        let told = refused.unwrap_err().to_string();
        assert!(
            told.starts_with(
                "p.csv, line 9: found only 2 points of c.ply that another take has as well; name at least 3"
            ),
            "{told}"
        );
        assert_eq!(
            refuse_too_few(Path::new("p.csv"), &takes[..2], &of_takes[..2], &[2, 5]),
            Ok(())
        );
    }
}
