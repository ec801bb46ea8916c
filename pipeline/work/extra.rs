//! Metal that the reference does not have: only he who stands before it knows whether it belongs there.

use super::{List, Who};

impl List<'_> {
    /// What is to be looked at; against a mirror image it is put on record.
    pub(super) fn extra(&mut self) {
        for piece in &self.shown.found.extra {
            let figure = format!("extra/{}", piece.name);
            if self.shown.comparison.against_image() {
                let words =
                    piece
                        .words
                        .replacen("the reference does not have", "the other side does not have", 1);
                self.add(Who::Record, format!("{}: {words}: as found", piece.name), figure);
            } else {
                self.shop(format!("{}: look at it: {}", piece.name, piece.words), figure);
            }
        }
    }
}
