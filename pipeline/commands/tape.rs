//! `tape`: writes the tape sheet of a job, and takes the hand readings back.

use std::fmt::Write as _;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use ::features::shell::Known;
use ::features::tape::{Distance, Held, agrees, scale_of, sheet, tape_pm_mm};
use archive::log::What;
use archive::{ArchiveError, Fingerprint};
use cloud::unit::fraction_of_inch;
use cloud::{Point, Vector};
use formats::readings::{self, Reading};
use page::tables::field;
use record::Record;

use crate::commands::record_of;
use crate::job::Job;
use crate::job::file::did_you_mean;
use crate::progress::Progress;
use crate::put_in_place::MARK;
use crate::received::Received;
use crate::stages::gates::unit::{ASKED, of_lengths};
use crate::stages::tabulate::save;
use crate::trouble::{DONE, NOT_ALL_WITHIN, Trouble};

/// So many tables of readings are kept apart.
const MOST_KEPT: u32 = 1_000;

/// The sheet of one comparison.
struct Sheet {
    comparison: String,
    distances: Vec<Distance>,
}

/// Writes the sheet, or lays readings beside it.
pub fn tape(path: &Path, readings: Option<&Path>, progress: &Progress) -> Result<u8, Trouble> {
    let job = Job::read(path)?;
    let mut sheets = Vec::new();
    for comparison in &job.comparisons {
        if !job.results(&comparison.name).join(MARK).is_file() {
            continue;
        }
        let distances = sheet(&places(&record_of(&job, &comparison.name)?));
        if !distances.is_empty() {
            sheets.push(Sheet {
                comparison: comparison.name.clone(),
                distances,
            });
        }
    }
    if sheets.is_empty() {
        return Err(Trouble::new(format!(
            "{}: no comparison saw two of its [places], a foot apart or more, in both sets; a place is seen where both tables of points have it, or where holes = true finds a hole of both sets there; add either and run the job",
            path.display()
        )));
    }
    match readings {
        Some(table) => laid_beside(&job, &sheets, table, progress),
        None => written(&job, &sheets, progress),
    }
}

/// The places that a comparison saw, as they are on the measured set.
fn places(record: &Record) -> Vec<Held> {
    let held = |place: &record::figured::PlaceRecord| Held {
        name: place.name.clone(),
        at: Point::from(place.measured_at_mm),
        known: match place.axis.zip(place.pm_out_mm) {
            Some((axis, out_of_it_mm)) => Known {
                normal: Vector::from(axis),
                in_sheet_mm: place.pm_mm,
                out_of_it_mm,
            },
            None => Known::alike(place.pm_mm),
        },
    };
    record.places.iter().map(held).collect()
}

fn written(job: &Job, sheets: &[Sheet], progress: &Progress) -> Result<u8, Trouble> {
    let folder = job.folder.join("tape");
    let table = folder.join("sheet.csv");
    refuse_readings(&table)?;
    fs::create_dir_all(&folder).map_err(|e| Trouble::writing(&folder, &e))?;
    let mut csv =
        String::from("comparison,from,to,foretold (in),foretold (mm),pm with the tape (mm),reading\n");
    let mut page = format!(
        "TAPE SHEET   {}\n\nHook the tape at the middle of each place. Write what it reads to a 32nd.\nTo 6 ft a tape is good to 1/32 in, to 30 ft to 1/16 (NIST Handbook 44, 5.52).\n",
        job.name
    );
    for sheet in sheets {
        let _ = write!(page, "\n{}\n\n", sheet.comparison);
        for d in &sheet.distances {
            let pm_mm = d.pm_mm.hypot(tape_pm_mm(d.foretold_mm));
            let inches = fraction_of_inch(d.foretold_mm, 32);
            let _ = writeln!(
                csv,
                "{},{},{},{inches},{:.1},{pm_mm:.2},",
                field(&sheet.comparison),
                field(&d.from),
                field(&d.to),
                d.foretold_mm
            );
            let _ = writeln!(
                page,
                "  {:<14} to {:<14} {:>10} in  +-{:<5} ({:.1} mm)   reads ____________",
                d.from,
                d.to,
                inches,
                fraction_of_inch(pm_mm, 32),
                d.foretold_mm
            );
        }
    }
    page.push_str(
        "\nPositions only. A tape that disagrees by more than the +- says that scale, unit, hand or\nsetting is wrong somewhere: look before you cut.\n",
    );
    save(&table, csv.as_bytes())?;
    save(&folder.join("sheet.txt"), page.as_bytes())?;
    progress.result(&page);
    progress.result(&format!(
        "fill in the last column of {}, as 84-3/16, 7' 0-3/16\" or 2138 mm, and give it back with --readings",
        table.display()
    ));
    Ok(DONE)
}

