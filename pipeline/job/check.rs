//! Checks a job file: all faults at once, each with file, line and key; what comes out holds no doubt.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;

use cloud::{NamedPoint, Unit};
use compare::Region;

use super::asked::{self, RecessAsked, SectionAsked, ShellAsked};
use super::checks::{CheckAsked, Declared, checks};
use super::file::{Faults, parse};
use super::regions::{refuse_odd_name, regions};
use super::section::Section;
use super::trips::{self, Before, Trip};
use super::{Comparison, Job, Set, about, sets};
use crate::trouble::Trouble;

/// Where nothing is said, metal may be off by a sixteenth (common practice, no source).
const USUAL_LIMIT_MM: f64 = 25.4 / 16.0;
/// Where nothing is said, metal within half an inch is taken for the same sheet.
const USUAL_REACH_MM: f64 = 12.7;

/// Checks the text of a job file.
pub fn job(file: &Path, folder: &Path, text: &str) -> Result<Job, Trouble> {
    let mut faults = Faults::new(file, text);
    let table = parse(text, &mut faults);
    let mut top = Section::new("the job file", table.get_ref(), 0..0);
    let name = top
        .needed_text("name", &mut faults)
        .map(|n| n.0)
        .unwrap_or_default();
    let unit = top.unit("units", &mut faults).unwrap_or(Unit::Millimetre);
    let limit_mm = top.length_mm("limit", &mut faults).unwrap_or(USUAL_LIMIT_MM);
    let reach_mm = top.length_mm("reach", &mut faults).unwrap_or(USUAL_REACH_MM);
    let mut known = Known {
        folder,
        unit,
        limit_mm,
        reach_mm,
        sets: BTreeMap::new(),
        regions: Vec::new(),
        limited: Vec::new(),
        places: Vec::new(),
        recesses: Vec::new(),
        checks: Vec::new(),
        sections: Vec::new(),
        shell: None,
    };
    for section in top.tables("set", &mut faults) {
        known.set(section, &mut faults);
    }
    let mut tables = top.tables("region", &mut faults);
    known.limited = tables.iter_mut().filter_map(limited).collect();
    known.regions = regions(tables, unit, limit_mm, &mut faults);
    known.places = top.places("places", unit, &mut faults);
    known.recesses = asked::recesses(top.tables("recess", &mut faults), unit, limit_mm, &mut faults);
    known.sections = asked::sections(top.tables("section", &mut faults), unit, &mut faults);
    known.shell = top
        .table("shell", &mut faults)
        .and_then(|table| asked::shell(table, &known.places, limit_mm, &mut faults));
    let declared = Declared {
        unit,
        limit_mm,
        regions: &known.regions,
        places: &known.places,
    };
    known.checks = checks(top.tables("check", &mut faults), &declared, &mut faults);
    let sections = top.tables("comparison", &mut faults);
    if sections.is_empty() {
        faults.add(&(0..0), "there is no [[comparison]]: nothing to do");
    }
    let mut comparisons: Vec<Comparison> = Vec::new();
    for section in sections {
        let span = section.span().clone();
        if let Some(comparison) = known.comparison(section, &mut faults) {
            refuse_named_alike(&comparisons, &comparison.name, &span, &mut faults);
            comparisons.push(comparison);
        }
    }
    let mut trips: Vec<Trip> = Vec::new();
    for section in top.tables("trip", &mut faults) {
        if let Some((trip, added)) = known.trip(section, &trips, &comparisons, &mut faults) {
            trips.push(trip);
            comparisons.extend(added);
        }
    }
    // A trip of one day comes before those that the file names after it.
    trips.sort_by(|a, b| a.day.cmp(&b.day));
    let about = about::about(top.table("about", &mut faults), &name, &mut faults);
    top.end(&mut faults);
    let lost = faults.done()?;
    Ok(Job {
        file: file.to_path_buf(),
        lost,
        name,
        folder: folder.to_path_buf(),
        results_in: folder.join("results"),
        about,
        places: known.places,
        comparisons,
        trips,
        limit_mm,
    })
}

