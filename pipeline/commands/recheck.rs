//! `recheck`: every file and every bit of a sealed job; with --rerun also whether it gives the same results again.

use std::path::Path;

use archive::Fingerprint;
use archive::bag::{Checked, Fault, FaultKind, check};
use archive::name::shown;
use archive::packed::unpack;
use serde_json::Value;

use crate::batch;
use crate::job::{Comparison, Job};
use crate::made_from::PROGRAM;
use crate::progress::Progress;
use crate::put_in_place::MARK;
use crate::received::Received;
use crate::sealed;
use crate::trouble::{DONE, NOT_ALL_WITHIN, Trouble};

/// The manifest whose number is told when a bag is sealed.
const MANIFEST: &str = "manifest-sha256.txt";
/// Most differences of one comparison that are listed.
const MOST_LISTED: usize = 8;

/// Checks a bag; 0 where it is whole, 1 where it is not.
pub fn recheck(bag: &Path, rerun: bool, progress: &Progress) -> Result<u8, Trouble> {
    let step = progress.step("recheck");
    step.doing("reading every file");
    let tree = sealed::open(bag)?;
    let checked = check(tree.as_ref())?;
    drop(step);
    say(bag, &checked, progress);
    if !checked.faults.is_empty() {
        return Ok(NOT_ALL_WITHIN);
    }
    if tree.entries().iter().any(|entry| entry.path == MANIFEST) {
        let print = Fingerprint::through(&mut *tree.open(MANIFEST)?, &mut std::io::sink())
            .map_err(|e| Trouble::system("reading the manifest", &e))?;
        progress.result(&format!("its manifest has SHA-256\n  {}", print.sha256));
    }
    if !rerun {
        return Ok(DONE);
    }
    let elsewhere = tempfile::tempdir().map_err(|e| Trouble::system("making a folder to run it in", &e))?;
    unpack(tree.as_ref(), elsewhere.path())?;
    run_again(&elsewhere.path().join("data"), progress)
}

/// Says what was found: each fault on a line of its own.
pub fn say(bag: &Path, checked: &Checked, progress: &Progress) {
    for fault in &checked.faults {
        progress.result(&format!(
            "  {:<10} {}: {}",
            fault.kind.word(),
            shown(&fault.path),
            fault.words
        ));
    }
    for note in &checked.notes {
        progress.note(&format!("  {note}"));
    }
    let algorithms: Vec<&str> = checked.algorithms.iter().map(|a| a.word()).collect();
    let unread = |fault: &Fault| fault.kind == FaultKind::NotRead;
    let found = if checked.faults.is_empty() {
        "every file is there, and every bit is as it was sealed".to_string()
    } else if checked.faults.iter().all(unread) {
        "it could not be checked".to_string()
    } else {
        let s = if checked.faults.len() == 1 { "" } else { "s" };
        format!(
            "{} fault{s}; the bag is not what was sealed",
            checked.faults.len()
        )
    };
    let by = if algorithms.is_empty() {
        String::new()
    } else {
        format!(", by {}", algorithms.join(" and "))
    };
    progress.result(&format!(
        "{}: {} files, {} bytes{by}; {found}",
        bag.display(),
        checked.files,
        checked.bytes
    ));
}

/// Runs the unsealed job again and lays what comes out beside what was sealed.
fn run_again(folder: &Path, progress: &Progress) -> Result<u8, Trouble> {
    let job = Job::read(folder)?;
    let elsewhere = tempfile::tempdir().map_err(|e| Trouble::system("making a folder to run it in", &e))?;
    let again = Job {
        results_in: elsewhere.path().to_path_buf(),
        ..job.clone()
    };
    let mut received = Received::of(&job.folder)?;
    let chosen: Vec<&Comparison> = again.comparisons.iter().collect();
    let items = batch::look(&again, &chosen, true, &received);
    let mut alike = 0;
    let mut differs = false;
    batch::run(
        &again,
        items,
        None,
        &mut received,
        progress,
        |comparison, outcome| {
            let was = job.results(&comparison.name);
            match outcome {
                Err(_) if !was.join(MARK).exists() => {
                    progress.result(&format!(
                        "  {}: could not be done, and could not then",
                        comparison.name
                    ));
                }
                Err(trouble) => {
                    differs = true;
                    progress.result(&format!(
                        "  {}: could not be done again: {trouble}",
                        comparison.name
                    ));
                }
                Ok(_) => match difference(&was, &again.results(&comparison.name)) {
                    None => alike += 1,
                    Some(words) => {
                        differs = true;
                        progress.result(&format!("  {}: {words}", comparison.name));
                    }
                },
            }
        },
    )?;
    progress.result(&format!(
        "run again by {PROGRAM}: {alike} of {} comparisons gave the same bytes",
        chosen.len()
    ));
    Ok(if differs { NOT_ALL_WITHIN } else { DONE })
}

/// What differs between two folders of results; nothing where all files are the same bytes.
fn difference(was: &Path, is: &Path) -> Option<String> {
    let Ok(old) = std::fs::read(was.join(MARK)) else {
        return Some("was not done when the job was sealed".to_string());
    };
    let new = std::fs::read(is.join(MARK)).unwrap_or_default();
    if old != new {
        let [old, new] = [&old, &new].map(|json| serde_json::from_slice::<Value>(json).unwrap_or_default());
        let mut changes = Vec::new();
        changed("", &old, &new, &mut changes);
        let more = changes.len().saturating_sub(MOST_LISTED);
        changes.truncate(MOST_LISTED);
        let more = if more == 0 {
            String::new()
        } else {
            format!("; and {more} more")
        };
        let version = match old["program"].as_str() {
            Some(was) if was != PROGRAM => format!("was made by {was}, and by {PROGRAM} "),
            _ => String::new(),
        };
        return Some(format!(
            "{version}comes out otherwise: {}{more}",
            changes.join("; ")
        ));
    }
    let files = new_files(&new);
    let other: Vec<String> = files
        .into_iter()
        .filter(|file| std::fs::read(was.join(file)).ok() != std::fs::read(is.join(file)).ok())
        .collect();
    (!other.is_empty()).then(|| {
        format!(
            "the figures are the same, but not the bytes of {}",
            other.join(", ")
        )
    })
}

fn new_files(json: &[u8]) -> Vec<String> {
    serde_json::from_slice::<Value>(json)
        .ok()
        .and_then(|record| serde_json::from_value(record["files"].clone()).ok())
        .unwrap_or_default()
}

/// Every value that differs, by its place.
fn changed(at: &str, old: &Value, new: &Value, found: &mut Vec<String>) {
    match (old, new) {
        (Value::Object(old), Value::Object(new)) => {
            let mut keys: Vec<&String> = old.keys().chain(new.keys()).collect();
            keys.sort();
            keys.dedup();
            for key in keys {
                let nothing = Value::Null;
                let (a, b) = (old.get(key).unwrap_or(&nothing), new.get(key).unwrap_or(&nothing));
                changed(&format!("{at}/{key}"), a, b, found);
            }
        }
        (Value::Array(old), Value::Array(new)) if old.len() == new.len() => {
            for (i, (a, b)) in old.iter().zip(new).enumerate() {
                changed(&format!("{at}/{i}"), a, b, found);
            }
        }
        _ if old != new => {
            let brief = |value: &Value| {
                crate::stages::tabulate::fit(&value.to_string(), 40)
                    .trim_end()
                    .to_string()
            };
            found.push(format!(
                "{} was {}, is {}",
                at.trim_start_matches('/'),
                brief(old),
                brief(new)
            ));
        }
        _ => {}
    }
}
