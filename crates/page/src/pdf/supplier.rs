//! The sheet for the supplier or the toolmaker: what is wrong with the part, as figures that he can repeat with a rule.

mod rows;

use record::Record;
use record::figured::TaskRecord;
use record::verdict::IN;

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
    if let Some(words) = looked_at(record) {
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

/// Every feature of the part under its verdict, so that what was found good is told as well as what was not.
fn looked_at(record: &Record) -> Option<String> {
    let folds = record.folds.iter().map(|f| (&f.name, &f.verdict));
    let edges = record
        .edges
        .iter()
        .filter(|e| e.region.is_some() && !e.comes_home());
    // Holes that were found on the way to something else have no verdict of their own.
    let holes = record.holes.iter().filter(|_| record.made_with.asked.holes);
    let checks = record.checks.iter().map(|c| (&c.name, &c.verdict));
    let features: Vec<(&str, &'static str)> = folds
        .chain(edges.map(|e| (&e.name, &e.verdict)))
        .chain(record.recesses.iter().map(|r| (&r.name, &r.verdict)))
        .chain(record.beads.iter().map(|b| (&b.name, &b.verdict)))
        .chain(holes.map(|h| (&h.name, &h.verdict)))
        .chain(checks)
        .map(|(name, verdict)| (name.as_str(), words::verdict_of(record, verdict)))
        .collect();
    let parts = words::WORST_FIRST.iter().filter_map(|said| {
        let own = features.iter().filter(|(_, verdict)| verdict == said);
        let names: Vec<&str> = own.map(|(name, _)| *name).collect();
        let most = if *said == IN { MOST_NAMED } else { names.len() };
        let (named, more) = names.split_at(names.len().min(most));
        let more = match more.len() {
            0 => String::new(),
            n => format!(" and {n} more"),
        };
        (!named.is_empty()).then(|| format!("{said} ({}): {}{more}.", names.len(), named.join(", ")))
    });
    let said: Vec<String> = parts.collect();
    (!said.is_empty()).then(|| said.join(" "))
}

fn compared(record: &Record) -> String {
    format!(
        "{} was measured and laid on {}, set by {}. In is what lies {}, its ± counted in. \
         Lengths are in inches, with millimetres beside; ± is half the band that holds the true figure in 95 of 100 cases.",
        record.measured.name,
        record.reference.name,
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
