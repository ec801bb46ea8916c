//! A comparison on paper: verdict, summary and work first, then pictures, tables, how it was set, warnings, cautions, files.

use record::{InputRecord, Record};

use crate::tables::{self, Table};
use crate::words::{self, Who};
use crate::{About, Given, PageError, Picture};

use super::face::Faces;
use super::flow::{BOTTOM_MM, Flow, TOP_MM};
use super::grid::{Column, Entry, Grid};
use super::sheet::{Laid, Paper, WIDTH_MM};
use super::{cautions, ink, margins, verdict};

/// Below this much room the main picture goes on a sheet of its own, mm.
const LEAST_PICTURE_MM: f32 = 85.0;
/// What a picture's words and the white about it take where two stand on a sheet, mm.
const BENEATH_MM: f32 = 11.0;
/// Tables that are printed as lists.
const AS_LISTS: [&str; 2] = ["work", "warnings"];

/// The pages of a comparison as PDF.
///
/// # Errors
/// Where a picture is no PNG.
pub fn comparison(given: &Given<'_>, result_sha256: &str, paper: Paper) -> Result<Vec<u8>, PageError> {
    let faces = Faces::new()?;
    let laid = lay(given, result_sha256, &faces)?;
    ink::write(&laid, &faces, paper)
}

fn lay<'a>(given: &Given<'a>, result_sha256: &str, faces: &'a Faces) -> Result<Laid<'a>, PageError> {
    let record = given.record;
    let mut flow = Flow::new(faces, 9.0);
    flow.title(&record.comparison);
    about(&mut flow, given.about);
    verdict(&mut flow, record);
    flow.heading("What was found");
    flow.bullets(words::summary(record));
    work(&mut flow, record);
    pictures(&mut flow, given)?;
    for table in tables::all(record) {
        if AS_LISTS.contains(&table.name) || table.rows.is_empty() {
            continue;
        }
        flow.heading(table.title);
        flow.grid(&printed(&table, record));
    }
    flow.heading("How it was set");
    flow.bullets(words::set_how(record));
    if !record.warnings.is_empty() {
        flow.heading("Warnings");
        flow.bullets(record.warnings.iter().map(|w| w.words.as_str()));
    }
    cautions(&mut flow, "Cautions");
    files(&mut flow, record);
    Ok(flow.finish(&margins(given, "comparison", result_sha256)))
}

fn about(flow: &mut Flow<'_>, about: &About) {
    flow.pairs(&[
        ("job", about.job.clone()),
        ("day", about.day.clone()),
        ("shell or panel", about.shell.clone()),
        ("measured by", about.measured_by.clone()),
        ("shop", about.shop.clone()),
        ("measured with", about.instrument.clone()),
        ("contact", about.contact.clone()),
        ("how it stood", about.state.clone()),
    ]);
    flow.gap(1.5);
    if !about.notes.is_empty() {
        flow.paragraph(&about.notes, flow.body());
    }
}

fn work(flow: &mut Flow<'_>, record: &Record) {
    let tasks = words::tasks(record);
    if tasks.is_empty() {
        flow.heading(Who::Shop.heading());
        flow.paragraph(&words::first_to_do(record), flow.body());
    }
    for (who, tasks) in tasks {
        flow.heading(who.heading());
        flow.bullets(tasks.iter().map(|task| task.words.as_str()));
    }
}

