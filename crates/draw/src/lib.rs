//! Pictures: the reference drawn with depth and soft light, coloured by how far the measured metal is off.

pub mod canvas;
pub mod colour;
pub mod label;
pub mod legend;
pub mod picture;
pub mod splat;
pub mod view;

pub use picture::{Mark, Picture, Tone};
pub use view::View;
