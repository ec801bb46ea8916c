//! The sheet for the supplier or the toolmaker: what is wrong with the part, as figures that he can repeat with a rule.

mod rows;

use record::Record;
use record::figured::TaskRecord;
use record::verdict::{IN, OUT};

use crate::words::{self, Who};
use crate::{Given, PageError};

use super::face::Faces;
use super::flow::Flow;
use super::grid::{Column, Entry, Grid};
use super::sheet::{Laid, Paper, WIDTH_MM};
use super::{cautions, ink, margins, verdict};

/// Heights of the picture that are tried in turn until all fits on one sheet, mm; the figures are never fewer for it.
const TRIED_MM: [f32; 5] = [95.0, 75.0, 60.0, 50.0, 40.0];
/// Most features that are named under a verdict, of those that are in; all others are named.
const MOST_NAMED: usize = 8;
/// Where a task stands that says what becomes of the whole part.
const OF_THE_WHOLE: &str = "verdict";

/// The sheet for the supplier or toolmaker as PDF.
///
/// # Errors
/// Where a picture is no PNG.
pub fn supplier(given: &Given<'_>, result_sha256: &str, paper: Paper) -> Result<Vec<u8>, PageError> {
    let faces = Faces::new()?;
    let laid = lay(given, result_sha256, &faces)?;
    ink::write(&laid, &faces, paper)
}

fn lay<'a>(given: &Given<'a>, result_sha256: &str, faces: &'a Faces) -> Result<Laid<'a>, PageError> {
    let [largest, smaller @ ..] = TRIED_MM;
    let mut fewest = filled(given, result_sha256, faces, largest)?;
    for picture_mm in smaller {
        if fewest.sheets.len() == 1 {
            break;
        }
        let laid = filled(given, result_sha256, faces, picture_mm)?;
        if laid.sheets.len() < fewest.sheets.len() {
            fewest = laid;
        }
    }
    Ok(fewest)
}

fn filled<'a>(
    given: &Given<'a>,
    result_sha256: &str,
    faces: &'a Faces,
    picture_mm: f32,
) -> Result<Laid<'a>, PageError> {
    let (record, about) = (given.record, given.about);
    let mut flow = Flow::new(faces, 9.0);
    flow.title("To the supplier or toolmaker");
    flow.pairs(&[
        ("from", about.shop.clone()),
        ("day", about.day.clone()),
        ("contact", about.contact.clone()),
        ("job", about.job.clone()),
        ("part, its number", about.shell.clone()),
        ("measured with", about.instrument.clone()),
    ]);
    flow.gap(1.5);
    let all = words::tasks(record);
    let tasks: Vec<&TaskRecord> = all
        .iter()
        .filter(|(who, _)| *who == Who::Maker)
        .flat_map(|(_, tasks)| tasks.iter().copied())
        .collect();
    verdict(&mut flow, record);
    for whole in tasks.iter().filter(|t| t.figure == OF_THE_WHOLE) {
        flow.paragraph(&whole.words, flow.body().sized(11.0).bold());
    }
    flow.heading("What was compared with what");
    flow.paragraph(&compared(record), flow.body());
    flow.heading("What is wrong, to be measured again with a rule");
    let mut listed: Vec<&TaskRecord> = tasks
        .iter()
        .copied()
        .filter(|t| t.figure != OF_THE_WHOLE)
        .collect();
    listed.sort_by_key(|task| rows::turn(record, task));
    if listed.is_empty() {
        flow.paragraph("Nothing is listed for the supplier or toolmaker.", flow.body());
    }
    let rows = listed.iter().flat_map(|task| rows::rows_of(record, task));
    flow.grid(&figures(rows.collect()));
    if let Some(words) = looked_at(record, &listed) {
        flow.heading("How each feature stands");
        flow.paragraph(&words, flow.body());
    }
    if let Some(picture) = given.pictures.first() {
        flow.gap(1.5);
        flow.picture(picture, [WIDTH_MM, picture_mm])?;
    }
    cautions(&mut flow, "Cautions");
    Ok(flow.finish(&margins(given, "supplier's sheet", result_sha256)))
}

