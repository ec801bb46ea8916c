//! How well holes, trim edges and beads are read, over sizes, spacings and noise: tables of bias and spread.
//!
//! `cargo bench -p features --bench accuracy -- [holes|edges|beads]` prints the tables that DEVELOPERS.md keeps.

// A program for a developer: it prints, and what can't be made here is a fault of the program.
#![allow(clippy::expect_used, clippy::unwrap_used, clippy::print_stdout)]

mod beads;
mod edges;
mod holes;

fn main() {
    let wanted: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with("--"))
        .collect();
    let asked = |name: &str| wanted.is_empty() || wanted.iter().any(|w| w == name);
    if asked("holes") {
        holes::table();
    }
    if asked("edges") {
        edges::table();
    }
    if asked("beads") {
        beads::table();
    }
}
