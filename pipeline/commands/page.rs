//! `page`: the pages of a whole job, in its folder `pages`: page.html with every comparison, and hand-over.pdf for the next shop.

use std::fs;
use std::path::Path;

use ::page::{Given, GivenJob, GivenTrips, Picture, html, pdf};
use archive::log::Entry;
use archive::tree::Tree;
use archive::{Fingerprint, lock};
use record::Record;

use crate::batch::{self, results_of};
use crate::clock;
use crate::commands::record_of;
use crate::job::{Comparison, Job};
use crate::made_from::PROGRAM;
use crate::progress::Progress;
use crate::put_in_place::{Building, MARK};
use crate::received::Received;
use crate::sealed::JobTree;
use crate::stages::page::pictures;
use crate::stages::tabulate::save;
use crate::trips;
use crate::trouble::{DONE, Trouble};

/// Writes the pages of a job that was run.
pub fn page(path: &Path, of: Option<&str>, progress: &Progress) -> Result<u8, Trouble> {
    let job = Job::read(path)?;
    let _lock = lock::shared(&job.folder, "make its pages")?;
    made(&job, of, progress)?;
    Ok(DONE)
}

/// A comparison that was done, with its pictures.
struct Shown {
    record: Record,
    pictures: Vec<Picture>,
    sha256: String,
}

/// Writes page.html, hand-over.pdf and contact-sheet.png into the job's folder `pages`; `of` names the comparison that is handed over.
///
/// # Errors
/// Where none was done, or nothing can be written.
pub fn made(job: &Job, of: Option<&str>, progress: &Progress) -> Result<(), Trouble> {
    let step = progress.step("page");
    step.doing("gathering");
    let mut done = Vec::new();
    let mut refused = Vec::new();
    let received = Received::of(&job.folder)?;
    let all: Vec<&Comparison> = job.comparisons.iter().collect();
    for item in batch::look(job, &all, false, &received) {
        let name = &item.comparison.name;
        let results = job.results(name);
        if !results.join(MARK).exists() {
            refused.push((name.clone(), why_not_done(&received, name)));
            continue;
        }
        // What is shown is what was found then; that it would come out otherwise today is told beside it.
        let today = match (&item.made_from, &item.stale) {
            (Err(trouble), _) => Some(trouble.to_string()),
            (Ok(_), Some(stale)) => Some(format!("{}; run it again", stale.words())),
            (Ok(_), None) => None,
        };
        if let Some(words) = today {
            progress.warning(&format!("{name}: {words}; its page shows what was found before"));
            refused.push((name.clone(), format!("shown as it was found before: {words}")));
        }
        match record_of(job, name) {
            Ok(record) => done.push(Shown {
                pictures: pictures(&results, &record)?,
                sha256: Fingerprint::of(&results.join(MARK))?.sha256,
                record,
            }),
            Err(trouble) => refused.push((name.clone(), trouble.to_string())),
        }
    }
    let handed = handed_over(&done, of, job)?;
    step.doing("laying out");
    let comparisons: Vec<Given<'_>> = done
        .iter()
        .map(|one| Given {
            about: &job.about,
            record: &one.record,
            pictures: &one.pictures,
        })
        .collect();
    let log: Vec<(String, String, String)> = received
        .entries
        .iter()
        .map(|e| (e.day.clone(), e.what.word().to_string(), said_of(e)))
        .collect();
    let files = files(job)?;
    let over_trips = over_trips(job, &received, progress)?;
    let given = GivenJob {
        about: &job.about,
        comparisons: &comparisons,
        refused: &refused,
        trips: over_trips
            .as_ref()
            .map(|(lines, pictures)| GivenTrips { lines, pictures }),
        files: &files,
        log: &log,
    };
    let failed = |e| Trouble::system("making the page", &e);
    let contact = contact(job, &done)?;
    let html = html::job(&given).map_err(failed)?;
    let pdf = pdf::hand_over(
        &given,
        &comparisons[handed],
        &done[handed].sha256,
        pdf::Paper::default(),
    )
    .map_err(failed)?;
    let place = job.folder.join("pages");
    let building = Building::begin(&place)?;
    let names = ["page.html", "hand-over.pdf", "contact-sheet.png", MARK];
    let mark = serde_json::json!({ "schema": 1, "program": PROGRAM, "files": names });
    let mark = format!("{mark:#}\n");
    for (name, bytes) in names
        .into_iter()
        .zip([html.as_bytes(), &pdf, &contact, mark.as_bytes()])
    {
        save(&building.path().join(name), bytes)?;
    }
    building.finish()?;
    drop(step);
    progress.result(&format!(
        "{}: page.html with every comparison, hand-over.pdf of \"{}\", contact-sheet.png",
        place.display(),
        done[handed].record.comparison
    ));
    Ok(())
}

