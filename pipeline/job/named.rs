//! What a comparison is set by that has a name, as declared: points in two tables, and holes that the program finds itself.

use std::ops::Range;
use std::path::PathBuf;

use cloud::Unit;

use super::check::Known;
use super::file::{Faults, did_you_mean};
use super::inside::file_of;
use super::section::Section;
use super::{Comparison, PointTables, Set};
use crate::cli::SetBy;

/// Fewest holes that a set can be set by.
const FEWEST_HOLES: usize = 3;

/// Holes that the owner names on the reference, and that are found in both sets.
#[derive(Debug, Clone, PartialEq)]
pub struct DatumHoles {
    /// Their names, in the owner's order.
    pub names: Vec<String>,
    /// The table that says where they are on the reference; what it does not hold stands in `[places]`.
    pub table: Option<PlacesTable>,
}

/// A table of named points of the reference.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacesTable {
    /// Where it lies.
    pub path: PathBuf,
    /// Its unit, where no head says so.
    pub unit: Unit,
}

/// Both kinds, as far as they are given.
pub(super) struct Named {
    pub(super) points: Option<PointTables>,
    pub(super) holes: Option<DatumHoles>,
}

impl Known<'_> {
    /// The named points and the named holes of a comparison. For points there is a table of each set; for holes one of the
    /// reference does, or none.
    pub(super) fn named_of(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Named {
        let asked = section.texts("datum_holes", faults);
        let mut table = |key: &'static str| {
            let (file, span) = section.text(key, faults)?;
            Some(file_of(self.folder, &file, &format!("\"{key}\""), &span, faults))
        };
        let (reference, measured) = (table("points_reference"), table("points_measured"));
        let alone = match asked {
            Some(_) => measured.is_some() && reference.is_none(),
            None => measured.is_some() != reference.is_some(),
        };
        if alone {
            faults.add(
                section.span(),
                format!(
                    "{} has only one of \"points_reference\" and \"points_measured\"",
                    section.title
                ),
            );
        }
        let table = reference.clone().map(|path| PlacesTable {
            path,
            unit: self.unit,
        });
        let holes = asked.map(|asked| {
            self.refuse_holes(&asked, table.is_some(), section, faults);
            if asked.len() < FEWEST_HOLES && measured.is_none() {
                faults.add(
                    section.span(),
                    format!(
                        "\"datum_holes\" in {} names {} of them; name at least {FEWEST_HOLES}, or give tables of points for the rest",
                        section.title,
                        asked.len()
                    ),
                );
            }
            DatumHoles {
                names: asked.into_iter().map(|(name, _)| name).collect(),
                table,
            }
        });
        let points = reference.zip(measured).map(|(reference, measured)| PointTables {
            reference,
            reference_unit: self.unit,
            measured,
            measured_unit: self.unit,
        });
        Named { points, holes }
    }

    /// Names that stand twice are refused, and such as stand nowhere. What a table holds is known when it is read.
    fn refuse_holes(
        &self,
        asked: &[(String, Range<usize>)],
        has_table: bool,
        section: &Section<'_, '_>,
        faults: &mut Faults<'_>,
    ) {
        for (k, (name, span)) in asked.iter().enumerate() {
            if asked[..k].iter().any(|(before, _)| before == name) {
                faults.add(
                    span,
                    format!("\"datum_holes\" in {} names \"{name}\" twice", section.title),
                );
            } else if !has_table && !self.places.iter().any(|place| place.name == *name) {
                let hint = did_you_mean(name, self.places.iter().map(|place| place.name.as_str()));
                faults.add(
                    span,
                    format!(
                        "\"datum_holes\" in {}: there is no place \"{name}\" in [places]{hint}",
                        section.title
                    ),
                );
            }
        }
    }
}

/// What is set by names needs some; and holes that were named must set something.
pub(super) fn refuse_setting(
    set_by: SetBy,
    mirror: bool,
    named: &Named,
    section: &Section<'_, '_>,
    faults: &mut Faults<'_>,
) {
    let (title, span) = (&section.title, section.span());
    if matches!(set_by, SetBy::Points | SetBy::Order) && named.points.is_none() && named.holes.is_none() {
        faults.add(
            span,
            format!(
                "{title} is set by {}, but has no \"points_reference\" and \"points_measured\", and no \"datum_holes\"",
                set_by.word()
            ),
        );
    }
    if named.holes.is_none() {
        return;
    }
    let why = match set_by {
        _ if mirror => "is held against its own mirror image".to_string(),
        SetBy::Holes | SetBy::AllOver | SetBy::AsIs => format!("is set by {}", set_by.word()),
        SetBy::Points | SetBy::Order | SetBy::LeftAlone => return,
    };
    faults.add(
        span,
        format!(
            "{title} {why}, so that its \"datum_holes\" set nothing: take them out, or set it by points, order or left-alone"
        ),
    );
}

