//! `page`: the pages of a whole job, in its folder `pages`: page.html with every comparison, and hand-over.pdf for the next shop.

mod over_trips;

use std::path::Path;

use ::draw::contact::{Small, contact_sheets};
use ::page::given::{Standing, standings};
use ::page::html::Leaves;
use ::page::{Given, GivenJob, GivenTrips, Picture, html, pdf, words};
use archive::log::{Entry, What, is_day};
use archive::tree::Tree;
use archive::{Fingerprint, lock};
use record::Record;

use crate::batch::{self, results_of};
use crate::clock;
use crate::commands::record_of;
use crate::job::file::did_you_mean;
use crate::job::{Comparison, Job, Measured, Trip};
use crate::made_from::PROGRAM;
use crate::progress::Progress;
use crate::put_in_place::{Building, MARK, told_of};
use crate::received::Received;
use crate::sealed::JobTree;
use crate::stages::page::pictures;
use crate::stages::tabulate::save;
use crate::trouble::{DONE, Trouble};
use over_trips::OverTrips;

/// Writes the pages of a job that was run.
pub fn page(path: &Path, of: Option<&str>, progress: &Progress) -> Result<u8, Trouble> {
    let job = Job::read(path)?;
    let _lock = lock::shared(&job.folder, "make its pages")?;
    made(&job, of, progress).map_err(|trouble| told_of(&job.folder.join("pages"), &trouble))?;
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
    step.doing("reading the files");
    let mut done = Vec::new();
    let mut refused = Vec::new();
    let received = Received::of(&job.folder)?;
    let all: Vec<&Comparison> = job.comparisons.iter().collect();
    let items = batch::look(job, &all, false, &received);
    let count = items.len();
    for (k, item) in items.into_iter().enumerate() {
        let name = &item.comparison.name;
        step.doing(&format!("gathering {} of {count}: {name}", k + 1));
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
    step.doing("laying out");
    let comparisons: Vec<Given<'_>> = done
        .iter()
        .map(|one| Given {
            about: &job.about,
            record: &one.record,
            pictures: &one.pictures,
        })
        .collect();
    let days: Vec<Option<String>> = done
        .iter()
        .map(|one| day_taken(job, &received, &one.record))
        .collect();
    let standings = standings(&comparisons, &days);
    let handed = handed_over(&done, &standings, of, job)?;
    let log: Vec<(String, String, String)> = received
        .entries
        .iter()
        .map(|e| (e.day.clone(), e.what.word().to_string(), said_of(e)))
        .collect();
    let files = files(job)?;
    step.doing("gathering the trips");
    let over_trips = OverTrips::of(job, &received, progress)?;
    let leaves: Vec<Leaves<'_>> = over_trips.iter().flat_map(OverTrips::leaves).collect();
    let given = GivenJob {
        about: &job.about,
        comparisons: &comparisons,
        standings: &standings,
        refused: &refused,
        trips: over_trips.as_ref().map(|over| GivenTrips {
            lines: &over.lines,
            pictures: &over.pictures,
            leaves: &leaves,
        }),
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
        job.about.paper,
    )
    .map_err(failed)?;
    let place = job.folder.join("pages");
    let building = Building::begin(&place)?;
    let mut made: Vec<(&str, &[u8])> =
        vec![("page.html", html.as_bytes()), ("hand-over.pdf", pdf.as_slice())];
    made.extend(contact.iter().map(|(name, png)| (name.as_str(), png.as_slice())));
    let names: Vec<&str> = made.iter().map(|(name, _)| *name).chain([MARK]).collect();
    let mark = serde_json::json!({ "schema": 1, "program": PROGRAM, "files": names });
    let mark = format!("{mark:#}\n");
    made.push((MARK, mark.as_bytes()));
    for (name, bytes) in made {
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
    let words = last.map_or("it was not run yet", |e| e.words.as_str());
    // Its name stands before it on the page already.
    let why = words.strip_prefix(&format!("{name}: could not be done: "));
    why.unwrap_or(words).to_string()
}

/// An entry's words, with the file that they are about.
fn said_of(entry: &Entry) -> String {
    if entry.file.is_empty() || entry.words.contains(&entry.file) {
        entry.words.clone()
    } else {
        format!("{}: {}", entry.file, entry.words)
    }
}

/// The day on which the measured set of a comparison was taken: that of its trip, else that on which the log has it first.
fn day_taken(job: &Job, received: &Received, record: &Record) -> Option<String> {
    let measured = &record.measured;
    let shows = |trip: &&Trip| match &trip.what {
        Measured::Set { shown_by, .. } => job
            .comparisons
            .iter()
            .any(|c| c.name == *shown_by && c.measured.name == measured.name),
        Measured::Points { .. } => false,
    };
    if let Some(trip) = job.trips.iter().rev().find(shows) {
        return Some(trip.day.clone());
    }
    let first = received
        .entries
        .iter()
        .find(|e| e.what == What::Set && e.file == measured.file && is_day(&e.day));
    first.map(|entry| entry.day.clone())
}

/// The comparison that shows how the shell is handed over: the one that was named, else of those that count now the last that
/// read its shell, else the last.
fn handed_over(
    done: &[Shown],
    standings: &[Standing],
    of: Option<&str>,
    job: &Job,
) -> Result<usize, Trouble> {
    if done.is_empty() {
        return Err(Trouble::new(format!(
            "{}: nothing of it was done yet; run it first",
            job.folder.display()
        )));
    }
    let Some(name) = of else {
        let counts = |k: &usize| standings.get(*k).is_none_or(Standing::counts_now);
        let now: Vec<usize> = (0..done.len()).filter(counts).collect();
        let with_shell = now.iter().rev().find(|k| !done[**k].record.shell.is_empty());
        return Ok(*with_shell.or(now.last()).unwrap_or(&(done.len() - 1)));
    };
    done.iter()
        .position(|one| one.record.comparison == name)
        .ok_or_else(|| {
            let names: Vec<&str> = done.iter().map(|one| one.record.comparison.as_str()).collect();
            Trouble::new(format!(
                "{}: there are no results of a comparison \"{name}\"{}; there are of {}",
                job.folder.display(),
                did_you_mean(name, names.iter().copied()),
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

/// The first picture of every comparison with its verdict, on as many sheets as they need, by file.
fn contact(job: &Job, done: &[Shown]) -> Result<Vec<(String, Vec<u8>)>, Trouble> {
    let pictures: Vec<Small<'_>> = done
        .iter()
        .filter_map(|one| {
            Some(Small {
                name: &one.record.comparison,
                verdict: words::verdict(&one.record),
                png: &one.pictures.first()?.png,
            })
        })
        .collect();
    let sheets = contact_sheets(&job.name, &pictures).map_err(|e| Trouble::system("drawing", &e))?;
    let file = |k: usize| match k {
        0 => "contact-sheet.png".to_string(),
        _ => format!("contact-sheet-{}.png", k + 1),
    };
    Ok(sheets
        .into_iter()
        .enumerate()
        .map(|(k, png)| (file(k), png))
        .collect())
}
