//! Trips in and out of the jig: each is a set that is compared like another comparison, or a table of probed points.

use std::path::{Path, PathBuf};

use cloud::Unit;

use super::file::{Faults, did_you_mean};
use super::inside::file_of;
use super::named::refuse_without_points;
use super::section::Section;
use super::{Comparison, Set};

/// A trip.
#[derive(Debug, Clone, PartialEq)]
pub struct Trip {
    /// What the job calls it; its comparison has the same name.
    pub name: String,
    /// Its day, 2026-11-26.
    pub day: String,
    /// What was done to the part since the trip before, where the job says so.
    pub after: Option<String>,
    /// What was measured.
    pub what: Measured,
}

/// What was measured on a trip.
#[derive(Debug, Clone, PartialEq)]
pub enum Measured {
    /// A set, compared as the comparison of this name is.
    Set {
        /// The comparison that it is like.
        like: String,
        /// The comparison that shows it: one of the trip's name, or that which it is like where that measures the same set.
        shown_by: String,
    },
    /// Named points that were probed, in a table of the heads name, x, y, z.
    Points {
        /// The table.
        path: PathBuf,
        /// Its unit, where no head says so.
        unit: Unit,
        /// The points that it is set by; all that the job has a place for, where none are named.
        by: Vec<String>,
    },
}

/// What the job has declared before its trips.
pub struct Before<'a> {
    /// The folder of the job.
    pub folder: &'a Path,
    /// The unit of its tables.
    pub unit: Unit,
    /// Its comparisons.
    pub comparisons: &'a [Comparison],
    /// The names of its places.
    pub places: Vec<&'a str>,
}

/// Checks a `[[trip]]`, of which `name` is known; gives the comparison that it adds, where it has a set.
pub fn trip(
    mut section: Section<'_, '_>,
    name: &str,
    before: &Before<'_>,
    set_of: impl FnOnce(&mut Section<'_, '_>, &mut Faults<'_>) -> Option<Set>,
    faults: &mut Faults<'_>,
) -> Option<(Trip, Option<Comparison>)> {
    let day = section.needed_text("day", faults);
    if let Some((day, span)) = &day
        && !archive::log::is_day(day)
    {
        faults.add(
            span,
            format!(
                "\"day\" in {}: \"{day}\" is no day; write it as \"2026-11-26\"",
                section.title
            ),
        );
    }
    let after = section.text("after", faults).map(|(words, _)| words);
    let like = section.text("like", faults);
    let set = set_of(&mut section, faults);
    let points = section.text("points", faults);
    let by = section.texts("by", faults);
    let (title, span) = (section.title.clone(), section.span().clone());
    section.end(faults);
    let (what, added) = match (like, set, points) {
        (Some((like, like_span)), Some(set), None) => {
            let Some(model) = before.comparisons.iter().find(|c| c.name == like) else {
                let hint = did_you_mean(&like, before.comparisons.iter().map(|c| c.name.as_str()));
                faults.add(
                    &like_span,
                    format!("\"like\" in {title}: there is no comparison \"{like}\"{hint}"),
                );
                return None;
            };
            if by.is_some() {
                let words = "which says by which of its probed \"points\" a trip is set; take it out";
                faults.add(&span, format!("{title} has a set and \"by\", {words}"));
            }
            // Its points and its mirror image are its own; what was put back or held was another set.
            let added = (set != model.measured).then(|| Comparison {
                name: name.to_string(),
                reference: if model.mirror { &set } else { &model.reference }.clone(),
                points: model.points_of(&set),
                measured: set,
                repeat: None,
                held: None,
                ..model.clone()
            });
            let own = added.iter().map(|comparison| &comparison.measured);
            refuse_without_points(model, own, &title, &span, faults);
            let shown_by = added
                .as_ref()
                .map_or(&like, |comparison| &comparison.name)
                .clone();
            (Measured::Set { like, shown_by }, added)
        }
        (None, None, Some((file, file_span))) => {
            let path = file_of(
                before.folder,
                &file,
                &format!("\"points\" in {title}"),
                &file_span,
                faults,
            );
            let mut names = Vec::new();
            for (point, span) in by.unwrap_or_default() {
                if !before.places.contains(&point.as_str()) {
                    let hint = did_you_mean(&point, before.places.iter().copied());
                    faults.add(
                        &span,
                        format!("\"by\" in {title}: there is no place \"{point}\" in [places]{hint}"),
                    );
                }
                names.push(point);
            }
            if before.places.is_empty() {
                faults.add(
                    &span,
                    format!("{title} has probed points, but the job has no [places] to hold them against"),
                );
            }
            let measured = Measured::Points {
                path,
                unit: before.unit,
                by: names,
            };
            (measured, None)
        }
        _ => {
            faults.add(
                &span,
                format!(
                    "{title} needs a set (\"measured\") and the comparison that it is \"like\", or a table of probed \"points\""
                ),
            );
            return None;
        }
    };
    let trip = Trip {
        name: name.to_string(),
        day: day?.0,
        after,
        what,
    };
    Some((trip, added))
}