/// The first picture large, the others two to a sheet; those of regions that are in are not printed.
fn pictures<'a>(flow: &mut Flow<'a>, given: &Given<'a>) -> Result<(), PageError> {
    let all: &'a [Picture] = given.pictures;
    let is_in = |picture: &&Picture| region_that_is_in(given.record, &picture.file).is_some();
    let shown: Vec<&'a Picture> = all.iter().filter(|p| !is_in(p)).collect();
    let Some((main, others)) = shown.split_first() else {
        return Ok(());
    };
    let heading_mm = 3.0 * flow.body().line_mm();
    if flow.rest_mm() < LEAST_PICTURE_MM + heading_mm + BENEATH_MM {
        flow.turn();
    }
    flow.heading("Pictures");
    flow.picture(main, [WIDTH_MM, flow.rest_mm() - BENEATH_MM])?;
    for picture in others {
        flow.picture(picture, [WIDTH_MM, (BOTTOM_MM - TOP_MM) / 2.0 - BENEATH_MM])?;
    }
    let left_out = all
        .iter()
        .filter_map(|p| region_that_is_in(given.record, &p.file));
    let names: Vec<&str> = left_out.collect();
    if !names.is_empty() {
        let words = format!(
            "Not printed, since all of it is in: {}. The pictures lie beside result.json.",
            names.join(", ")
        );
        flow.paragraph(&words, flow.body().sized(8.0).pale());
    }
    Ok(())
}

/// The region whose own picture this is, where its verdict is in and nothing that there is to do is seen in it.
fn region_that_is_in<'r>(record: &'r Record, file: &str) -> Option<&'r str> {
    if record
        .work
        .iter()
        .any(|task| task.picture.as_deref() == Some(words::base_name(file)))
    {
        return None;
    }
    let own = words::base_name(file)
        .strip_prefix("heat-region-")?
        .strip_suffix(".png")?;
    let in_a_name = |c: char| if c.is_alphanumeric() || c == '-' { c } else { '-' };
    record
        .regions
        .iter()
        .filter(|region| words::verdict_of_region(record, region) == record::verdict::IN)
        .map(|region| region.name.as_str())
        .find(|name| name.chars().map(in_a_name).eq(own.chars()))
}

/// A table's columns for paper, verdicts with their shapes; a column in which nothing stands is left out.
fn printed(table: &Table, record: &Record) -> Grid {
    let filled = |k: usize| {
        table
            .rows
            .iter()
            .any(|row| row.get(k).is_some_and(|c| !c.text().is_empty()))
    };
    let columns: Vec<usize> = (0..table.heads.len())
        .filter(|k| table.heads[*k].key && filled(*k))
        .collect();
    let column = |k: &usize| {
        let head = &table.heads[*k];
        let words = match (head.words, head.unit) {
            ("pm", unit) => format!("± ({unit})"),
            (words, "" | "share") => words.to_string(),
            (words, unit) => format!("{words} ({unit})"),
        };
        let number = |row: &Vec<tables::Cell>| row.get(*k).is_some_and(tables::Cell::is_number);
        if table.rows.iter().any(number) {
            Column::figures(words)
        } else {
            Column::words(words)
        }
    };
    let row = |(r, cells): (usize, &Vec<tables::Cell>)| -> Vec<Entry> {
        let entry = |k: &usize| {
            let (head, cell) = (&table.heads[*k], &cells[*k]);
            match (head.words, head.unit, cell) {
                ("verdict", ..) => Entry::verdict(said(table, record, r, &cell.text())),
                (_, "share", tables::Cell::Number { value, .. }) => format!("{:.0} %", 100.0 * value).into(),
                _ => cell.text().into(),
            }
        };
        columns.iter().map(entry).collect()
    };
    Grid {
        columns: columns.iter().map(column).collect(),
        rows: table.rows.iter().enumerate().map(row).collect(),
        size_pt: 8.0,
    }
}

/// A verdict in words; that of a region may be withheld.
fn said(table: &Table, record: &Record, row: usize, word: &str) -> &'static str {
    match (table.name, record.regions.get(row)) {
        ("regions", Some(region)) => words::verdict_of_region(record, region),
        _ => words::verdict_of(record, word),
    }
}

