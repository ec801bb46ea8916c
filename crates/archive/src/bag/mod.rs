//! Bags: files beside the values that they are known again by, BagIt 1.0 (RFC 8493) and its drafts from 0.93 on.

mod check;
mod contents;
mod declaration;
mod fault;
mod fetch;
mod hashed;
mod info;
mod lines;
mod manifest;
mod path;
mod payload;
mod settle;
mod tags;
mod write;

#[cfg(test)]
mod bad;
#[cfg(test)]
mod flips;
#[cfg(test)]
mod good;
#[cfg(test)]
mod made;

pub use check::{Checked, check};
pub use declaration::Version;
pub use fault::{Fault, FaultKind};
pub use write::{Sealed, seal};