/// The name of a region that has a limit of its own.
fn limited(table: &mut Section<'_, '_>) -> Option<String> {
    table.take("limit")?;
    let name = table.take("name")?.get_ref().as_str()?;
    Some(name.to_string())
}

/// Two names that a disk takes for one would share a folder of results.
fn refuse_named_alike(comparisons: &[Comparison], name: &str, span: &Range<usize>, faults: &mut Faults<'_>) {
    if comparisons.iter().any(|c| c.name == name) {
        faults.add(span, format!("two comparisons are named \"{name}\""));
    } else if let Some(other) = comparisons.iter().find(|c| archive::name::alike(&c.name, name)) {
        faults.add(
            span,
            format!(
                "the comparisons \"{}\" and \"{name}\" would share a folder on some disks; name one of them otherwise",
                other.name
            ),
        );
    }
}

/// What the job has declared so far.
pub struct Known<'a> {
    pub folder: &'a Path,
    pub unit: Unit,
    pub limit_mm: f64,
    pub reach_mm: f64,
    pub sets: BTreeMap<String, Set>,
    pub regions: Vec<Region>,
    /// The regions that have a limit of their own.
    pub limited: Vec<String>,
    pub places: Vec<NamedPoint>,
    pub recesses: Vec<RecessAsked>,
    pub checks: Vec<CheckAsked>,
    pub sections: Vec<SectionAsked>,
    pub shell: Option<ShellAsked>,
}

