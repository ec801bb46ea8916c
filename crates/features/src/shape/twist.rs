//! A panel that is twisted: what that does to its places, and which corners go up and which down to take it out.

use cloud::frame::{TOWARD, called};
use cloud::unit::fraction_of_inch;
use cloud::{Point, Vector};

use crate::shift::HOME_MM;

/// A twist that is surely off.
#[derive(Debug, Clone, PartialEq)]
pub struct Twisted {
    /// The way the panel looks, unit.
    pub(super) facing: Vector,
    /// Unit directions along and across it.
    pub(super) axes: [Vector; 2],
    /// Its middle along each, mm.
    pub(super) middle_mm: [f64; 2],
    /// Half of its extent along each, mm.
    pub(super) half_mm: [f64; 2],
    /// How far the corner at the far ends of both stands proud, mm; the two beside it are as shy.
    pub(super) corner_mm: f64,
    /// ± of that, mm.
    pub(super) pm_mm: f64,
}

impl Twisted {
    /// How far the twist makes a place stand proud, mm.
    pub fn at(&self, place: &Point) -> f64 {
        let [q, w] = [0, 1].map(|k| (place.coords.dot(&self.axes[k]) - self.middle_mm[k]) / self.half_mm[k]);
        self.corner_mm * q * w
    }

    /// How the twist moves the metal at a place, mm.
    pub fn moves(&self, place: &Point) -> Vector {
        self.facing * self.at(place)
    }

    /// Whether a spot of this height is the twist: without it the spot is home within the ±, and less than half of it is left.
    pub fn explains(&self, spot_mm: f64, at: &Point) -> bool {
        let left_mm = (spot_mm - self.at(at)).abs();
        left_mm <= HOME_MM.max(self.pm_mm) && left_mm < spot_mm.abs() / 2.0
    }

    /// `twisted 1/4 corner to corner`.
    pub fn words(&self) -> String {
        let size = fraction_of_inch(4.0 * self.corner_mm, 32);
        format!("twisted {size} corner to corner")
    }

    /// `untwist: front left and rear right corners down 1/16, front right and rear left corners up 1/16`.
    pub fn undone(&self) -> String {
        let size = fraction_of_inch(self.corner_mm, 64);
        let pair = |side: f64| {
            let mut names = [self.corner([-1.0, -side]), self.corner([1.0, side])];
            names.sort();
            let way = self.back(self.corner_mm * side);
            format!("{} and {} corners {way} {size}", names[0], names[1])
        };
        format!("untwist: {}, {}", pair(1.0), pair(-1.0))
    }

    /// A corner's name, from which side of the middle it lies on along and across.
    fn corner(&self, sides: [f64; 2]) -> String {
        let first = self.axes[0].iamax();
        let mut other = self.axes[1];
        other[first] = 0.0;
        let second = other.iamax();
        let names = [("front", "rear"), ("left", "right"), ("lower", "upper")];
        let named = |axis: usize, at: f64| if at > 0.0 { names[axis].1 } else { names[axis].0 };
        let mut both = [
            (first, self.axes[0][first] * sides[0]),
            (second, other[second] * sides[1]),
        ];
        // Upper and lower are said first, left and right last.
        both.sort_by_key(|(axis, _)| (axis + 1) % 3);
        both.map(|(axis, at)| named(axis, at)).join(" ")
    }

    /// Which way metal that stands proud by this goes back.
    fn back(&self, proud_mm: f64) -> &'static str {
        called(&TOWARD, &(self.facing * -proud_mm))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn floor(corner_mm: f64) -> Twisted {
        Twisted {
            facing: Vector::z(),
            axes: [Vector::x(), Vector::y()],
            middle_mm: [300.0, 150.0],
            half_mm: [300.0, 150.0],
            corner_mm,
            pm_mm: 0.1,
        }
    }

    #[test]
    fn two_corners_go_down_and_two_up() {
        assert_eq!(
            floor(1.5875).undone(),
            "untwist: front left and rear right corners down 1/16, front right and rear left corners up 1/16"
        );
        assert_eq!(
            floor(-1.5875).undone(),
            "untwist: front left and rear right corners up 1/16, front right and rear left corners down 1/16"
        );
        assert_eq!(floor(1.5875).words(), "twisted 1/4 corner to corner");
        let wall = Twisted {
            facing: Vector::y(),
            axes: [Vector::x(), -Vector::z()],
            ..floor(1.5875)
        };
        assert!(
            wall.undone()
                .starts_with("untwist: lower rear and upper front corners to the left 1/16"),
            "{}",
            wall.undone()
        );
    }

    #[test]
    fn a_corner_that_the_twist_lifts_is_no_swelling_and_a_dent_is_one() {
        let floor = floor(1.5875);
        let corner = Point::new(590.0, 295.0, 0.0);
        assert!(floor.explains(1.6, &corner));
        assert!(!floor.explains(4.0, &corner));
        assert!(!floor.explains(-1.6, &corner));
        assert!(!floor.explains(0.85, &Point::new(300.0, 150.0, 0.0)));
    }
}
