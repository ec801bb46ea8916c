//! The page of a job: what it is, how every comparison stands, trips, log, files.

use askama::Template;

use super::comparison::against;
use super::leaf;
use super::parts::{self, Shown, Verdict};
use super::{FileLine, Frame, over, written};
use crate::given::{CAUTIONS, Given, GivenJob, Replaced, Standing};
use crate::{PageError, words};

/// A comparison as the job's page shows it.
struct One<'a> {
    name: &'a str,
    link: String,
    verdict: Verdict,
    headline: String,
    /// What is to be done first.
    first: String,
    against: String,
    /// The day on which its set was taken, or nothing.
    day: &'a str,
    /// What has replaced it, or nothing.
    replaced: String,
    /// The first of the whole.
    pictures: Vec<Shown>,
}

struct Trips<'a> {
    lines: &'a [String],
    pictures: Vec<Shown>,
    leaves: String,
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
    /// Those that count now.
    comparisons: Vec<One<'a>>,
    /// Those that a later one has replaced.
    earlier: Vec<One<'a>>,
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
    let all = one_by_one(given)?;
    let shown: usize = all.iter().map(|c| c.pictures.len()).sum();
    let (comparisons, earlier): (Vec<One<'_>>, Vec<One<'_>>) =
        all.into_iter().partition(|one| one.replaced.is_empty());
    let trips = match &given.trips {
        Some(trips) => Some(Trips {
            lines: trips.lines,
            pictures: parts::shown(trips.pictures.iter(), shown + 1)?,
            leaves: leaf::leaves(trips.leaves, shown + 1 + trips.pictures.len())?,
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
        count: count(&comparisons, earlier.len(), given.refused.len()),
        said: parts::said(about),
        comparisons,
        earlier,
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

/// All of them, with their pictures counted on from one to the next: those that count now first.
fn one_by_one<'a>(job: &GivenJob<'a>) -> Result<Vec<One<'a>>, PageError> {
    let (comparisons, standings): (&'a [Given<'a>], &'a [Standing]) = (job.comparisons, job.standings);
    let standing = move |k: usize| standings.get(k);
    let mut order: Vec<usize> = (0..comparisons.len()).collect();
    order.sort_by_key(|&k| standing(k).is_some_and(|s| !s.counts_now()));
    let mut all: Vec<One<'a>> = Vec::with_capacity(order.len());
    for k in order {
        let given = &comparisons[k];
        let record = given.record;
        let shown: usize = all.iter().map(|one| one.pictures.len()).sum();
        let replaced = standing(k).and_then(|s| s.replaced.as_ref());
        all.push(One {
            name: &record.comparison,
            link: format!("../results/{}/page.html", parts::link_step(&record.comparison)),
            verdict: parts::verdict(words::verdict(record)),
            headline: words::summary(record).into_iter().next().unwrap_or_default(),
            first: words::first_to_do(record),
            against: against(record),
            day: standing(k).and_then(|s| s.day.as_deref()).unwrap_or_default(),
            replaced: replaced.map_or(String::new(), Replaced::words),
            pictures: parts::shown(given.pictures.iter().take(1), shown + 1)?,
        });
    }
    Ok(all)
}

/// `10 comparisons: 6 OUT, 3 in, 1 withheld; 1 could not be done`; `7 comparisons count now: 4 OUT, 3 in; 3 are earlier`.
fn count(comparisons: &[One<'_>], earlier: usize, refused: usize) -> String {
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
    let mut words = match (comparisons.len(), earlier) {
        (0, _) => "no comparison was done".to_string(),
        (1, 0) => "1 comparison".to_string(),
        (n, 0) => format!("{n} comparisons"),
        (1, _) => "1 comparison counts now".to_string(),
        (n, _) => format!("{n} comparisons count now"),
    };
    if !parts.is_empty() {
        words.push_str(&format!(": {}", parts.join(", ")));
    }
    match earlier {
        0 => {}
        1 => words.push_str("; 1 is earlier"),
        n => words.push_str(&format!("; {n} are earlier")),
    }
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
