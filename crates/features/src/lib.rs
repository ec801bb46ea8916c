//! What a deviation means at the bench: how a region has moved and what is left, folds, holes, recesses.
//!
//! Each answer is in the body's frame, with its ±; a direction that the shape does not show is said to be unknown and is
//! never zeroed in silence.

pub mod circle;
pub mod fold;
pub mod holes;
pub mod recess;
pub mod rigid_part;
pub mod shift;
pub mod wall_profile;
pub mod words;
