//! The page for the next shop: ten points on two sheets at most, with places to write and distances to measure again.

mod chosen;

use record::figured::{CheckRecord, TaskRecord};
use record::{Record, RegionRecord};

use crate::words::{self, Who};
use crate::{About, Given, GivenJob, PageError, Picture};

use super::face::Faces;
use super::flow::Flow;
use super::grid::{Column, Entry, Grid};
use super::sheet::{Laid, Paper};
use super::{Margins, cautions, figure, glossary, ink, tape, verdict};
use chosen::{and_more, and_more_of, chosen, counts_now};

/// Most sheets.
const SHEETS: usize = 2;
/// Most rows of each table and list: the first is tried first, until all fits.
const TRIED: [usize; 7] = [24, 18, 14, 10, 7, 5, 3];
/// Most distances of the tape sheet.
const TAPED: usize = 12;
/// Height of the two views, mm.
const VIEWS_MM: f32 = 62.0;
/// Size of the type in tables, points.
const SMALL: f32 = 7.5;

/// The page for the next shop as PDF: the job, and the comparison that shows how it is handed over.
///
/// # Errors
/// Where a picture is no PNG.
pub fn hand_over(
    job: &GivenJob<'_>,
    chosen: &Given<'_>,
    result_sha256: &str,
    paper: Paper,
) -> Result<Vec<u8>, PageError> {
    let faces = Faces::new()?;
    let laid = lay(job, chosen, result_sha256, &faces)?;
    ink::write(&laid, &faces, paper)
}

fn lay<'a>(
    job: &GivenJob<'a>,
    chosen: &Given<'a>,
    result_sha256: &str,
    faces: &'a Faces,
) -> Result<Laid<'a>, PageError> {
    let [mut most, fewer @ ..] = TRIED;
    let mut laid = filled(job, chosen, result_sha256, faces, (most, false))?;
    for fewer in fewer {
        if laid.sheets.len() > SHEETS {
            most = fewer;
            laid = filled(job, chosen, result_sha256, faces, (most, false))?;
        }
    }
    // Words are explained where there is room left for it.
    let worded = filled(job, chosen, result_sha256, faces, (most, true))?;
    let fits = worded.sheets.len() <= laid.sheets.len();
    Ok(if fits { worded } else { laid })
}

/// The ten points, with at most so many rows in a table, and with the words explained or without.
fn filled<'a>(
    job: &GivenJob<'a>,
    chosen: &Given<'a>,
    result_sha256: &str,
    faces: &'a Faces,
    (most, worded): (usize, bool),
) -> Result<Laid<'a>, PageError> {
    let (record, about) = (chosen.record, job.about);
    let mut flow = Flow::new(faces, 8.0);
    flow.title("Handing over");
    verdict(&mut flow, record);
    counts_now(&mut flow, job, record, most);
    flow.heading("1 Job and shell");
    whose(&mut flow, about);
    flow.heading("2 State");
    state(&mut flow, about, record);
    flow.heading("3 How it was set");
    set_by(&mut flow, about, record);
    let views = views(chosen);
    if !views.is_empty() {
        flow.heading("4 Seen from above and from the side, hatched where not measured");
        flow.beside(&views, VIEWS_MM)?;
    }
    flow.heading(&format!(
        "5 Figures: {} → {}",
        record.reference.called(),
        record.measured.name
    ));
    figures(&mut flow, record, most);
    flow.heading("6 Regions");
    regions(&mut flow, record, most);
    flow.heading("7 Oddities kept on purpose, and faults left");
    oddities(&mut flow, job, record, most);
    flow.heading("8 Tape sheet: from point to point, to be repeated");
    tape_sheet(&mut flow, record, most);
    flow.heading("9 Archive");
    archive(&mut flow, job, record, result_sha256, most);
    cautions(&mut flow, "10 Cautions");
    if worded {
        glossary(&mut flow);
    }
    flow.signatures(&["handed over by, day", "taken over by, day"]);
    let job_name = match about.job.as_str() {
        "" => record.comparison.as_str(),
        job => job,
    };
    Ok(flow.finish(&Margins {
        job: job_name,
        part: "handing over",
        kind: "handing over",
        program: &record.program,
        result_sha256,
    }))
}

fn whose(flow: &mut Flow<'_>, about: &About) {
    flow.pairs(&[
        ("job", about.job.clone()),
        ("shell, its number", about.shell.clone()),
        ("shop", about.shop.clone()),
        ("contact", about.contact.clone()),
        ("measured by", about.measured_by.clone()),
        ("day", about.day.clone()),
    ]);
}

fn state(flow: &mut Flow<'_>, about: &About, record: &Record) {
    let warmth = record
        .measured
        .celsius
        .map_or(String::new(), |c| format!("{c:.0} °C"));
    flow.pairs(&[("how it stood", about.state.clone()), ("how warm", warmth)]);
    if !about.notes.is_empty() {
        flow.paragraph(&about.notes, flow.body());
    }
}

