//! Setting one set on another: the rigid motion reference ← measured, what holds it, and how sure it is.

pub mod any_pose;
mod cells;
pub mod constellation;
pub mod fit;
pub mod icp;
pub mod leave_one_out;
#[cfg(test)]
mod made;
pub mod named;
pub mod order;
mod partners;
pub mod self_mirror;
pub mod takes;
pub mod trouble;

pub use icp::{Fixed, Settled};
pub use trouble::RegisterError;
