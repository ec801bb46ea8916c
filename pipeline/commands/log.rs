//! `log`: reads a job's log, or writes into it what was done to the part.

use archive::log::{Entry, What};

use crate::cli::Log;
use crate::clock;
use crate::job::file::folder_of;
use crate::progress::Progress;
use crate::received::{LOG, Received, short};
use crate::stages::tabulate::fit;
use crate::trouble::{DONE, Trouble};

/// Reads or adds to the log.
pub fn log(asked: &Log, progress: &Progress) -> Result<u8, Trouble> {
    let folder = folder_of(&asked.job)?;
    let mut received = Received::of(&folder)?;
    for words in &received.warnings {
        progress.warning(words);
    }
    if let Some(did) = &asked.did {
        let did = did.split_whitespace().collect::<Vec<_>>().join(" ");
        if did.is_empty() {
            return Err(Trouble::new("log: --did says nothing; write what was done"));
        }
        let now = clock::now();
        received.add(Entry {
            day: asked.day.clone().unwrap_or(now.day),
            // Of another day the time is not known.
            time: if asked.day.is_some() {
                String::new()
            } else {
                now.time
            },
            what: What::Operation,
            words: did,
            file: String::new(),
            bytes: None,
            sha256: String::new(),
        })?;
        progress.result(&format!("{}: noted", folder.join(LOG).display()));
        return Ok(DONE);
    }
    // Operations may be written down days later: the log is read by day.
    let mut entries: Vec<&Entry> = received.entries.iter().collect();
    entries.sort_by(|a, b| a.day.cmp(&b.day));
    for entry in entries {
        let file = if entry.file.is_empty() {
            String::new()
        } else {
            format!("  {} {}", entry.file, short(&entry.sha256))
        };
        progress.result(
            format!(
                "{} {} {} {}{file}",
                fit(&entry.day, 10),
                fit(&entry.time, 5),
                fit(entry.what.word(), 10),
                entry.words
            )
            .trim_end(),
        );
    }
    Ok(DONE)
}
