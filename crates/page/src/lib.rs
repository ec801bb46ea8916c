//! Pages that he prints and sends: one self-contained page with a view that turns, a PDF, a spreadsheet, a solid view for any
//! viewer. Everything is made from the record and the pictures of a comparison; nothing is computed anew.

pub mod given;
pub mod glb;
pub mod html;
#[cfg(test)]
mod made;
pub mod pdf;
pub mod scene;
pub mod tables;
pub mod thin;
pub mod view;
pub mod words;
pub mod xlsx;

pub use given::{About, CAUTIONS, Given, GivenJob, GivenTrips, Picture};

/// Why a page could not be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct PageError(pub String);
