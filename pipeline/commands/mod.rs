//! One file a command: what it does, in the order in which it does it.

pub mod compare;
pub mod demo;
pub mod join;
pub mod log;
pub mod look;
pub mod page;
pub mod recheck;
pub mod run;
pub mod seal;
pub mod start;
pub mod take;
pub mod tape;
pub mod trips;
pub mod unseal;

use compare_crate::Verdict;

use record::Record;

use crate::batch::Done;
use crate::job::Job;
use crate::put_in_place::MARK;
use crate::trouble::{COULD_NOT, DONE, NOT_ALL_WITHIN, Trouble};

use ::compare as compare_crate;

/// The exit code of a comparison.
pub fn code_of(outcome: &Result<Done, Trouble>) -> u8 {
    match outcome {
        Ok(done) => code(&done.record),
        Err(_) => COULD_NOT,
    }
}

/// The exit code of what was found.
pub fn code(record: &Record) -> u8 {
    if record.verdict == Verdict::Within.word() {
        DONE
    } else {
        NOT_ALL_WITHIN
    }
}

/// The result.json of a comparison, read back.
///
/// # Errors
/// Where it is not there, or another version wrote it otherwise.
pub fn record_of(job: &Job, comparison: &str) -> Result<Record, Trouble> {
    let path = job.results(comparison).join(MARK);
    let json = std::fs::read(&path).map_err(|e| Trouble::from(formats::FormatError::io(&path, &e)))?;
    Record::from_json(&json).map_err(|e| {
        Trouble::new(format!(
            "{}: it was written otherwise by another version (\"{e}\"); run the job again",
            path.display()
        ))
    })
}
