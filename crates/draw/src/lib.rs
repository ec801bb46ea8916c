//! Pictures: the reference drawn with depth and soft light, coloured by how far the measured metal is off.

pub mod again;
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
pub mod pair;
pub mod picture;
pub mod places;
pub mod section;
pub mod sight;
pub mod sign;
pub mod splat;
pub mod taken;
pub mod trips;
pub mod view;
pub mod wrapped;

pub use again::Again;
pub use arrows::Arrow;
pub use contact::contact_sheets;
pub use lines::{Line, LineKind};
pub use pair::PairPicture;
pub use picture::{Mark, Picture, Tone};
pub use places::NamedPlace;
pub use section::{SectionPicture, usual_magnification};
pub use view::View;
