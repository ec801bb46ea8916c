//! The sheet for the supplier or the toolmaker: what is wrong with the part, as figures that he can repeat with a rule.

use record::Record;
use record::figured::TaskRecord;
use record::found::{FoldRecord, FoldStretchRecord};

use crate::words::{self, Who};
use crate::{Given, PageError};

use super::face::Faces;
use super::flow::Flow;
use super::grid::{Column, Entry, Grid};
use super::sheet::{Laid, Paper, WIDTH_MM};
use super::{cautions, figure, ink, margins, place, verdict};

/// Most rows and the height of the picture, mm: what comes first is tried first, until all fits on one sheet.
const TRIED: [(usize, f32); 5] = [(14, 95.0), (14, 75.0), (10, 60.0), (7, 50.0), (4, 40.0)];
/// Most features that are named under one verdict.
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
    let listed: Vec<Vec<Entry>> = listed.iter().flat_map(|task| rows_of(record, task)).collect();
    flow.grid(&figures(&listed[..rows.min(listed.len())]));
    if listed.len() > rows {
        let more = format!(
            "And {} more: they stand in page.html and tables.xlsx of the comparison.",
            listed.len() - rows
        );
        flow.paragraph(&more, flow.body());
    }
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
    let edges = record.edges.iter().filter(|e| e.region.is_some());
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
        let (named, more) = names.split_at(names.len().min(MOST_NAMED));
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

/// A task's row; that of a fold which is not alike all along is one for each stretch that is out.
fn rows_of(record: &Record, task: &TaskRecord) -> Vec<Vec<Entry>> {
    let fold = task
        .figure
        .strip_prefix("folds/")
        .and_then(|name| record.folds.iter().find(|f| f.name == name));
    if let Some(fold) = fold.filter(|f| f.stretches.len() > 1) {
        let out = fold.stretches.iter().filter(|s| s.verdict == "outside");
        return out.map(|stretch| stretch_row(record, fold, stretch)).collect();
    }
    // A spot has its figure in its words; the region's is that of its farthest, which may be another.
    let spot = task.figure.starts_with("regions/") && task.words.contains(" over ");
    let found = figure::at(record, &task.figure)
        .filter(|_| !spot)
        .unwrap_or_default();
    let all_along = fold.and_then(|f| {
        let whole = f.stretches.first()?;
        Some(place::of_fold(record, &f.name, whole))
    });
    let place = all_along.or_else(|| place::of_task(record, task));
    vec![vec![
        task.words.as_str().into(),
        place.unwrap_or_default().into(),
        found.reference.into(),
        found.measured.into(),
        found.pm.into(),
        "".into(),
    ]]
}

fn stretch_row(record: &Record, fold: &FoldRecord, stretch: &FoldStretchRecord) -> Vec<Entry> {
    let way = if stretch.short_mm > 0.0 { "short" } else { "long" };
    vec![
        format!("{}: fold {}", fold.name, stretch.words).into(),
        place::of_fold(record, &fold.name, stretch).into(),
        "".into(),
        format!("{} {way}", words::length(stretch.short_mm)).into(),
        words::pm(stretch.pm_mm).into(),
        "".into(),
    ]
}

