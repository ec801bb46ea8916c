//! One file a command: what it does, in the order in which it does it.

pub mod compare;
pub mod demo;
pub mod join;
pub mod look;
pub mod run;
pub mod start;
pub mod tape;

use compare_crate::Verdict;

use crate::trouble::{DONE, NOT_ALL_WITHIN};

use ::compare as compare_crate;

/// The exit code of a comparison that was done.
pub fn code(verdict: Verdict) -> u8 {
    if verdict == Verdict::Within {
        DONE
    } else {
        NOT_ALL_WITHIN
    }
}