/// Every feature of the part under its verdict, so that what was found good is told as well as what was not. What counts as out
/// is what is `listed`, so that the figures add up; what is out and is not, such as a distance that comes right with a hole, is
/// told apart.
fn looked_at(record: &Record, listed: &[&TaskRecord]) -> Option<String> {
    let is_listed = |kind: &str, name: &str| {
        let mut listed = listed.iter();
        listed.any(|task| task.figure.split_once('/') == Some((kind, name)))
    };
    let regions = record.regions.iter().filter(|r| is_listed("regions", &r.name));
    let (regions, sprung): (Vec<_>, Vec<_>) = regions.partition(|r| r.verdict == "outside");
    let folds = record.folds.iter().filter(|f| f.moved_with.is_none());
    let edges = record.edges.iter();
    let edges = edges.filter(|e| !e.comes_home() && (e.region.is_some() || is_listed("edges", &e.name)));
    // Holes that were found on the way to something else have no verdict of their own.
    let holes = record.holes.iter().filter(|_| record.made_with.asked.holes);
    let features: Vec<(&str, &str, &'static str)> = regions
        .into_iter()
        .map(|r| ("regions", &r.name, &r.verdict))
        .chain(folds.map(|f| ("folds", &f.name, &f.verdict)))
        .chain(edges.map(|e| ("edges", &e.name, &e.verdict)))
        .chain(record.recesses.iter().map(|r| ("recesses", &r.name, &r.verdict)))
        .chain(record.beads.iter().map(|b| ("beads", &b.name, &b.verdict)))
        .chain(holes.map(|h| ("holes", &h.name, &h.verdict)))
        .chain(record.checks.iter().map(|c| ("checks", &c.name, &c.verdict)))
        .map(|(kind, name, verdict)| (kind, name.as_str(), words::verdict_of(record, verdict)))
        .collect();
    let mut told = Vec::new();
    for said in words::WORST_FIRST {
        let (mut own, mut besides) = (Vec::new(), Vec::new());
        for (kind, name, _) in features.iter().filter(|(.., verdict)| *verdict == said) {
            match said != OUT || is_listed(kind, name) {
                true => own.push(*name),
                false => besides.push(*name),
            }
        }
        told.extend(counted(said, &own));
        told.extend(counted("OUT as well, and not listed here", &besides));
    }
    // What is listed and in goes when the part is held.
    let sprung: Vec<&str> = sprung.iter().map(|r| r.name.as_str()).collect();
    told.extend(counted("only sprung", &sprung));
    (!told.is_empty()).then(|| told.join(" "))
}

/// `OUT (2): hole 1, recess.`; nothing of none.
fn counted(said: &str, names: &[&str]) -> Option<String> {
    let most = if said == IN { MOST_NAMED } else { names.len() };
    let (named, more) = names.split_at(names.len().min(most));
    let more = match more.len() {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    (!named.is_empty()).then(|| format!("{said} ({}): {}{more}.", names.len(), named.join(", ")))
}

fn compared(record: &Record) -> String {
    format!(
        "{} was measured and laid on {}, set by {}. In is what lies {}, its ± counted in. \
         Lengths are in inches, with millimetres beside; ± is half the band that holds the true figure in 95 of 100 cases.",
        record.measured.name,
        record.reference.called(),
        record.setting.words,
        words::limit(record)
    )
}

fn figures(rows: Vec<Vec<Entry>>) -> Grid {
    Grid {
        columns: vec![
            Column::words("what"),
            Column::words("where"),
            Column::words("should be"),
            Column::words("is"),
            Column::figures("±"),
            Column::blank("you read", 26.0),
        ],
        rows,
        size_pt: 8.5,
    }
}

#[cfg(test)]
mod tests;
