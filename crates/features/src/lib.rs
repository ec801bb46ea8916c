//! What a deviation means at the bench: how a region has moved and what is left, folds, edges, holes, beads, bars, the shell.
//!
//! Each answer is in the body's frame, with its ±; a direction that the shape does not show is said to be unknown and is
//! never zeroed in silence.

pub mod bar;
pub mod bead;
pub mod cut;
pub mod edge;
pub mod elements;
pub mod flange;
pub mod fold;
mod gap;
pub mod holes;
pub mod house;
#[cfg(test)]
mod made;
pub mod minimum_zone;
mod pairing;
pub mod recess;
pub mod rigid_part;
pub mod shape;
pub mod shell;
pub mod shift;
pub mod tape;
pub mod trips;
pub mod wall_profile;
pub mod words;
