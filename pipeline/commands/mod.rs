//! One file a command: what it does, in the order in which it does it.

pub mod compare;
pub mod demo;
pub mod join;
pub mod look;
pub mod run;
pub mod start;
pub mod tape;

use compare_crate::Verdict;

use serde_json::Value;

use crate::job::Job;
use crate::put_in_place::MARK;
use crate::trouble::{DONE, NOT_ALL_WITHIN, Trouble};

use ::compare as compare_crate;

/// The exit code of a comparison that was done.
pub fn code(verdict: Verdict) -> u8 {
    if verdict == Verdict::Within {
        DONE
    } else {
        NOT_ALL_WITHIN
    }
}

/// The result.json of a comparison, read back.
///
/// # Errors
/// Where it is not there, or is no JSON.
pub fn record_of(job: &Job, comparison: &str) -> Result<Value, Trouble> {
    let path = job.results(comparison).join(MARK);
    let text =
        std::fs::read_to_string(&path).map_err(|e| Trouble::from(formats::FormatError::io(&path, &e)))?;
    serde_json::from_str(&text).map_err(|e| Trouble::system("reading result.json", &e))
}