/// What is set by points needs the points of each of its sets, so those of `others` too; datum holes are found in each.
pub(super) fn refuse_without_points<'a>(
    comparison: &Comparison,
    others: impl Iterator<Item = &'a Set>,
    title: &str,
    span: &Range<usize>,
    faults: &mut Faults<'_>,
) {
    let by_points = matches!(comparison.set_by, SetBy::Points | SetBy::Order);
    if !by_points || comparison.points.is_none() || comparison.datum_holes.is_some() {
        return;
    }
    for set in others.filter(|set| set.points.is_none()) {
        faults.add(
            span,
            format!(
                "{title} is set by {}, and so is its set \"{}\": give the table of that set's own points as \"points\" in [[set]] \"{}\"",
                comparison.set_by.word(),
                set.name,
                set.name
            ),
        );
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::job::check::job;
    use crate::trouble::Trouble;

    fn read(comparison: &str) -> Result<crate::job::Job, Trouble> {
        let text = format!(
            "name = \"x\"\nunits = \"in\"\n[[set]]\nname = \"a\"\nfile = \"Cargo.toml\"\n[[set]]\nname = \"b\"\nfile = \"Cargo.toml\"\n[places]\nH1 = [0, 0, 0]\nH2 = [1, 0, 0]\nH3 = [0, 1, 0]\n[[comparison]]\nname = \"one\"\nreference = \"a\"\nmeasured = \"b\"\n{comparison}\n"
        );
        job(Path::new("job.toml"), Path::new("."), &text)
    }

    #[test]
    fn datum_holes_need_no_table_and_set_by_themselves() {
        let job = read("datum_holes = [\"H3\", \"H1\", \"H2\"]\nheld = \"a\"").map(|_| ());
        // A set that is held against itself is refused for its own reason only.
        let words = job.unwrap_err().to_string();
        assert!(
            !words.contains("points") && !words.contains("datum_holes"),
            "{words}"
        );
        let job = read("datum_holes = [\"H3\", \"H1\", \"H2\"]").unwrap();
        let one = &job.comparisons[0];
        assert_eq!(one.set_by, SetBy::Points);
        assert_eq!(one.points, None);
        let holes = one.datum_holes.as_ref().unwrap();
        assert_eq!(
            (holes.names.join(" "), &holes.table),
            ("H3 H1 H2".to_string(), &None)
        );
        let job = read("datum_holes = [\"P1\", \"P2\", \"P3\"]\npoints_reference = \"README.md\"").unwrap();
        let holes = job.comparisons[0].datum_holes.as_ref().unwrap();
        let table = holes.table.as_ref().unwrap();
        assert_eq!(
            (table.path.as_path(), table.unit),
            (Path::new("./README.md"), Unit::Inch)
        );
        assert_eq!(job.comparisons[0].points, None);
    }

    #[test]
    fn names_that_can_set_nothing_are_told() {
        for (comparison, expected) in [
            (
                "datum_holes = [\"H1\", \"H2\", \"h3\"]",
                "there is no place \"h3\" in [places]; did you mean \"H3\"?",
            ),
            (
                "datum_holes = [\"H1\", \"H2\", \"H3\", \"H1\"]",
                "names \"H1\" twice",
            ),
            (
                "datum_holes = [\"H1\", \"H2\"]",
                "names 2 of them; name at least 3",
            ),
            (
                "datum_holes = [\"H1\", \"H2\", \"H3\"]\nset_by = \"holes\"",
                "is set by holes, so that its \"datum_holes\" set nothing",
            ),
            (
                "datum_holes = [\"H1\", \"H2\", \"H3\"]\npoints_measured = \"README.md\"",
                "has only one of \"points_reference\" and \"points_measured\"",
            ),
            ("set_by = \"order\"", "and no \"datum_holes\""),
        ] {
            let words = read(comparison).unwrap_err().to_string();
            assert!(words.contains(expected), "{expected}\n{words}");
            assert!(words.contains("[[comparison]] \"one\""), "{words}");
        }
    }
}
