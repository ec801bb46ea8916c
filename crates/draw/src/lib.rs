//! Pictures: the reference drawn with depth and soft light, coloured by how far the measured metal is off.

pub mod arrows;
pub mod canvas;
pub mod colour;
pub mod contact;
pub mod ground;
pub mod label;
pub mod legend;
pub mod lines;
pub mod magnified;
pub mod page;
pub mod picture;
pub mod section;
pub mod sight;
pub mod splat;
pub mod trips;
pub mod view;

pub use arrows::Arrow;
pub use contact::contact_sheet;
pub use lines::{Line, LineKind};
pub use picture::{Mark, Picture, Tone};
pub use section::{SectionPicture, usual_magnification};
pub use view::View;