/// Sentences one behind the other, to save room.
fn set_by(flow: &mut Flow<'_>, about: &About, record: &Record) {
    let mut said = words::set_how(record);
    let kept: Vec<&str> = record
        .regions
        .iter()
        .filter(|r| r.status == "kept")
        .map(|r| r.name.as_str())
        .collect();
    if !kept.is_empty() {
        said.push(format!("Left alone: {}.", kept.join(", ")));
    }
    let ends = ends(record);
    if !ends.is_empty() {
        said.push(format!("± of how it was set alone: {}.", ends.join(", ")));
    }
    let points: Vec<String> = record
        .setting
        .points
        .iter()
        .map(|p| {
            let out = if p.used { "" } else { ", left out" };
            format!("{} {:.2} mm{out}", p.name, p.residual_mm)
        })
        .collect();
    if !points.is_empty() {
        said.push(format!("What is left at the points: {}.", points.join("; ")));
    }
    said.push(format!("Points {:.1} mm apart.", record.measured.spacing_mm));
    flow.paragraph(&said.join(" "), flow.body());
    flow.pairs(&[("measured with", about.instrument.clone())]);
}

/// The largest ± of the setting in the front, the middle and the rear third, where it was worked out there.
fn ends(record: &Record) -> Vec<String> {
    let at = &record.setting.predicted_pm_mm;
    let along = |pick: fn(f64, f64) -> f64| at.iter().map(|p| p.at_mm[0]).reduce(pick);
    let (Some(front), Some(rear)) = (along(f64::min), along(f64::max)) else {
        return Vec::new();
    };
    let length = (rear - front).max(1.0);
    let third = |x: f64| ((3.0 * (x - front) / length) as usize).min(2);
    ["front", "middle", "rear"]
        .iter()
        .enumerate()
        .filter_map(|(k, name)| {
            let here = at.iter().filter(|p| third(p.at_mm[0]) == k).map(|p| p.pm_mm);
            Some(format!("{name} {}", words::pm(here.reduce(f64::max)?)))
        })
        .collect()
}

/// Plan and left side; what there is, where one of them is missing.
fn views<'a>(chosen: &Given<'a>) -> Vec<&'a Picture> {
    let pictures: &'a [Picture] = chosen.pictures;
    let named = |name: &str| pictures.iter().find(|p| words::base_name(&p.file) == name);
    let mut views: Vec<&'a Picture> = ["heat-plan.png", "heat-left.png"]
        .into_iter()
        .filter_map(named)
        .collect();
    for picture in pictures {
        let there = views.iter().any(|v| v.file == picture.file);
        if views.len() < 2 && !there {
            views.push(picture);
        }
    }
    views
}

/// Where everything of a comparison stands.
fn all_of(record: &Record) -> String {
    format!("page.html and tables.xlsx of {}", record.comparison)
}

/// Twist, diamond, diagonals, sag, sway, length, widths, openings.
fn figures(flow: &mut Flow<'_>, record: &Record, most: usize) {
    let row = |name: &str, found: figure::Figure, limit: Option<String>, verdict: &str| {
        let said = words::verdict_of(record, verdict);
        let entries: Vec<Entry> = vec![
            name.into(),
            found.reference.into(),
            found.measured.into(),
            found.off.into(),
            found.pm.into(),
            limit.unwrap_or_default().into(),
            Entry::verdict(said),
        ];
        (said, entries)
    };
    let limit_of_check = |check: &CheckRecord| {
        let f = &check.figures;
        f.limit_mm
            .map(words::length)
            .or(f.limit_deg.map(|d| format!("{d:.1}°")))
    };
    let shell = record.shell.iter().map(|f| {
        let limit = f.limit_mm.map(words::length);
        row(&f.name, figure::of_shell(f), limit, &f.verdict)
    });
    let checks = record
        .checks
        .iter()
        .map(|c| row(&c.name, figure::of_check(c), limit_of_check(c), &c.verdict));
    let (rows, left_out) = chosen(shell.chain(checks).collect(), most);
    if rows.is_empty() {
        flow.paragraph(
            "No figures of the shell and no checks were asked for.",
            flow.body(),
        );
    }
    flow.grid(&Grid {
        columns: vec![
            Column::words("figure"),
            Column::figures(record.reference.name.as_str()),
            Column::figures(record.measured.name.as_str()),
            Column::figures("off"),
            Column::figures("±"),
            Column::figures("limit"),
            Column::words("verdict"),
        ],
        rows,
        size_pt: SMALL,
    });
    and_more(flow, &left_out, &all_of(record));
}