/// A sheet that holds readings is never written over.
fn refuse_readings(table: &Path) -> Result<(), Trouble> {
    if !table.is_file() {
        return Ok(());
    }
    let taken = readings::read(table).map_or(0, |all| all.iter().filter(|r| r.mm.is_some()).count());
    if taken == 0 {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "{}: it holds {taken} readings and is not written over; give it back with --readings, or move it",
        table.display()
    )))
}

fn laid_beside(job: &Job, sheets: &[Sheet], table: &Path, progress: &Progress) -> Result<u8, Trouble> {
    let read = readings::read(table)?;
    let mut out = String::new();
    let mut all_agree = true;
    let mut taken = 0;
    for sheet in sheets {
        let mut laid: Vec<(Distance, f64)> = Vec::new();
        for reading in read
            .iter()
            .filter(|r| r.sheet.is_empty() || r.sheet == sheet.comparison)
        {
            let Some(mm) = reading.mm else { continue };
            laid.push((of(sheet, reading, table)?, mm));
        }
        if laid.is_empty() {
            continue;
        }
        taken += laid.len();
        let _ = writeln!(out, "\n{}", sheet.comparison);
        for (distance, mm) in &laid {
            let fine = agrees(distance, *mm);
            all_agree &= fine;
            let said = if fine {
                "agrees".to_string()
            } else {
                how_far_off(distance.foretold_mm, *mm)
            };
            let _ = writeln!(
                out,
                "  {:<14} to {:<14} foretold {:>10} read {:>10}   {said}",
                distance.from,
                distance.to,
                fraction_of_inch(distance.foretold_mm, 32),
                fraction_of_inch(*mm, 32)
            );
        }
        if let Some(scale) = scale_of(&laid) {
            let _ = writeln!(
                out,
                "  all of it is explained by one scale of {scale:.4} ({:+.2} in 84 in): look at the set's unit and its bars",
                84.0 * (scale - 1.0)
            );
        }
    }
    if taken == 0 {
        return Err(Trouble::new(format!(
            "{}: no reading in it belongs to a comparison of this job; fill in the column \"reading\"",
            table.display()
        )));
    }
    let said = if all_agree {
        "all agree within the tape and the sets"
    } else {
        "NOT all agree; scale, unit, hand or how it was set is wrong somewhere, or the tape was: look before you cut"
    };
    let _ = write!(out, "\n{taken} readings: {said}");
    progress.result(out.trim_start());
    let agree = if all_agree { "all agree" } else { "NOT all agree" };
    let kept = keep(
        job,
        table,
        out.trim_start(),
        &format!("{taken} readings: {agree}"),
        progress,
    )?;
    progress.result(&format!("kept as {}, and noted in the log", kept.display()));
    Ok(if all_agree { DONE } else { NOT_ALL_WITHIN })
}

