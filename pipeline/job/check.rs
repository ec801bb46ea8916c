//! Checks a job file: all faults at once, each with file, line and key; what comes out holds no doubt.

use std::collections::HashMap;
use std::path::Path;

use cloud::Unit;
use compare::{Region, Status};

use super::file::{Faults, Section, nearest, parse};
use super::regions::{bounds, one_of, refuse_odd_name, regions};
use super::{Comparison, Job, PointTables, RecessAsked, Set, usual_setting};
use crate::cli::SetBy;
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
        sets: HashMap::new(),
        regions: Vec::new(),
        recesses: Vec::new(),
    };
    for section in top.tables("set", &mut faults) {
        known.set(section, &mut faults);
    }
    known.regions = regions(top.tables("region", &mut faults), unit, limit_mm, &mut faults);
    for section in top.tables("recess", &mut faults) {
        known.recess(section, &mut faults);
    }
    let sections = top.tables("comparison", &mut faults);
    if sections.is_empty() {
        faults.add(&(0..0), "there is no [[comparison]]: nothing to do");
    }
    let mut comparisons: Vec<Comparison> = Vec::new();
    for section in sections {
        let span = section.span().clone();
        if let Some(comparison) = known.comparison(section, &mut faults) {
            if comparisons.iter().any(|c| c.name == comparison.name) {
                faults.add(
                    &span,
                    format!("two comparisons are named \"{}\"", comparison.name),
                );
            }
            comparisons.push(comparison);
        }
    }
    top.end(&mut faults);
    faults.done()?;
    Ok(Job {
        name,
        folder: folder.to_path_buf(),
        comparisons,
    })
}

/// What the job has declared so far.
struct Known<'a> {
    folder: &'a Path,
    unit: Unit,
    limit_mm: f64,
    reach_mm: f64,
    sets: HashMap<String, Set>,
    regions: Vec<Region>,
    recesses: Vec<RecessAsked>,
}

