//! `run`: every comparison of a job; one that can't be done does not stop the others.

use std::path::Path;
use std::sync::Mutex;

use crate::commands::code;
use crate::job::{Comparison, Job};
use crate::progress::Progress;
use crate::stages::{self, Outcome};
use crate::trouble::{COULD_NOT, DONE, Trouble};

/// Memory that a comparison takes for each byte of its files, at most, from measurements.
const BYTES_PER_BYTE: u64 = 14;
/// Memory that is assumed where the system does not say.
const USUAL_MEMORY: u64 = 4 << 30;

/// Runs a job.
pub fn run(path: &Path, only: Option<&str>, timings: bool, progress: &Progress) -> Result<u8, Trouble> {
    let job = Job::read(path)?;
    let chosen: Vec<&Comparison> = job
        .comparisons
        .iter()
        .filter(|c| only.is_none_or(|o| o == c.name))
        .collect();
    if chosen.is_empty() {
        let names: Vec<&str> = job.comparisons.iter().map(|c| c.name.as_str()).collect();
        return Err(Trouble::new(format!(
            "{}: there is no comparison \"{}\"; it has {}",
            path.display(),
            only.unwrap_or_default(),
            names.join(", ")
        )));
    }
    let outcomes = all(&job, &chosen, progress);
    let mut worst = DONE;
    for (comparison, outcome) in chosen.iter().zip(outcomes) {
        worst = worst.max(say(&job, comparison, &outcome, timings, progress));
    }
    Ok(worst)
}

/// Says what came of a comparison; gives its exit code.
pub fn say(
    job: &Job,
    comparison: &Comparison,
    outcome: &Result<Outcome, Trouble>,
    timings: bool,
    progress: &Progress,
) -> u8 {
    match outcome {
        Ok(outcome) => {
            progress.result(&format!("\n{}", outcome.table));
            progress.result(&format!("  results: {}", job.results(&comparison.name).display()));
            if timings {
                progress.result(&outcome.timings.table());
            }
            code(outcome.verdict)
        }
        Err(trouble) => {
            progress.trouble(&Trouble::new(format!("{}: {trouble}", comparison.name)));
            COULD_NOT
        }
    }
}

/// Runs the comparisons, as many at once as the cores and the memory allow; the outcomes come in the order asked.
pub fn all(job: &Job, chosen: &[&Comparison], progress: &Progress) -> Vec<Result<Outcome, Trouble>> {
    let largest = chosen.iter().map(|c| bytes_of(c)).max().unwrap_or(1).max(1);
    let by_memory = (memory() / 2 / (largest * BYTES_PER_BYTE)).max(1) as usize;
    let workers = by_memory.min(rayon::current_num_threads()).min(chosen.len());
    let next = Mutex::new(0usize);
    let outcomes: Mutex<Vec<Option<Result<Outcome, Trouble>>>> =
        Mutex::new(chosen.iter().map(|_| None).collect());
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let i = {
                        let mut next = next.lock().unwrap_or_else(|e| e.into_inner());
                        let i = *next;
                        *next += 1;
                        i
                    };
                    let Some(comparison) = chosen.get(i) else {
                        break;
                    };
                    let outcome = stages::run(comparison, &job.results(&comparison.name), progress);
                    outcomes.lock().unwrap_or_else(|e| e.into_inner())[i] = Some(outcome);
                }
            });
        }
    });
    outcomes
        .into_inner()
        .unwrap_or_else(|e| e.into_inner())
        .into_iter()
        .map(|o| o.unwrap_or_else(|| Err(Trouble::new("it was not reached"))))
        .collect()
}

fn bytes_of(comparison: &Comparison) -> u64 {
    [&comparison.reference, &comparison.measured]
        .iter()
        .filter_map(|set| std::fs::metadata(&set.path).ok())
        .map(|m| m.len())
        .sum()
}

/// Memory that is free, in bytes, where the system has the usual file for it.
fn memory() -> u64 {
    let free = std::fs::read_to_string("/proc/meminfo").ok().and_then(|text| {
        let line = text.lines().find(|l| l.starts_with("MemAvailable:"))?;
        line.split_whitespace().nth(1)?.parse::<u64>().ok()
    });
    free.map_or(USUAL_MEMORY, |kib| kib * 1024)
}