/// What the log says of a comparison that has no results.
fn why_not_done(received: &Received, name: &str) -> String {
    let file = results_of(name);
    let last = received.entries.iter().rev().find(|e| e.file == file);
    last.map_or_else(|| "it was not run yet".to_string(), |e| e.words.clone())
}

/// An entry's words, with the file that they are about.
fn said_of(entry: &Entry) -> String {
    if entry.file.is_empty() || entry.words.contains(&entry.file) {
        entry.words.clone()
    } else {
        format!("{}: {}", entry.file, entry.words)
    }
}

/// The comparison that shows how the shell is handed over: the one that was named, else the last that read its shell, else
/// the last.
fn handed_over(done: &[Shown], of: Option<&str>, job: &Job) -> Result<usize, Trouble> {
    if done.is_empty() {
        return Err(Trouble::new(format!(
            "{}: nothing of it was done yet; run it first",
            job.folder.display()
        )));
    }
    let Some(name) = of else {
        let with_shell = done.iter().rposition(|one| !one.record.shell.is_empty());
        return Ok(with_shell.unwrap_or(done.len() - 1));
    };
    done.iter()
        .position(|one| one.record.comparison == name)
        .ok_or_else(|| {
            let names: Vec<&str> = done.iter().map(|one| one.record.comparison.as_str()).collect();
            Trouble::new(format!(
                "{}: there are no results of a comparison \"{name}\"; there are of {}",
                job.folder.display(),
                names.join(", ")
            ))
        })
}

/// Every file of the job with its size and fingerprint, pages aside: they are made of the rest.
fn files(job: &Job) -> Result<Vec<(String, u64, String)>, Trouble> {
    let tree = JobTree::of(&job.folder, &job.about, &clock::now().day)?;
    let mut files = Vec::new();
    for entry in tree.entries() {
        let is_kept = entry.path.starts_with("sets/") || entry.path.starts_with("tape/");
        let is_result = entry.path.starts_with("results/") && entry.path.ends_with(MARK);
        if is_kept || is_result || entry.path == "job.toml" {
            let print = Fingerprint::of(&job.folder.join(&entry.path))?;
            files.push((entry.path.clone(), print.bytes, print.sha256));
        }
    }
    Ok(files)
}

type Lines = (Vec<String>, Vec<Picture>);

/// What the trips say, where the job has any.
fn over_trips(job: &Job, received: &Received, progress: &Progress) -> Result<Option<Lines>, Trouble> {
    if job.trips.is_empty() {
        return Ok(None);
    }
    let groups = trips::groups(job, &received.entries, &mut |words| progress.warning(&words))?;
    let mut lines = Vec::new();
    let mut pictures = Vec::new();
    for group in &groups {
        let told = group.rows.iter().filter(|row| !row.steps.is_empty());
        lines.extend(told.map(|row| format!("{}: {}", row.series.what, row.words)));
        for (file, png) in trips::shown::pictures(group, &job.name)? {
            let picture = Picture {
                caption: format!("Figures over {} trips, like {}.", group.trips.len(), group.name),
                file,
                png,
            };
            pictures.push(html::for_page(&picture).map_err(|e| Trouble::system("making the page", &e))?);
        }
    }
    if lines.is_empty() {
        lines.push("nothing has stepped".to_string());
    }
    Ok(Some((lines, pictures)))
}

/// The first picture of every comparison on one sheet.
fn contact(job: &Job, done: &[Shown]) -> Result<Vec<u8>, Trouble> {
    let mut pictures = Vec::new();
    for one in done {
        if let Some(first) = one.record.pictures.first() {
            let path = job.results(&one.record.comparison).join(&first.file);
            let png = fs::read(&path).map_err(|e| Trouble::from(formats::FormatError::io(&path, &e)))?;
            pictures.push((one.record.comparison.clone(), png));
        }
    }
    ::draw::contact_sheet(&job.name, &pictures).map_err(|e| Trouble::system("drawing", &e))
}
