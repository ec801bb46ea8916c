//! The demo: an invented tub, boot side, tunnel and floor pan, scanned by an invented scanner, with faults that are known.
//!
//! Nothing in here is measured from a real thing. Lengths inside the shapes are inches, since the drawing is in inches;
//! what is written out is in the unit that each file declares, or in none where that is the fault.

pub mod boot_side;
pub mod job;
pub mod pan;
pub mod planted;
pub mod scan;
pub mod sheet;
pub mod tub;
pub mod tunnel;

pub use job::write;
pub use planted::{
    Counted, EXPECTED_REFUSALS, EXPECTED_TRIPS, EXPECTED_WARNINGS, HANDED_OVER, PLANTED, Planted,
};
