//! Setting one set on another: the rigid motion reference ← measured, what holds it, and how sure it is.

pub mod any_pose;
pub mod fit;
pub mod held;
pub mod icp;
pub mod named;
pub mod trouble;

pub use held::{Held, Motions};
pub use icp::{Fixed, Settled};
pub use trouble::RegisterError;

use nalgebra::{Matrix6, Vector6};

/// A symmetric 6 × 6 matrix over (rotation about the centre, translation).
pub type Matrix6x6 = Matrix6<f64>;
/// A small motion: rotation vector (rad), then translation (mm).
pub type SmallMotion = Vector6<f64>;
