//! `log`: reads a job's log, or writes into it what was done to the part.

use archive::log::{Entry, What};

use crate::cli::Log;
use crate::job::file::folder_of;
use crate::progress::Progress;
use crate::received::{LOG, Received, of_now, short};
use crate::stages::tabulate::fit;
use crate::trouble::{DONE, Trouble};

/// Reads or adds to the log.
pub fn log(asked: &Log, progress: &Progress) -> Result<u8, Trouble> {
    let folder = folder_of(&asked.job)?;
    let mut received = Received::told(&folder, progress)?;
    if let Some(did) = &asked.did {
        let did = did.split_whitespace().collect::<Vec<_>>().join(" ");
        if did.is_empty() {
            return Err(Trouble::new("log: --did says nothing; write what was done"));
        }
        let mut entry = Entry {
            words: did,
            ..of_now(What::Operation)
        };
        if let Some(day) = &asked.day {
            refuse_to_come(day, &entry.day)?;
            entry.day.clone_from(day);
            // Of another day the time is not known.
            entry.time.clear();
        }
        received.add(entry)?;
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

/// What was done was done by today; days are written so that a later one also stands later among words.
fn refuse_to_come(day: &str, today: &str) -> Result<(), Trouble> {
    if day <= today {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "log: --day {day} is still to come, today being {today}; write down what was done, when it is done (or set the clock of this machine)"
    )))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_that_is_still_to_come_is_refused() {
        let today = "2026-11-26";
        for day in ["2026-11-26", "2026-11-25", "2026-09-30", "1999-12-31"] {
            assert_eq!(refuse_to_come(day, today), Ok(()), "{day}");
        }
        for day in ["2026-11-27", "2026-12-01", "2027-01-01"] {
            assert!(refuse_to_come(day, today).is_err(), "{day}");
        }
    }
}
