//! What labels have taken of a sheet, so that what is drawn after them keeps clear of it.

use crate::ground::Area;
use crate::label::{Leader, inside, overlap, passes_through};
use crate::page;

/// What labels have taken of a sheet.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Taken {
    /// Labels, and boxes that were kept clear.
    pub(crate) boxes: Vec<Area>,
    /// The squares around small rings.
    pub(crate) rings: Vec<Area>,
    /// From rings to labels.
    pub(crate) leaders: Vec<Leader>,
}

impl Taken {
    /// Whether something lies on a box.
    pub(crate) fn hides(&self, area: &Area) -> bool {
        self.boxes.iter().any(|taken| overlap(taken, area))
    }

    /// Whether a box has nothing on it, nor a ring or a leader, and lies inside the window.
    pub(crate) fn is_free(&self, area: &Area) -> bool {
        inside(area, &page::area())
            && !self.hides(area)
            && !self.rings.iter().any(|ring| overlap(ring, area))
            && !self.leaders.iter().any(|leader| passes_through(leader, area))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_is_free_inside_the_window_and_off_labels_rings_and_leaders() {
        let taken = Taken {
            boxes: vec![[100.0, 200.0, 80.0, 60.0]],
            rings: vec![[400.0, 400.0, 32.0, 32.0]],
            leaders: vec![[[180.0, 230.0], [400.0, 410.0]]],
        };
        let small = |left: f32, top: f32| [left, top, 20.0, 20.0];
        assert!(taken.is_free(&small(700.0, 700.0)));
        assert!(!taken.is_free(&small(1580.0, 700.0)), "half outside");
        assert!(!taken.is_free(&small(90.0, 190.0)) && taken.hides(&small(90.0, 190.0)));
        assert!(!taken.is_free(&small(410.0, 410.0)) && !taken.hides(&small(410.0, 410.0)));
        assert!(!taken.is_free(&small(280.0, 310.0)), "on the leader");
    }
}
