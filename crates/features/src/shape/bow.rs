//! A panel that is crowned or hollow: what that does to its places, which spots of it are no dents of their own, and what is done.

use cloud::{Point, Vector};

use super::{Bend, FACING, Terms, terms};
use crate::shift::HOME_MM;

/// A place lies on the panel no farther from its middle than this many times half of its extent.
const ON_IT: f64 = 1.1;

/// A bow, along or across or both, that is surely off.
#[derive(Debug, Clone, PartialEq)]
pub struct Bowed {
    /// The way the panel looks, unit.
    pub(super) facing: Vector,
    /// Unit directions along and across it.
    pub(super) axes: [Vector; 2],
    /// Its middle along each, mm.
    pub(super) middle_mm: [f64; 2],
    /// Half of its extent along each, mm.
    pub(super) half_mm: [f64; 2],
    /// All of its shape, mm: a panel that is held at one end alone lies off at the other by far more than its crown.
    pub(super) fitted: Terms,
    /// How far it is bowed along and across.
    pub(super) bends: [Bend; 2],
    /// `crowned 1/8 along its length`.
    pub(super) words: String,
}

impl Bowed {
    /// How far its shape makes a place stand proud, mm; `None` off the panel.
    pub fn at(&self, place: &Point) -> Option<f64> {
        let [q, w] = [0, 1].map(|k| (place.coords.dot(&self.axes[k]) - self.middle_mm[k]) / self.half_mm[k]);
        (q.abs() <= ON_IT && w.abs() <= ON_IT).then(|| terms(q, w).dot(&self.fitted))
    }

    /// Whether a spot of this height, on metal that looks along `normal`, is of the shape: without that it is home, within the ±.
    pub fn explains(&self, spot_mm: f64, at: &Point, normal: &Vector) -> bool {
        let faces = normal.dot(&self.facing);
        let pm_mm = self.bends.iter().map(|bend| bend.pm_mm).fold(HOME_MM, f64::max);
        let left_mm = self.at(at).map(|mm| (spot_mm - mm * faces).abs());
        faces > FACING && left_mm.is_some_and(|left_mm| left_mm <= pm_mm)
    }

    /// How far it is bowed, the farther way, mm.
    pub fn far_mm(&self) -> f64 {
        self.bends.iter().map(|bend| bend.mm.abs()).fold(0.0, f64::max)
    }

    /// `crowned 1/8 along its length`.
    pub fn words(&self) -> &str {
        &self.words
    }

    /// `crowned 1/8 along its length: sprung, or stretched metal to shrink; its edges and flanges come with it`; only he who has
    /// his hand on it knows.
    pub fn undone(&self) -> String {
        let [along, across] = self.bends;
        let by_length = along.mm.abs() >= across.mm.abs();
        let farther = if by_length { along } else { across };
        let looks_like = match farther.mm > 0.0 {
            true => "sprung, or stretched metal to shrink",
            false => "sprung, or metal to stretch",
        };
        format!(
            "{}: {looks_like}; its edges and flanges come with it, measure again before they are touched",
            self.words
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A skin 1000 × 600 that is crowned by 3 along its length and home at its front edge, so that its rear one lies off by 12.
    fn skin() -> Bowed {
        let bend = |mm: f64| Bend { mm, pm_mm: 0.1 };
        Bowed {
            facing: Vector::z(),
            axes: [Vector::x(), Vector::y()],
            middle_mm: [500.0, 300.0],
            half_mm: [500.0, 300.0],
            // −3 (1 + q)²
            fitted: Terms::from([-3.0, -6.0, 0.0, -3.0, 0.0, 0.0, 0.0]),
            bends: [bend(3.0), bend(0.0)],
            words: "crowned 1/8 along its length".to_string(),
        }
    }

    #[test]
    fn the_end_that_a_crown_carries_off_is_no_hollow_and_a_dent_is_one() {
        let (skin, up) = (skin(), Vector::z());
        let at = |x: f64| Point::new(x, 300.0, 0.0);
        assert!((skin.at(&at(1000.0)).unwrap() + 12.0).abs() < 1e-9);
        assert!(skin.explains(-11.6, &at(990.0), &up));
        assert!(!skin.explains(-15.0, &at(990.0), &up));
        // At home a dent is a dent; a flange looks another way, and what lies beyond is other metal.
        assert!(!skin.explains(-2.0, &at(50.0), &up));
        assert!(!skin.explains(-11.6, &at(990.0), &Vector::x()));
        assert!(!skin.explains(-11.6, &at(1200.0), &up));
    }

    #[test]
    fn a_crown_is_one_job_and_touches_no_edge() {
        let mut skin = skin();
        assert!(
            skin.undone()
                .starts_with("crowned 1/8 along its length: sprung, or stretched metal to shrink; its edges")
        );
        assert!((skin.far_mm() - 3.0).abs() < 1e-9);
        skin.bends[0].mm = -3.0;
        assert!(skin.undone().contains("metal to stretch"));
    }
}
