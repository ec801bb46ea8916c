//! `run`: every comparison of a job, or of many jobs; one that can't be done does not stop the others.

use ::page::words;
use archive::lock;
use archive::tree::refuse_led_out;

use crate::batch::{self, Done, Item};
use crate::cli::Run;
use crate::commands::{code, code_of};
use crate::job::file::did_you_mean;
use crate::job::{Comparison, Job};
use crate::progress::Progress;
use crate::received::Received;
use crate::stages::tabulate;
use crate::trouble::{COULD_NOT, DONE, Trouble};

/// Up to so many comparisons each has its table on the screen; of more only a line each.
const MOST_TABLES: usize = 12;

/// Runs jobs one after the other; the worst code counts.
pub fn run(asked: &Run, timings: bool, progress: &Progress) -> Result<u8, Trouble> {
    let mut worst = DONE;
    for path in &asked.jobs {
        match one_job(path, asked, timings, progress) {
            Ok(code) => worst = worst.max(code),
            Err(trouble) if asked.jobs.len() > 1 => {
                progress.trouble(&trouble);
                worst = COULD_NOT;
            }
            Err(trouble) => return Err(trouble),
        }
    }
    Ok(worst)
}

fn one_job(path: &std::path::Path, asked: &Run, timings: bool, progress: &Progress) -> Result<u8, Trouble> {
    let job = Job::read(path)?;
    let chosen = chosen(&job, asked.only.as_deref())?;
    for comparison in &chosen {
        refuse_led_out(&job.folder, &job.results(&comparison.name))?;
    }
    let mut received = Received::told(&job.folder, progress)?;
    if asked.plan {
        let items = batch::look(&job, &chosen, asked.again, &received);
        say_plan(&job, &items, progress);
        return Ok(items.iter().map(foreseen).max().unwrap_or(DONE));
    }
    // A scheduler runs the comparisons of one job side by side, each with --only.
    let _lock = if asked.only.is_some() {
        lock::shared(&job.folder, "run it")?
    } else {
        lock::exclusive(&job.folder, "run it")?
    };
    let items = batch::look(&job, &chosen, asked.again, &received);
    let mut lines = Vec::new();
    let mut worst = DONE;
    let tables = chosen.len() <= MOST_TABLES;
    batch::run(
        &job,
        items,
        asked.memory,
        &mut received,
        progress,
        |comparison, outcome| {
            worst = worst.max(code_of(outcome));
            lines.push(line(comparison, outcome));
            say(&job, comparison, outcome, tables, timings, progress);
        },
    )?;
    if chosen.len() > 1 {
        progress.result(&format!(
            "\n{}: {} comparisons\n{}",
            job.name,
            chosen.len(),
            lines.join("\n")
        ));
    }
    Ok(worst)
}

fn chosen<'a>(job: &'a Job, only: Option<&str>) -> Result<Vec<&'a Comparison>, Trouble> {
    let chosen: Vec<&Comparison> = job
        .comparisons
        .iter()
        .filter(|c| only.is_none_or(|o| o == c.name))
        .collect();
    if chosen.is_empty() {
        let names: Vec<&str> = job.comparisons.iter().map(|c| c.name.as_str()).collect();
        let asked = only.unwrap_or_default();
        return Err(Trouble::new(format!(
            "{}: there is no comparison \"{asked}\"{}; it has {}",
            job.folder.display(),
            did_you_mean(asked, names.iter().copied()),
            names.join(", ")
        )));
    }
    Ok(chosen)
}

/// The code that a comparison will end with, as far as it is known before it is done.
fn foreseen(item: &Item<'_>) -> u8 {
    match (&item.made_from, &item.good) {
        (Err(_), _) => COULD_NOT,
        (Ok(_), Some(record)) => code(record),
        (Ok(_), None) => DONE,
    }
}

fn say_plan(job: &Job, items: &[Item<'_>], progress: &Progress) {
    progress.result(&format!("{}:", job.name));
    for item in items {
        let words = match (&item.made_from, &item.stale) {
            (Err(trouble), _) => format!("can't be done: {trouble}"),
            (Ok(_), Some(stale)) => format!("to do: {}", stale.words()),
            (Ok(_), None) => "nothing to do".to_string(),
        };
        progress.result(&format!("  {:<28} {words}", item.comparison.name));
    }
}

/// Says what came of a comparison.
pub fn say(
    job: &Job,
    comparison: &Comparison,
    outcome: &Result<Done, Trouble>,
    table: bool,
    timings: bool,
    progress: &Progress,
) {
    match outcome {
        Ok(done) => {
            if table {
                progress.result(&format!("\n{}", tabulate::table(&done.record)));
                let results = job.results(&comparison.name);
                let unchanged = if done.timings.is_none() {
                    " (unchanged)"
                } else {
                    ""
                };
                progress.result(&format!("  results: {}{unchanged}", results.display()));
            }
            if let Some(timings) = done.timings.as_ref().filter(|_| timings) {
                progress.result(&timings.table());
            }
        }
        Err(trouble) => progress.trouble(&Trouble::new(format!("{}: {trouble}", comparison.name))),
    }
}

/// One line of the summary: what, how it stands, what is to be done first.
fn line(comparison: &Comparison, outcome: &Result<Done, Trouble>) -> String {
    let (verdict, words) = match outcome {
        Ok(done) => (words::verdict(&done.record), words::first_to_do(&done.record)),
        Err(_) => ("could not be done", "see above".to_string()),
    };
    let unchanged = match outcome {
        Ok(done) if done.timings.is_none() => "unchanged",
        _ => "",
    };
    format!(
        "  {} {verdict:<17} {unchanged:<9} {}",
        tabulate::fit(&comparison.name, 24),
        tabulate::fit(&words, 46).trim_end()
    )
}
