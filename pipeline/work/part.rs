//! What is known of a part when the list of what there is to do is made.

use cloud::{Body, Surface};

use super::List;
use crate::stages::compare::Compared;
use crate::stages::features::Found;

/// What was found of a part, and the reference that it was held against.
#[derive(Clone, Copy)]
pub struct Part<'a> {
    /// The reference.
    pub reference: &'a Surface<Body>,
    /// How far it is off.
    pub compared: &'a Compared,
    /// What was found besides.
    pub found: &'a Found,
}

impl<'a> List<'a> {
    /// What the list is of.
    pub(super) fn part(&self) -> Part<'a> {
        let shown = &self.shown;
        Part {
            reference: shown.reference,
            compared: shown.compared,
            found: shown.found,
        }
    }
}
