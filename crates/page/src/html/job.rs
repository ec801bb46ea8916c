//! The page of a job: what it is, how every comparison stands, trips, log, files.

use askama::Template;

use super::comparison::against;
use super::parts::{self, Shown, Verdict};
use super::{FileLine, Frame, over, written};
use crate::given::{CAUTIONS, Given, GivenJob};
use crate::{PageError, words};

/// A comparison as the job's page shows it.
struct One<'a> {
    name: &'a str,
    link: String,
    verdict: Verdict,
    headline: String,
    /// What is to do first, or nothing.
    first: &'a str,
    against: String,
    /// The first of the whole.
    pictures: Vec<Shown>,
}

struct Trips<'a> {
    lines: &'a [String],
    pictures: Vec<Shown>,
}

/// What was written down on a day.
struct Day<'a> {
    day: &'a str,
    entries: Vec<(&'a str, &'a str)>,
}

#[derive(Template)]
#[template(path = "job.html")]
struct Page<'a> {
    frame: Frame,
    over: String,
    title: &'a str,
    count: String,
    said: Vec<(&'static str, &'a str)>,
    comparisons: Vec<One<'a>>,
    refused: &'a [(String, String)],
    trips: Option<Trips<'a>>,
    log: Vec<Day<'a>>,
    cautions: [&'static str; 3],
    files: Vec<FileLine>,
    roles: bool,
    beside: String,
}

/// The page of a job. It stands in the job's folder, beside `results`, where each comparison has its own page.
///
/// # Errors
/// A picture that is no PNG file.
pub fn job(given: &GivenJob<'_>) -> Result<String, PageError> {
    let about = given.about;
    let comparisons = one_by_one(given.comparisons)?;
    let shown: usize = comparisons.iter().map(|c| c.pictures.len()).sum();
    let trips = match &given.trips {
        Some(trips) => Some(Trips {
            lines: trips.lines,
            pictures: parts::shown(trips.pictures.iter(), shown + 1)?,
        }),
        None => None,
    };
    let first = given.comparisons.first();
    let program = first.map_or("witnessmark".to_string(), |c| c.record.program.clone());
    let page = Page {
        frame: Frame::new(about, "", program),
        over: over(about),
        title: if about.job.is_empty() {
            "The job"
        } else {
            &about.job
        },
        count: count(&comparisons, given.refused.len()),
        said: parts::said(about),
        comparisons,
        refused: given.refused,
        trips,
        log: days(given.log),
        cautions: CAUTIONS,
        files: files(given.files),
        roles: false,
        beside: String::new(),
    };
    written(&page)
}

fn one_by_one<'a>(comparisons: &'a [Given<'a>]) -> Result<Vec<One<'a>>, PageError> {
    let mut all: Vec<One<'a>> = Vec::with_capacity(comparisons.len());
    for given in comparisons {
        let record = given.record;
        let first = words::tasks(record)
            .first()
            .and_then(|(_, tasks)| tasks.first().copied());
        let shown: usize = all.iter().map(|one| one.pictures.len()).sum();
        all.push(One {
            name: &record.comparison,
            link: format!("../results/{}/page.html", parts::link_step(&record.comparison)),
            verdict: parts::verdict(words::verdict(record)),
            headline: words::summary(record).into_iter().next().unwrap_or_default(),
            first: first.map_or("", |task| task.words.as_str()),
            against: against(record),
            pictures: parts::shown(given.pictures.iter().take(1), shown + 1)?,
        });
    }
    Ok(all)
}

/// `10 comparisons: 6 OUT, 3 in, 1 withheld; 1 could not be done`.
fn count(comparisons: &[One<'_>], refused: usize) -> String {
    let parts: Vec<String> = words::WORST_FIRST
        .iter()
        .map(|word| {
            (
                word,
                comparisons.iter().filter(|c| c.verdict.words == *word).count(),
            )
        })
        .filter(|(_, count)| *count > 0)
        .map(|(word, count)| format!("{count} {word}"))
        .collect();
    let mut words = match comparisons.len() {
        0 => "no comparison was done".to_string(),
        1 => format!("1 comparison: {}", parts.join(", ")),
        n => format!("{n} comparisons: {}", parts.join(", ")),
    };
    if refused > 0 {
        words.push_str(&format!("; {refused} could not be done"));
    }
    words
}

/// The log's entries by day, in the order in which they were written.
fn days(log: &[(String, String, String)]) -> Vec<Day<'_>> {
    let mut days: Vec<Day<'_>> = Vec::new();
    for (day, what, words) in log {
        let entry = (what.as_str(), words.as_str());
        match days.last_mut() {
            Some(last) if last.day == day => last.entries.push(entry),
            _ => days.push(Day {
                day,
                entries: vec![entry],
            }),
        }
    }
    days
}

fn files(files: &[(String, u64, String)]) -> Vec<FileLine> {
    let lines = files.iter().map(|(path, bytes, sha256)| FileLine {
        path: path.clone(),
        role: String::new(),
        size: words::size(*bytes),
        sha256: sha256.clone(),
    });
    lines.collect()
}