impl Known<'_> {
    fn set(&mut self, mut section: Section<'_, '_>, faults: &mut Faults<'_>) {
        let taken = |name: &str| self.sets.contains_key(name);
        let name = section.titled("set", "sets", taken, faults);
        // A set that has no name is checked all the same: all faults are told at once.
        let known_as = name.map(|(name, _)| name).unwrap_or_default();
        if let Some(set) = sets::set(section, &known_as, self.folder, faults) {
            self.sets.insert(known_as, set);
        }
    }

    fn trip(
        &self,
        mut section: Section<'_, '_>,
        trips: &[Trip],
        comparisons: &[Comparison],
        faults: &mut Faults<'_>,
    ) -> Option<(Trip, Option<Comparison>)> {
        // One that has added a comparison is told as that.
        let compared = |name: &str| comparisons.iter().any(|c| c.name == name);
        let taken = |name: &str| trips.iter().any(|t| t.name == name) && !compared(name);
        let name = section
            .titled("trip", "trips", taken, faults)
            .map(|(name, span)| {
                refuse_odd_name(&name, &span, faults);
                refuse_named_alike(comparisons, &name, &span, faults);
                name
            });
        let before = Before {
            folder: self.folder,
            unit: self.unit,
            comparisons,
            places: self.places.iter().map(|p| p.name.as_str()).collect(),
        };
        let set_of = |section: &mut Section<'_, '_>, faults: &mut Faults<'_>| {
            self.set_of("measured", false, section, faults)
        };
        let named = name.as_deref().unwrap_or_default();
        let trip = trips::trip(section, named, &before, set_of, faults);
        name.and(trip)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_faults_are_told_at_once_with_their_lines() {
        let text = "name = \"x\"\nlimti = \"1/16 in\"\n\n[[set]]\nname = \"a\"\nfile = \"nowhere.ply\"\n\n[[region]]\nname = \"con\"\nbox = [[0, 0, 0], [1, 1, 0]]\nstatus = \"keept\"\n\n[[comparison]]\nname = \"c\"\nreference = \"a\"\nmeasured = \"b\"\nlimit = \"3/16\"\n";
        let trouble = job(Path::new("job.toml"), Path::new("."), text)
            .unwrap_err()
            .to_string();
        for expected in [
            "line 2: unknown key \"limti\" in the job file; did you mean \"limit\"?",
            "line 6: set \"a\": there is no file",
            "line 9: the name \"con\" can't name a file",
            "line 8: the box in [[region]] \"con\" has no thickness",
            "line 11: \"keept\" for \"status\"",
            "line 16: \"measured\" in [[comparison]] \"c\": there is no set \"b\"",
            "line 17: \"limit\" in [[comparison]] \"c\"",
        ] {
            assert!(trouble.contains(expected), "{expected}\n{trouble}");
        }
    }

    #[test]
    fn what_a_set_and_a_check_are_said_to_be_is_held_against_sense() {
        let text = r#"name = "x"
[[set]]
name = "a"
file = "Cargo.toml"
gauge = 20
up = "w"
bars = [{ ends = [[0, 0, 0], [1, 0, 0]], length = "36 in" }]
[[set]]
name = "b"
file = "Cargo.toml"
face = "inside"
bars = [{ ends = [[0, 0, 0], [1, 0, 0]], length = "36 in" }, { ends = [[0, 0, 0], [2, 0.1, 0]], length = "12" }]
[[set]]
name = "c"
file = "Cargo.toml"
face = "outside"
bars = [{ ends = [[0, 0, 0], [1, 0, 0]], length = "36 in" }, { ends = [[0, 0, 0], [2, 0.1, 0]], length = "72 in" }]
[[region]]
name = "left"
box = [[0, 0, 0], [1, 1, 1]]
outside = "left"
[[region]]
name = "up"
box = [[0, 0, 0], [1, 1, 1]]
outside = "up"
[[check]]
name = "wide"
kind = "width"
between = ["left", "up"]
[[check]]
name = "H1"
at = [0, 0, 0]
[[comparison]]
name = "one"
mirror = true
reference = "c"
measured = "c"
answered = ["hands"]
set_by = "order"
[[comparison]]
name = "two"
reference = "b"
measured = "c"
repeat = "d"
"#;
        let trouble = job(Path::new("job.toml"), Path::new("."), text)
            .unwrap_err()
            .to_string();
        for expected in [
            "line 5: \"gauge\" in [[set]] \"a\": \"20\" does not name its system",
            "line 6: \"w\" for \"up\" in [[set]] \"a\"",
            "line 2: [[set]] \"a\" has one bar only (36 in)",
            "line 12: \"length\" in bar 2 of [[set]] \"b\"",
            "line 13: the bars of [[set]] \"c\" (36 in, 72 in) all lie within 20°",
            "the outsides of \"left\" and \"up\" must oppose each other",
            "\"kind\" is missing in [[check]] \"H1\"",
            "line 36: [[comparison]] \"one\" is held against its own mirror image",
            "line 38: \"answered\" in [[comparison]] \"one\": there is no question \"hands\"; did you mean \"hand\"?",
            "line 33: [[comparison]] \"one\" is set by order, but has no",
            "line 40: [[comparison]] \"two\": the sets \"b\" and \"c\" show different faces",
            "line 44: \"repeat\" in [[comparison]] \"two\": there is no set \"d\"",
        ] {
            assert!(trouble.contains(expected), "{expected}\n{trouble}");
        }
    }

    #[test]
    fn by_points_every_set_of_the_part_needs_its_own() {
        let with = |points: &str| {
            format!(
                "name = \"x\"\n[[set]]\nname = \"a\"\nfile = \"Cargo.toml\"\n[[set]]\nname = \"b\"\nfile = \"Cargo.toml\"\n[[set]]\nname = \"c\"\nfile = \"Cargo.toml\"\n{points}[[comparison]]\nname = \"one\"\nreference = \"a\"\nmeasured = \"b\"\nset_by = \"points\"\npoints_reference = \"Cargo.toml\"\npoints_measured = \"README.md\"\noriginals = [\"c\"]\n"
            )
        };
        let read = |text: &str| job(Path::new("job.toml"), Path::new("."), text);
        let trouble = read(&with("")).unwrap_err().to_string();
        let expected = "line 11: [[comparison]] \"one\" is set by points, and so is its set \"c\"";
        assert!(trouble.contains(expected), "{trouble}");
        let job = read(&with("points = \"LICENSE-MIT\"\n")).unwrap();
        let one = &job.comparisons[0];
        let tables = one.points_of(&one.originals[0]).unwrap();
        assert_eq!(tables.measured, Path::new("./LICENSE-MIT"));
        assert_eq!(tables.reference, Path::new("./Cargo.toml"));
        // So does the set of a trip, which would else be set by the points of another.
        let trip = "[[trip]]\nname = \"two\"\nday = \"2026-10-05\"\nlike = \"one\"\nmeasured = \"c\"\n";
        let on_a_trip = |points: &str| with(points).replace("originals = [\"c\"]\n", trip);
        let trouble = read(&on_a_trip("")).unwrap_err().to_string();
        let expected = "line 18: [[trip]] \"two\" is set by points, and so is its set \"c\"";
        assert!(trouble.contains(expected), "{trouble}");
        let job = read(&on_a_trip("points = \"LICENSE-MIT\"\n")).unwrap();
        let tables = job.comparisons[1].points.as_ref().unwrap();
        assert_eq!(tables.measured, Path::new("./LICENSE-MIT"));
    }

    #[test]
    fn a_region_keeps_its_own_limit_though_it_is_that_of_the_job() {
        let text = "name = \"x\"\n[[set]]\nname = \"a\"\nfile = \"Cargo.toml\"\n[[set]]\nname = \"b\"\nfile = \"Cargo.toml\"\n[[region]]\nname = \"own\"\nbox = [[0, 0, 0], [1, 1, 1]]\nlimit = \"1/16 in\"\n[[region]]\nname = \"none\"\nbox = [[0, 0, 0], [1, 1, 1]]\n[[comparison]]\nname = \"one\"\nreference = \"a\"\nmeasured = \"b\"\nlimit = \"1/8 in\"\n";
        let job = job(Path::new("job.toml"), Path::new("."), text).unwrap();
        let limits = job.comparisons[0].regions.iter().map(|r| r.limit_mm);
        assert_eq!(limits.collect::<Vec<_>>(), [25.4 / 16.0, 25.4 / 8.0]);
    }

    #[test]
    fn two_trips_of_one_name_are_refused() {
        let trip = "[[trip]]\nname = \"t\"\nday = \"2026-10-05\"\npoints = \"README.md\"\n";
        let text = format!("name = \"x\"\n[places]\nH1 = [0, 0, 0]\n{trip}{trip}");
        let trouble = job(Path::new("job.toml"), Path::new("."), &text);
        let trouble = trouble.unwrap_err().to_string();
        assert!(trouble.contains("line 9: two trips are named \"t\""), "{trouble}");
    }

    #[test]
    fn a_trip_like_one_held_against_its_own_mirror_image_is_held_against_its_own() {
        let text = "name = \"x\"\n[[set]]\nname = \"a\"\nfile = \"Cargo.toml\"\n[[set]]\nname = \"b\"\nfile = \"README.md\"\n[[comparison]]\nname = \"one\"\nmeasured = \"a\"\nmirror = true\n[[trip]]\nname = \"two\"\nday = \"2026-10-05\"\nlike = \"one\"\nmeasured = \"b\"\n";
        let job = job(Path::new("job.toml"), Path::new("."), text).unwrap();
        let two = &job.comparisons[1];
        assert!(two.mirror && two.measured.name == "b");
        assert_eq!(two.reference, two.measured);
    }

    #[test]
    fn a_broken_line_is_told_with_its_number() {
        let trouble = job(
            Path::new("job.toml"),
            Path::new("."),
            "name = \"x\"\nbox = [1, 2\n",
        )
        .unwrap_err()
        .to_string();
        assert!(
            trouble.contains("job.toml, line 2") || trouble.contains("job.toml, line 3"),
            "{trouble}"
        );
    }
}
