//! How well holes, trim edges and beads are read, over sizes, spacings and noise: tables of bias and spread.
//!
//! `cargo bench -p features --bench accuracy -- [holes|edges|beads]` prints the tables that DEVELOPERS.md keeps.

// A program for a developer: it prints, and what can't be made here is a fault of the program.
#![allow(clippy::expect_used, clippy::unwrap_used, clippy::print_stdout)]

mod beads;
mod edges;
mod holes;

/// The `i`-th of a row of numbers between 0 and 1.
fn uniform(i: u64) -> f64 {
    let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    (x ^ x >> 31) as f64 / u64::MAX as f64
}

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