fn figures(rows: &[Vec<Entry>]) -> Grid {
    Grid {
        columns: vec![
            Column::words("what"),
            Column::words("where"),
            Column::words("should be"),
            Column::words("is"),
            Column::figures("±"),
            Column::blank("you read", 26.0),
        ],
        rows: rows.to_vec(),
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
            "hole 1: 1-3/8",
            "21-1/2 rearward",
            "1-1/2 (38.1",
            "1-3/8 (35.0",
            "OUT (1): hole 1.",
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
    fn a_spot_does_not_stand_beside_the_figure_of_another() {
        let record = made::record();
        let mut task = record.work[2].clone();
        task.figure = "regions/right <floor>".to_string();
        let is = |task: &TaskRecord| format!("{:?}", rows_of(&record, task));
        task.words = "right <floor>: 3/16 high".to_string();
        assert!(is(&task).contains("proud at most"), "{}", is(&task));
        task.words = "right <floor>: 5/64 in (1.9 mm) shy over 2 × 1 in".to_string();
        assert!(!is(&task).contains("at most"), "{}", is(&task));
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
        assert!(
            laid.words()
                .contains("more: they stand in page.html and tables.xlsx")
        );
    }

    #[test]
    fn beads_and_recesses_are_told_as_fully_as_the_rest() {
        let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        let bead = |x: f64, depth: f64| {
            format!(
                r#"{{"at_mm": [{x}, 0, 508], "ends_mm": [[0, 0, 508], [508, 0, 508]], "length_mm": 508, "width_mm": 31.75,
                  "depth_mm": {depth}, "outer_radius_mm": 4.7625}}"#
            )
        };
        let beads = format!(
            r#"[{{"name": "pan bead 1", "region": "pan", "state": "matched", "pm_mm": 0.2, "verdict": "outside",
              "reference": {}, "measured": {}, "words": ["in its place", "3/32 shallow"]}},
              {{"name": "pan bead 2", "region": "pan", "state": "matched", "pm_mm": 0.2, "verdict": "within",
              "reference": {0}, "measured": {0}, "words": ["in its place"]}}]"#,
            bead(254.0, 6.35),
            bead(254.0, 3.96875),
        );
        record.beads = serde_json::from_str(&beads).unwrap();
        let mut task = record.work[2].clone();
        task.words = "pan bead 1: 3/32 shallow".to_string();
        task.figure = "beads/pan bead 1".to_string();
        record.work.push(task);
        let given = Given {
            about: &about,
            record: &record,
            pictures: &[],
        };
        let laid = lay(&given, "", &faces).unwrap();
        laid.assert_tidy();
        let printed = laid.words();
        for words in [
            "on pan, from the reference's zero: 10 rearward, 20 up, 20 long fore and aft",
            "depth 1/4 (6.3 mm), width 1-1/4 (31.8 mm), length 20 (508.0 mm), outer radius 3/16 (4.8 mm)",
            "depth 5/32 (4.0 mm)",
            "OUT (2): pan bead 1, hole 1. in (1): pan bead 2.",
        ] {
            assert!(printed.contains(words), "{words}\n{printed}");
        }
    }

    #[test]
    fn each_stretch_of_a_fold_that_is_out_has_its_figure_and_its_ends() {
        let mut record = made::record();
        let stretch = |from: f64, to: f64, short: f64, verdict: &str, words: &str| {
            format!(
                r#"{{"from_mm": [660.4, 0, {from}], "to_mm": [660.4, 0, {to}], "length_mm": {}, "short_mm": {short},
                  "pm_mm": 0.1, "verdict": "{verdict}", "words": "{words}"}}"#,
                to - from
            )
        };
        let stretches = [
            stretch(25.4, 203.2, 5.556, "outside", "7/32 short over 7"),
            stretch(203.2, 406.4, 0.1, "within", "home over 8"),
        ];
        record.folds = serde_json::from_str(&format!(
            r#"[{{"name": "rear", "short_mm": 0.1, "pm_mm": 2.2, "verdict": "outside",
              "words": "7/32 short over 7, home over 8", "stretches": [{}]}}]"#,
            stretches.join(", ")
        ))
        .unwrap();
        let mut task = record.work[2].clone();
        task.figure = "folds/rear".to_string();
        task.words = "rear: fold 7/32 short over 7, home over 8".to_string();
        let said = |record: &Record| -> Vec<Vec<String>> {
            let rows = rows_of(record, &task);
            rows.into_iter()
                .map(|row| row.into_iter().map(|entry| entry.words).collect())
                .collect()
        };
        let rows = said(&record);
        assert_eq!(rows.len(), 1);
        assert_eq!(rows[0][0], "rear: fold 7/32 short over 7");
        assert_eq!(
            rows[0][1],
            "on rear, from the reference's zero: 26 rearward, 1 up to 26 rearward, 8 up"
        );
        assert_eq!(rows[0][2..5], ["", "7/32 (5.6 mm) short", "±0.10 mm"]);
        // Alike all along it has the words of the task, and the figure of the whole.
        record.folds[0].stretches.truncate(1);
        let rows = said(&record);
        assert_eq!((rows.len(), &rows[0][0]), (1, &task.words));
        assert!(
            rows[0][1].ends_with("8 up") && rows[0][4] == "±2.20 mm",
            "{rows:?}"
        );
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