impl Known<'_> {
    fn set(&mut self, mut section: Section<'_, '_>, faults: &mut Faults<'_>) {
        let name = section.needed_text("name", faults);
        if let Some((name, span)) = &name {
            section.title = format!("[[set]] \"{name}\"");
            if self.sets.contains_key(name) {
                faults.add(span, format!("two sets are named \"{name}\""));
            }
        }
        let file = section.needed_text("file", faults);
        let unit = section.unit("units", faults);
        section.end(faults);
        if let (Some((name, _)), Some((file, span))) = (name, file) {
            let path = self.folder.join(&file);
            if !path.is_file() {
                faults.add(
                    &span,
                    format!("set \"{name}\": there is no file \"{}\"", path.display()),
                );
            }
            self.sets.insert(name.clone(), Set { name, path, unit });
        }
    }

    fn recess(&mut self, mut section: Section<'_, '_>, faults: &mut Faults<'_>) {
        let name = section.needed_text("name", faults);
        if let Some((name, span)) = &name {
            section.title = format!("[[recess]] \"{name}\"");
            if self.recesses.iter().any(|r| r.name == *name) {
                faults.add(span, format!("two recesses are named \"{name}\""));
            }
        }
        let outline = bounds(&mut section, self.unit, faults);
        let limit_mm = section.length_mm("limit", faults).unwrap_or(self.limit_mm);
        section.end(faults);
        if let (Some((name, _)), Some(outline)) = (name, outline) {
            self.recesses.push(RecessAsked {
                name,
                outline,
                limit_mm,
            });
        }
    }

    fn comparison(&self, mut section: Section<'_, '_>, faults: &mut Faults<'_>) -> Option<Comparison> {
        let name = section.needed_text("name", faults);
        if let Some((name, span)) = &name {
            section.title = format!("[[comparison]] \"{name}\"");
            refuse_odd_name(name, span, faults);
        }
        let reference = self.set_of("reference", &mut section, faults);
        let measured = self.set_of("measured", &mut section, faults);
        let set_by = one_of(
            &mut section,
            "set_by",
            &[SetBy::LeftAlone, SetBy::Points, SetBy::AllOver, SetBy::AsIs].map(|s| (s.word(), s)),
            faults,
        );
        let limit = section.length_mm("limit", faults);
        let reach_mm = section.length_mm("reach", faults).unwrap_or(self.reach_mm);
        let regions = self.regions_of(&mut section, limit, faults);
        let points = self.points_of(&mut section, faults);
        let region_names: Vec<&str> = regions.iter().map(|r| r.name.as_str()).collect();
        let folds = known_names(
            &mut section,
            "folds",
            &region_names,
            "region of this comparison",
            faults,
        );
        let recess_names: Vec<&str> = self.recesses.iter().map(|r| r.name.as_str()).collect();
        let recess_names = known_names(&mut section, "recesses", &recess_names, "recess", faults);
        let holes = section.flag("holes", faults).unwrap_or(false);
        let set_by = set_by.unwrap_or_else(|| usual_setting(&regions, points.is_some()));
        let span = section.span().clone();
        if set_by == SetBy::Points && points.is_none() {
            faults.add(
                &span,
                format!(
                    "{} is set by points, but has no \"points_reference\" and \"points_measured\"",
                    section.title
                ),
            );
        }
        if set_by == SetBy::LeftAlone && !regions.iter().any(|r| r.status == Status::Kept) {
            faults.add(
                &span,
                format!(
                    "{} is set by what was left alone, but no region of it is kept",
                    section.title
                ),
            );
        }
        section.end(faults);
        Some(Comparison {
            name: name?.0,
            reference: reference?,
            measured: measured?,
            set_by,
            points,
            regions,
            folds,
            recesses: self
                .recesses
                .iter()
                .filter(|r| recess_names.contains(&r.name))
                .cloned()
                .collect(),
            holes,
            limit_mm: limit.unwrap_or(self.limit_mm),
            reach_mm,
        })
    }

    fn set_of(
        &self,
        key: &'static str,
        section: &mut Section<'_, '_>,
        faults: &mut Faults<'_>,
    ) -> Option<Set> {
        let (name, span) = section.needed_text(key, faults)?;
        let set = self.sets.get(&name);
        if set.is_none() {
            let hint = nearest(&name, self.sets.keys().map(String::as_str))
                .map_or(String::new(), |n| format!("; did you mean \"{n}\"?"));
            faults.add(
                &span,
                format!("\"{key}\" in {}: there is no set \"{name}\"{hint}", section.title),
            );
        }
        set.cloned()
    }

    /// The regions of a comparison with the status that it gives them: those it lists under `kept`, `worked`, `new` and
    /// `unsure`; all of the job's where it lists none.
    fn regions_of(
        &self,
        section: &mut Section<'_, '_>,
        limit: Option<f64>,
        faults: &mut Faults<'_>,
    ) -> Vec<Region> {
        let names: Vec<&str> = self.regions.iter().map(|r| r.name.as_str()).collect();
        let mut listed: Vec<(String, Status)> = Vec::new();
        let mut any = false;
        for (key, status) in [
            ("kept", Status::Kept),
            ("worked", Status::Worked),
            ("new", Status::New),
            ("unsure", Status::Unsure),
        ] {
            any |= section.take(key).is_some();
            for name in known_names(section, key, &names, "region", faults) {
                if listed.iter().any(|(n, _)| *n == name) {
                    let span = section.span().clone();
                    faults.add(
                        &span,
                        format!("region \"{name}\" stands in two lists of {}", section.title),
                    );
                }
                listed.push((name, status));
            }
        }
        self.regions
            .iter()
            .filter_map(|region| {
                let mut region = region.clone();
                if any {
                    region.status = listed.iter().find(|(n, _)| *n == region.name)?.1;
                }
                // A limit of the comparison stands in where the region has only the job's.
                if let Some(limit) = limit
                    && region.limit_mm == self.limit_mm
                {
                    region.limit_mm = limit;
                }
                Some(region)
            })
            .collect()
    }

    fn points_of(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Option<PointTables> {
        let mut table = |key: &'static str| {
            let (file, span) = section.text(key, faults)?;
            let path = self.folder.join(&file);
            if !path.is_file() {
                faults.add(
                    &span,
                    format!("\"{key}\": there is no file \"{}\"", path.display()),
                );
            }
            Some(path)
        };
        let (reference, measured) = (table("points_reference"), table("points_measured"));
        if reference.is_some() != measured.is_some() {
            let span = section.span().clone();
            faults.add(
                &span,
                format!(
                    "{} has only one of \"points_reference\" and \"points_measured\"",
                    section.title
                ),
            );
        }
        Some(PointTables {
            reference: reference?,
            reference_unit: self.unit,
            measured: measured?,
            measured_unit: self.unit,
        })
    }
}

fn known_names(
    section: &mut Section<'_, '_>,
    key: &'static str,
    known: &[&str],
    what: &str,
    faults: &mut Faults<'_>,
) -> Vec<String> {
    let mut names = Vec::new();
    for (name, span) in section.texts(key, faults).unwrap_or_default() {
        if known.contains(&name.as_str()) {
            names.push(name);
        } else {
            let hint = nearest(&name, known.iter().copied())
                .map_or(String::new(), |n| format!("; did you mean \"{n}\"?"));
            faults.add(
                &span,
                format!(
                    "\"{key}\" in {}: there is no {what} \"{name}\"{hint}",
                    section.title
                ),
            );
        }
    }
    names
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
