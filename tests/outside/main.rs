//! The program held against published figures, open data and reference libraries; the data lies outside the project.
//!
//! `WITNESSMARK_CHECKS=<folder of the data> cargo test --test outside`. Where the data or a judge is missing the check that
//! wants it fails: nothing is skipped in silence. Each check names its source. `.ci/run` sets up what is wanted.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "../shop.rs"]
mod shop;

mod bags;
mod browser;
mod convergence;
mod data;
mod dragon;
mod elements;
mod exact_motion;
mod fits;
mod formats_seen;
mod judges;
mod minimum_zone;
mod read_back;
mod scans;
mod slippage;
mod small_job;
mod spread;
mod takes;
mod uncertainty;
mod univariate;
