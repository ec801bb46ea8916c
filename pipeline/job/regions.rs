//! Regions as declared, in a regions file or in a job file, and the checks that they share with the rest of it.

use std::ops::Range;
use std::path::Path;

use cloud::{Bounds, Point, Unit};
use compare::{Outside, Region, Status};

use super::file::{Faults, did_you_mean, parse};
use super::section::Section;
use crate::trouble::Trouble;

/// What a region may be said to be.
pub const STATUSES: [Status; 4] = [Status::Kept, Status::Worked, Status::New, Status::Unsure];

/// Checks the text of a regions file: its `units`, and its `[[region]]` tables.
pub fn regions_file(file: &Path, text: &str, limit_mm: f64) -> Result<Vec<Region>, Trouble> {
    let mut faults = Faults::new(file, text);
    let table = parse(text, &mut faults);
    let mut top = Section::new("the regions file", table.get_ref(), 0..0);
    let unit = top.unit("units", &mut faults).unwrap_or(Unit::Millimetre);
    let sections = top.tables("region", &mut faults);
    if sections.is_empty() {
        faults.add(&(0..0), "there is no [[region]]");
    }
    let regions = regions(sections, unit, limit_mm, &mut faults);
    top.end(&mut faults);
    faults.done()?;
    Ok(regions)
}

pub fn regions(
    sections: Vec<Section<'_, '_>>,
    unit: Unit,
    limit_mm: f64,
    faults: &mut Faults<'_>,
) -> Vec<Region> {
    let mut regions: Vec<Region> = Vec::new();
    for mut section in sections {
        let taken = |name: &str| regions.iter().any(|r: &Region| r.name == name);
        let name = section.titled("region", "regions", taken, faults);
        if let Some((name, span)) = &name {
            refuse_odd_name(name, span, faults);
        }
        let statuses = STATUSES.map(|status| (status.word(), status));
        let status = one_of(&mut section, "status", &statuses, faults);
        let outside = one_of(
            &mut section,
            "outside",
            &[
                ("left", Outside::Left),
                ("right", Outside::Right),
                ("up", Outside::Up),
                ("down", Outside::Down),
                ("forward", Outside::Forward),
                ("rearward", Outside::Rearward),
            ],
            faults,
        );
        let bounds = bounds(&mut section, unit, faults);
        let limit = section.length_mm("limit", faults).unwrap_or(limit_mm);
        let pads = section.places("pads", unit, faults);
        section.end(faults);
        if let (Some((name, _)), Some(bounds)) = (name, bounds) {
            regions.push(Region {
                name,
                status: status.unwrap_or_default(),
                bounds,
                limit_mm: limit,
                outside,
                pads,
            });
        }
    }
    regions
}

pub fn bounds(section: &mut Section<'_, '_>, unit: Unit, faults: &mut Faults<'_>) -> Option<Bounds> {
    let [a, b] = section
        .two_places("box", "corners", faults)?
        .map(|c| Point::from(c) * unit.in_mm());
    let bounds = Bounds {
        low: a.inf(&b),
        high: a.sup(&b),
    };
    if bounds.size().min() <= 0.0 {
        let span = section.span().clone();
        faults.add(
            &span,
            format!(
                "the box in {} has no thickness; give two corners that differ in all three",
                section.title
            ),
        );
        return None;
    }
    Some(bounds)
}

pub fn one_of<T: Copy>(
    section: &mut Section<'_, '_>,
    key: &'static str,
    choices: &[(&'static str, T)],
    faults: &mut Faults<'_>,
) -> Option<T> {
    let (text, span) = section.text(key, faults)?;
    let found = choices.iter().find(|(word, _)| *word == text);
    if found.is_none() {
        let words: Vec<&str> = choices.iter().map(|c| c.0).collect();
        let hint = did_you_mean(&text, words.iter().copied());
        faults.add(
            &span,
            format!(
                "\"{text}\" for \"{key}\" in {}; it must be {}{hint}",
                section.title,
                words.join(", ")
            ),
        );
    }
    found.map(|c| c.1)
}

/// Names become names of files and folders: they must not lead elsewhere, and must be fit for every system.
pub fn refuse_odd_name(name: &str, span: &Range<usize>, faults: &mut Faults<'_>) {
    let refused = match archive::name::check(name) {
        Err(words) => words,
        Ok(()) if name.starts_with('.') => "begins with a dot".to_string(),
        Ok(()) if name.len() > 100 => "is longer than 100".to_string(),
        Ok(()) => return,
    };
    faults.add(
        span,
        format!("the name \"{name}\" can't name a file: it {refused}; use letters, digits, blanks and hyphens, up to 100"),
    );
}