fn files(flow: &mut Flow<'_>, record: &Record) {
    flow.heading("Files");
    flow.bullets([
        words::file_line(&record.reference),
        words::file_line(&record.measured),
    ]);
    let others = record
        .inputs
        .iter()
        .filter(|input| !matches!(&*input.role, "reference" | "measured"));
    let row = |input: &InputRecord| -> Vec<Entry> {
        vec![
            input.role.to_string().into(),
            words::base_name(&input.file).into(),
            words::size(input.bytes).into(),
            input.sha256.clone().into(),
        ]
    };
    flow.grid(&Grid {
        columns: vec![
            Column::words("taken for"),
            Column::words("file"),
            Column::figures("size"),
            Column::words("SHA-256"),
        ],
        rows: others.map(row).collect(),
        size_pt: 6.5,
    });
    let made = format!(
        "Made with {}; settings SHA-256 {}. Lengths in result.json are in mm, angles in degrees.",
        record.program, record.made_with.settings_sha256
    );
    flow.paragraph(&made, flow.body().sized(8.0));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    fn shown() -> Vec<Picture> {
        vec![
            made::picture("heat-plan.png", "floor from above"),
            made::picture("heat-left.png", "from the left"),
            made::picture("heat-region-right--floor-.png", "right floor"),
            made::picture("heat-region-boot-floor.png", "boot floor, which is in"),
        ]
    }

    fn given_of<'a>(about: &'a About, record: &'a Record, pictures: &'a [Picture]) -> Given<'a> {
        Given {
            about,
            record,
            pictures,
        }
    }

    #[test]
    fn every_word_of_the_summary_and_every_task_is_printed_and_nothing_lies_outside() {
        let (about, record, shown, faces) = (made::about(), made::record(), shown(), Faces::new().unwrap());
        let laid = lay(&given_of(&about, &record, &shown), "0123456789abcdef", &faces).unwrap();
        laid.assert_tidy();
        let printed = laid.words();
        for sentence in words::summary(&record).iter().chain(&words::set_how(&record)) {
            for word in sentence.split_whitespace() {
                assert!(printed.contains(word), "{word}");
            }
        }
        for task in &record.work {
            assert!(printed.contains(&task.words), "{}", task.words);
        }
        for words in [
            "OUT",
            "not measured",
            "± (mm)",
            "Positions only.",
            "0123456789ab…",
            "bb22",
            "Rust & Sons",
        ] {
            assert!(printed.contains(words), "{words}");
        }
        let first = Laid {
            sheets: laid.sheets[..1].to_vec(),
            ..laid.clone()
        };
        assert!(first.words().contains("take 3/16 of shim out at front inner"));
    }

    #[test]
    fn pictures_of_regions_that_are_in_are_named_and_not_printed() {
        let (about, record, shown, faces) = (made::about(), made::record(), shown(), Faces::new().unwrap());
        let laid = lay(&given_of(&about, &record, &shown), "", &faces).unwrap();
        let files: Vec<&str> = laid.pictures.iter().map(|p| p.0).collect();
        assert_eq!(
            files,
            ["heat-plan.png", "heat-left.png", "heat-region-right--floor-.png"]
        );
        assert!(
            laid.words()
                .contains("Not printed, since all of it is in: boot floor.")
        );
    }

    #[test]
    fn words_that_may_not_be_said_are_not() {
        let (about, record, faces) = (About::default(), made::record(), Faces::new().unwrap());
        let laid = lay(&given_of(&about, &record, &[]), "", &faces).unwrap();
        let printed = laid.words().to_lowercase();
        let words: Vec<&str> = printed.split(|c: char| !c.is_alphabetic()).collect();
        for word in ["certified", "approved", "safe", "roadworthy", "pass"] {
            assert!(!words.contains(&word), "{word}");
        }
    }

    #[test]
    fn a_record_with_long_names_and_many_regions_stays_tidy() {
        let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        record.comparison = "right side after the third trip, welded and ground ".repeat(6);
        record.regions[1].name = "boot-floor-with-a-name-that-has-no-blank-anywhere-in-it".repeat(3);
        let region = record.regions[0].clone();
        record.regions.extend(std::iter::repeat_n(region, 70));
        let laid = lay(&given_of(&about, &record, &[]), "", &faces).unwrap();
        laid.assert_tidy();
        assert!(laid.sheets.len() >= 3);
    }
}
