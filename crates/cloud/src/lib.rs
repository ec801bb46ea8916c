//! Points and their units, frames, motions and neighbours: what every other part of witnessmark computes with.
//!
//! Everything in here is in millimetres and radians, in `f64`; units exist only at the door ([`mod@unit`]).

pub mod bisquare;
pub mod bounds;
pub mod cell_list;
pub mod chance;
pub mod curve;
pub mod doubled;
pub mod drift;
pub mod eigen;
pub mod frame;
pub mod gauge;
pub mod held;
#[cfg(test)]
mod made;
pub mod mesh;
pub mod mirror;
pub mod motion;
pub mod named;
pub mod near;
pub mod normals;
pub mod orient;
pub mod points;
pub mod statistics;
pub mod stray;
pub mod surface;
pub mod survey;
pub mod thin;
pub mod unit;
pub mod warning;

pub use bounds::Bounds;
pub use cell_list::CellList;
pub use frame::{Body, Frame, Scan};
pub use mirror::Mirror;
pub use motion::Motion;
pub use named::{Datum, NamedPoint};
pub use near::Near;
pub use points::Cloud;
pub use surface::Surface;
pub use unit::{Length, Unit};
pub use warning::Warning;

/// A point in millimetres.
pub type Point = nalgebra::Point3<f64>;
/// A direction or a displacement in millimetres.
pub type Vector = nalgebra::Vector3<f64>;
/// A 3 × 3 matrix.
pub type Matrix3 = nalgebra::Matrix3<f64>;
