//! The demo: an invented tub and an invented boot side, scanned by an invented scanner, with faults that are known.
//!
//! Nothing in here is measured from a real thing. Lengths inside the shapes are inches, since the drawing is in inches;
//! what is written out is in the unit that each file declares.

pub mod boot_side;
pub mod job;
pub mod scan;
pub mod sheet;
pub mod tub;

pub use job::{Planted, write};
