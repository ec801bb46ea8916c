//! Where the measured metal lies against the reference: distances, states, regions, figures, verdicts.
//!
//! Always from the reference to the measured set, so that missing metal is missing and not the next part.
//! + is proud (to the outside of the reference), − is shy.

pub mod against_mesh;
pub mod against_points;
pub mod exact;
pub mod extra;
pub mod figures;
#[cfg(test)]
mod made;
pub mod patch;
pub mod region;
pub mod smooth;
pub mod state;
pub mod verdict;

pub use figures::{Figures, Spread};
pub use region::{Outside, Region, Status};
pub use state::{Deviations, State};
pub use verdict::Verdict;
