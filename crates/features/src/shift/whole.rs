//! How a region lies as a whole, in the shop's words: where it has gone, and whether shim alone brings it home.

use cloud::NamedPoint;

use super::{HOME_MM, Spot};
use crate::rigid_part::{Fit, Seen};
use crate::words;

/// Share of the deviation that the move must explain for "all of it" where there is something left to dress.
const SHIM_ONLY: f64 = 0.8;

/// What a region's words are made from.
pub(super) struct Whole<'a> {
    /// The move that it has made.
    pub fit: &'a Fit,
    /// The places of its seating line.
    pub seats: &'a [Seen],
    /// Share of what is off that the move explains.
    pub explained: f64,
    /// What is left without the move.
    pub spots: &'a [Spot],
    /// Whether its shape is surely off: bowed, twisted or curled.
    pub is_bent: bool,
    /// Where its pads are.
    pub pads: &'a [NamedPoint],
    /// ± of the move at its middle, mm.
    pub pm_mm: f64,
    /// How far it may be off, mm.
    pub limit_mm: f64,
}

impl Whole<'_> {
    /// `3/16 high, all of it: shim only`.
    pub(super) fn in_words(&self) -> String {
        let fit = self.fit;
        let place = words::displacement(&fit.translation_mm, HOME_MM.max(self.pm_mm));
        // How far the turn carries the region's far end, beyond what the middle moved.
        let lift_mm = self
            .seats
            .iter()
            .map(|s| fit.rotation.cross(&(s.at - fit.about)).norm())
            .fold(0.0, f64::max);
        let level = lift_mm < HOME_MM;
        let at_pads = self.pads.iter().any(|pad| fit.at(&pad.at_mm).norm() > HOME_MM);
        let moved = place != "home" || !level || at_pads;
        // What is within the limit once the whole is moved is left as it is.
        let stands_off = |spot: &Spot| !moved || spot.mm.abs() > self.limit_mm;
        let dressed = self.is_bent || self.spots.iter().any(stands_off);
        match (moved, dressed) {
            (false, false) => "home".to_string(),
            (false, true) => "dress only: it sits home, its shape is off".to_string(),
            (true, false) if level => format!("{place}, all of it: shim only"),
            (true, false) => format!("{place} in the middle and leaning: shim only"),
            (true, true) if level && self.explained > SHIM_ONLY => {
                format!("{place}, all of it: shim, then dress what is left")
            }
            (true, true) if level => format!("{place} in the middle: shim, then dress what is left"),
            (true, true) => format!("{place} in the middle and leaning: shim, then dress what is left"),
        }
    }
}
