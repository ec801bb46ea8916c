//! Elements of least squares through points: circle and ellipse of the plane, sphere and cylinder of space.
//!
//! Each is the one whose orthogonal distances have the least sum of squares, in the unit of its points. What the points do
//! not carry is `None`: a circle of points on a line, a cylinder of a flat sheet, any element a thousand times as large as
//! the points reach.

pub mod circle;
pub mod cylinder;
pub mod ellipse;
mod pencil;
mod settle;
pub mod slot;
pub mod sphere;
