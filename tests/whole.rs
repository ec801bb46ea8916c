//! The one test program: runs the program as a user does and reads what came out.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod asked;
mod bad_input;
mod compared;
mod datum_holes;
mod demo;
mod earlier_results;
mod full_disk;
mod job_life;
mod joined;
mod kept_moved;
mod knocked_stop;
mod layout;
mod not_held;
mod other_side;
mod pages;
mod sealed;
mod settings;
mod shell;
mod shop;
mod thin_metal;
mod trips;
mod way_round;
mod wrong_unit;
