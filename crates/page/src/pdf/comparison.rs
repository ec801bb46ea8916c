//! A comparison on paper: verdict, summary and work first, then pictures, tables, how it was set, warnings, cautions, files, words.

use record::verdict::{DIFFERS, IN, OUT};
use record::{InputRecord, Record, RegionRecord};

use crate::words::{self, Who};
use crate::{About, Given, PageError, Picture};

use super::face::Faces;
use super::flow::{BOTTOM_MM, Flow, TOP_MM};
use super::grid::{Column, Entry, Grid};
use super::sheet::{Laid, Paper, WIDTH_MM};
use super::{cautions, glossary, ink, margins, printed, verdict};

/// Below this much room the main picture goes on a sheet of its own, mm.
const LEAST_PICTURE_MM: f32 = 85.0;
/// What a picture's words and the white about it take where two stand on a sheet, mm.
const BENEATH_MM: f32 = 11.0;
/// How high a picture may be that shows nothing to be done, where two stand beside each other, mm.
const SMALL_MM: f32 = 64.0;

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
    // The one sentence that he reads who reads no more.
    let said = words::summary(record);
    if let Some((first, further)) = said.split_first() {
        flow.paragraph(first, flow.body().sized(11.0).bold());
        flow.heading("What was found");
        flow.bullets(further);
    }
    work(&mut flow, record);
    pictures(&mut flow, given)?;
    printed::tables(&mut flow, record);
    flow.heading("How it was set");
    flow.bullets(words::set_how(record));
    if !record.warnings.is_empty() {
        flow.heading("Warnings");
        flow.bullets(record.warnings.iter().map(|w| w.words.as_str()));
    }
    cautions(&mut flow, "Cautions");
    files(&mut flow, record);
    glossary(&mut flow);
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
        flow.heading(Who::Shop.heading(record));
        flow.paragraph(&words::first_to_do(record), flow.body());
    }
    for (who, tasks) in tasks {
        flow.heading(who.heading(record));
        flow.bullets(tasks.iter().map(|task| words::told(record, who, task)));
    }
}

/// The first picture large, then two to a sheet what shows something to be done, then two beside each other the rest; those of
/// regions that are in are not printed.
fn pictures<'a>(flow: &mut Flow<'a>, given: &Given<'a>) -> Result<(), PageError> {
    let (record, all): (&Record, &'a [Picture]) = (given.record, given.pictures);
    let is_in = |picture: &&Picture| region_that_is_in(record, &picture.file).is_some();
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
    let (small, large): (Vec<&'a Picture>, Vec<&'a Picture>) = others
        .iter()
        .copied()
        .partition(|p| shows_no_work(record, &p.file));
    for picture in large {
        flow.picture(picture, [WIDTH_MM, (BOTTOM_MM - TOP_MM) / 2.0 - BENEATH_MM])?;
    }
    for two in small.chunks(2) {
        flow.beside(two, SMALL_MM)?;
        flow.gap(1.5);
    }
    let left_out = all.iter().filter_map(|p| region_that_is_in(record, &p.file));
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

/// Whether a picture is another view of the whole, or of a region that is neither out nor in, and no task is seen in it. Where
/// there are no regions the views of the whole are all that there is.
fn shows_no_work(record: &Record, file: &str) -> bool {
    let name = words::base_name(file);
    if record.regions.is_empty() || has_a_task(record, file) || !name.starts_with("heat-") {
        return false;
    }
    match region_of(record, file) {
        Some(region) => !matches!(words::verdict_of_region(record, region), OUT | DIFFERS),
        None => !name.starts_with("heat-region-"),
    }
}

fn has_a_task(record: &Record, file: &str) -> bool {
    let name = words::base_name(file);
    record
        .work
        .iter()
        .any(|task| task.picture.as_deref() == Some(name))
}

/// The region whose own picture this is, where its verdict is in and nothing that there is to do is seen in it.
fn region_that_is_in<'r>(record: &'r Record, file: &str) -> Option<&'r str> {
    if has_a_task(record, file) {
        return None;
    }
    region_of(record, file)
        .filter(|region| words::verdict_of_region(record, region) == IN)
        .map(|region| region.name.as_str())
}

/// The region whose own picture this is.
fn region_of<'r>(record: &'r Record, file: &str) -> Option<&'r RegionRecord> {
    let own = words::base_name(file)
        .strip_prefix("heat-region-")?
        .strip_suffix(".png")?;
    let in_a_name = |c: char| if c.is_alphanumeric() || c == '-' { c } else { '-' };
    let mut regions = record.regions.iter();
    regions.find(|region| region.name.chars().map(in_a_name).eq(own.chars()))
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
            ["heat-plan.png", "heat-region-right--floor-.png", "heat-left.png"]
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