fn regions(flow: &mut Flow<'_>, record: &Record, most: usize) {
    let row = |region: &RegionRecord| -> (&'static str, Vec<Entry>) {
        let said = words::verdict_of_region(record, region);
        let lies = region.shift.as_ref().map_or("", |m| m.words.as_str());
        let entries = vec![
            region.name.as_str().into(),
            region.status.to_string().into(),
            Entry::verdict(said),
            lies.into(),
            "".into(),
        ];
        (said, entries)
    };
    let (rows, left_out) = chosen(record.regions.iter().map(row).collect(), most);
    flow.grid(&Grid {
        columns: vec![
            Column::words("region"),
            Column::words("status"),
            Column::words("verdict"),
            Column::words("as it lies"),
            Column::blank("gauge, joins, day", 42.0),
        ],
        rows,
        size_pt: SMALL,
    });
    and_more(flow, &left_out, &all_of(record));
}

/// Faults first, then what nobody knows, then what was left as it was on purpose.
fn oddities(flow: &mut Flow<'_>, job: &GivenJob<'_>, record: &Record, most: usize) {
    let tasks = words::tasks(record);
    let of = |whose: Who| -> Vec<&TaskRecord> {
        let own = tasks.iter().filter(|(who, _)| *who == whose);
        own.flat_map(|(_, tasks)| tasks.iter().copied()).collect()
    };
    let (kept, left) = (of(Who::Record), of(Who::Shop));
    let refused = job
        .refused
        .iter()
        .map(|(name, why)| format!("could not be done: {name}: {why}"));
    let said = kept.iter().map(|t| t.words.clone());
    let faults = left.iter().map(|t| format!("not mended: {}", t.words));
    let all = kept.len() + left.len() + job.refused.len();
    flow.bullets(faults.chain(refused).chain(said).take(most));
    let whence = format!("page.html of {} and of the job", record.comparison);
    and_more_of(flow, all.saturating_sub(most), "of these", &whence);
    flow.pairs(&[("kept on purpose", String::new()), ("why", String::new())]);
}

fn tape_sheet(flow: &mut Flow<'_>, record: &Record, most: usize) {
    let mut readings = tape::readings(&record.places, TAPED);
    let left_out = readings.len().saturating_sub(most);
    readings.truncate(most);
    if readings.is_empty() {
        flow.paragraph(
            "No two named places were measured, so that there is nothing to repeat.",
            flow.body(),
        );
        return;
    }
    let row = |reading: &tape::Reading<'_>| -> Vec<Entry> {
        vec![
            reading.from.into(),
            reading.to.into(),
            words::length(reading.mm).into(),
            words::pm(reading.pm_mm).into(),
            "".into(),
        ]
    };
    flow.grid(&Grid {
        columns: vec![
            Column::words("from"),
            Column::words("to"),
            Column::figures("measured"),
            Column::figures("±"),
            Column::blank("your tape", 40.0),
        ],
        rows: readings.iter().map(row).collect(),
        size_pt: SMALL,
    });
    let whence = "the sheet that witnessmark tape writes";
    and_more_of(flow, left_out, "distances like these", whence);
    let tape = "A tape itself is good to ±1/32 up to 6 ft and ±1/16 up to 30 ft (NIST Handbook 44, 5.52).";
    flow.paragraph(tape, flow.body().sized(SMALL).pale());
}

/// First what this page was made from, then the rest.
fn archive(flow: &mut Flow<'_>, job: &GivenJob<'_>, record: &Record, result_sha256: &str, most: usize) {
    let own = format!("results/{}/result.json", record.comparison);
    let had_a_share = |path: &str| {
        path == "job.toml" || path == own || record.inputs.iter().any(|input| input.file == path)
    };
    let mut files: Vec<&(String, u64, String)> = job.files.iter().collect();
    files.sort_by_key(|(path, ..)| !had_a_share(path));
    let row = |(path, bytes, sha256): &&(String, u64, String)| -> Vec<Entry> {
        vec![
            path.as_str().into(),
            words::size(*bytes).into(),
            sha256.as_str().into(),
        ]
    };
    flow.grid(&Grid {
        columns: vec![
            Column::words("file"),
            Column::figures("size"),
            Column::words("SHA-256"),
        ],
        rows: files.iter().take(most).map(row).collect(),
        size_pt: 6.5,
    });
    let whence = "page.html of the job, and in manifest-sha256.txt once it is sealed";
    and_more_of(flow, files.len().saturating_sub(most), "files", whence);
    let words = format!(
        "result.json of this page: SHA-256 {result_sha256}. It holds lengths in mm and angles in degrees; tables are CSV, \
         pictures PNG, sets as they were received."
    );
    flow.paragraph(&words, flow.body().sized(SMALL));
}

#[cfg(test)]
mod tests;
