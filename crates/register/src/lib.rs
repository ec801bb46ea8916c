//! Setting one set on another: the rigid motion reference ← measured, what holds it, and how sure it is.

pub mod any_pose;
pub mod fit;
pub mod icp;
pub mod named;
pub mod trouble;

pub use icp::{Fixed, Settled};
pub use trouble::RegisterError;
