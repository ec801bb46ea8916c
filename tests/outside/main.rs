//! The program held against published figures, open data and reference libraries; the data lies outside the project.
//!
//! `WITNESSMARK_CHECKS=<folder of the data> cargo test --test outside`. Where the data is missing every check fails:
//! nothing is skipped in silence. Each check names its source.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "../shop.rs"]
mod shop;

mod convergence;
mod data;
mod dragon;
mod elements;
mod exact_motion;
mod fits;
mod formats_seen;
mod minimum_zone;
mod scans;
mod slippage;
mod takes;
mod uncertainty;
mod univariate;
