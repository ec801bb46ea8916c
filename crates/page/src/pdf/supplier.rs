//! The sheet for the supplier or the toolmaker: what is wrong with the part, as figures that he can repeat with a rule.

use record::Record;
use record::figured::TaskRecord;

use crate::words::{self, Who};
use crate::{Given, PageError};

use super::face::Faces;
use super::flow::Flow;
use super::grid::{Column, Entry, Grid};
use super::sheet::{Laid, Paper, WIDTH_MM};
use super::{cautions, figure, ink, margins, verdict};

/// Most rows and the height of the picture, mm: what comes first is tried first, until all fits on one sheet.
const TRIED: [(usize, f32); 5] = [(14, 95.0), (14, 75.0), (10, 60.0), (7, 50.0), (4, 40.0)];
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
    let [first, others @ ..] = TRIED;
    let mut laid = filled(given, result_sha256, faces, first)?;
    for most in others {
        if laid.sheets.len() > 1 {
            laid = filled(given, result_sha256, faces, most)?;
        }
    }
    Ok(laid)
}

fn filled<'a>(
    given: &Given<'a>,
    result_sha256: &str,
    faces: &'a Faces,
    (rows, picture_mm): (usize, f32),
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
    let listed: Vec<&TaskRecord> = tasks
        .iter()
        .copied()
        .filter(|t| t.figure != OF_THE_WHOLE)
        .collect();
    if listed.is_empty() {
        flow.paragraph("Nothing is listed for the supplier or toolmaker.", flow.body());
    }
    flow.grid(&figures(record, &listed[..rows.min(listed.len())]));
    if listed.len() > rows {
        let more = format!(
            "And {} more: see the pages of the comparison.",
            listed.len() - rows
        );
        flow.paragraph(&more, flow.body());
    }
    if let Some(picture) = given.pictures.first() {
        flow.gap(1.5);
        flow.picture(picture, [WIDTH_MM, picture_mm])?;
    }
    cautions(&mut flow, "Cautions");
    Ok(flow.finish(&margins(given, "supplier's sheet", result_sha256)))
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

fn figures(record: &Record, tasks: &[&TaskRecord]) -> Grid {
    let row = |task: &&TaskRecord| -> Vec<Entry> {
        let found = figure::at(record, &task.figure).unwrap_or_default();
        vec![
            task.words.as_str().into(),
            found.reference.into(),
            found.measured.into(),
            found.pm.into(),
            "".into(),
        ]
    };
    Grid {
        columns: vec![
            Column::words("what"),
            Column::words("should be"),
            Column::words("is"),
            Column::figures("±"),
            Column::blank("you read", 26.0),
        ],
        rows: tasks.iter().map(row).collect(),
        size_pt: 8.5,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn one_sheet_with_each_task_its_figure_and_a_place_to_write() {
        let (about, record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        let pictures = [made::picture("heat-plan.png", "from above")];
        let given = Given {
            about: &about,
            record: &record,
            pictures: &pictures,
        };
        let laid = lay(&given, "0123456789abcdef", &faces).unwrap();
        laid.assert_tidy();
        assert_eq!((laid.sheets.len(), laid.pictures.len()), (1, 1));
        let printed = laid.words();
        for words in [
            "hole 1: 1-3/8 for 1-1/2, in its place",
            "1-1/2 (38.1 mm)",
            "1-3/8 (35.0 mm)",
            "±0.09 mm",
            "you read",
            "floor & sills was measured and laid on as \"found\"",
            "Positions only.",
        ] {
            assert!(printed.contains(words), "{words}\n{printed}");
        }
        assert!(
            !printed.contains("open it out"),
            "the shop's task is not the supplier's"
        );
    }

    #[test]
    fn what_becomes_of_the_whole_part_is_said_in_the_words_of_its_task() {
        let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        let mut whole = record.work[2].clone();
        whole.words = "if it was bought in: send back, or rework what is listed here".to_string();
        whole.figure = "verdict".to_string();
        let hole = record.work[2].clone();
        record.work.extend(std::iter::repeat_n(hole, 60));
        record.work.push(whole);
        let pictures = [made::picture("heat-plan.png", "from above")];
        let given = Given {
            about: &about,
            record: &record,
            pictures: &pictures,
        };
        let laid = lay(&given, "", &faces).unwrap();
        laid.assert_tidy();
        assert_eq!(laid.sheets.len(), 1);
        assert_eq!(laid.words().matches("send back").count(), 1);
        assert!(laid.words().contains("more: see the pages of the comparison."));
    }

    #[test]
    fn without_tasks_nothing_is_asked_of_him() {
        let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        record.work.clear();
        let given = Given {
            about: &about,
            record: &record,
            pictures: &[],
        };
        let laid = lay(&given, "", &faces).unwrap();
        assert!(
            laid.words()
                .contains("Nothing is listed for the supplier or toolmaker.")
        );
        assert!(!laid.words().contains("send back"));
    }
}