/// Keeps the readings as they came, with what they were found to say beside them, in the job's folder `tape` and in its log: what
/// was taped is proof of what the sets say. Earlier readings stay.
///
/// # Errors
/// Where they can't be read or written.
fn keep(job: &Job, table: &Path, found: &str, words: &str, progress: &Progress) -> Result<PathBuf, Trouble> {
    let folder = job.folder.join("tape");
    fs::create_dir_all(&folder).map_err(|e| Trouble::writing(&folder, &e))?;
    let bytes = fs::read(table).map_err(|e| Trouble::from(ArchiveError::reading(table, &e)))?;
    let name = free_name(&folder, &bytes);
    let file = folder.join(format!("{name}.csv"));
    if !file.exists() {
        save(&file, &bytes)?;
    }
    save(
        &folder.join(format!("{name}.txt")),
        format!("{found}\n").as_bytes(),
    )?;
    let print = Fingerprint::of(&file)?;
    let about = format!("tape/{name}.csv");
    let mut received = Received::told(&job.folder, progress)?;
    received.note(What::Taped, words, Some((&about, &print)))?;
    Ok(file)
}

/// `readings`, or `readings-2` and so on where other readings have that name.
fn free_name(folder: &Path, bytes: &[u8]) -> String {
    let mut names = (1..MOST_KEPT).map(|k| match k {
        1 => "readings".to_string(),
        k => format!("readings-{k}"),
    });
    let fits = names.find(|name| {
        let there = fs::read(folder.join(format!("{name}.csv")));
        there.map_or_else(|e| e.kind() == ErrorKind::NotFound, |there| there == bytes)
    });
    fits.unwrap_or_else(|| "readings".to_string())
}

/// `reads 3/16 LONG`; with the question about the unit where it is off by the ratio of two.
fn how_far_off(foretold_mm: f64, read_mm: f64) -> String {
    let off = read_mm - foretold_mm;
    let way = if off > 0.0 { "LONG" } else { "SHORT" };
    let words = format!("reads {} {way}", fraction_of_inch(off, 32));
    match of_lengths(read_mm / foretold_mm) {
        Some((read, really)) => format!(
            "{words}: {ASKED} It is as if {really} were read as {read}; write the unit behind the reading, or look at the set's"
        ),
        None => words,
    }
}

/// The distance that a reading was taken of, whichever end came first.
fn of(sheet: &Sheet, reading: &Reading, table: &Path) -> Result<Distance, Trouble> {
    let ends = |d: &Distance| {
        (d.from == reading.from && d.to == reading.to) || (d.from == reading.to && d.to == reading.from)
    };
    sheet.distances.iter().find(|d| ends(d)).cloned().ok_or_else(|| {
        let meant = meant_by(sheet, reading);
        Trouble::new(format!(
            "{}, line {}: found {} to {}, which is not on the sheet of \"{}\"{meant}; write the sheet again with `witnessmark tape`, or mend the names",
            table.display(),
            reading.line,
            reading.from,
            reading.to,
            sheet.comparison
        ))
    })
}

/// `; did you mean "H1"?` for the end of a reading that is no place of the sheet.
fn meant_by(sheet: &Sheet, reading: &Reading) -> String {
    let ends = sheet
        .distances
        .iter()
        .flat_map(|d| [d.from.as_str(), d.to.as_str()]);
    let names: Vec<&str> = ends.collect();
    let odd = [reading.from.as_str(), reading.to.as_str()]
        .into_iter()
        .find(|name| !names.contains(name));
    odd.map_or(String::new(), |name| did_you_mean(name, names.into_iter()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_kept_beside_the_earlier_ones() {
        let folder = tempfile::tempdir().unwrap();
        let name = |bytes: &str| free_name(folder.path(), bytes.as_bytes());
        assert_eq!(name("one"), "readings");
        fs::write(folder.path().join("readings.csv"), "one").unwrap();
        assert_eq!([name("one"), name("two")], ["readings", "readings-2"]);
    }

    #[test]
    fn a_reading_in_another_unit_is_asked_about_and_a_long_one_is_not() {
        let asked = |read_mm| how_far_off(2138.4, read_mm);
        assert!(asked(2138.0 * 25.4).contains("is the unit right? It is as if mm were read as in;"));
        assert!(asked(84.25).contains("is the unit right? It is as if in were read as mm;"));
        assert_eq!(asked(2138.4 + 4.7625), "reads 3/16 LONG");
        assert_eq!(asked(2138.4 - 25.4), "reads 1 SHORT");
    }
}
