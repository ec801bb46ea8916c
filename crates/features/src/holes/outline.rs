//! The outline of a hole in its plane: a straight core, widened on all sides by one radius.
//!
//! A core without extent gives a circle, one with a length a slot, one with length and width a window with round corners.

use std::f64::consts::{PI, TAU};

use nalgebra::Vector2;

/// An outline in a plane, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outline {
    /// Its middle.
    pub centre: Vector2<f64>,
    /// Unit direction of its length.
    pub along: Vector2<f64>,
    /// Half the length and half the width of the core.
    pub half: [f64; 2],
    /// By how much the core is widened.
    pub radius: f64,
}

impl Outline {
    /// A circle.
    pub fn round(centre: Vector2<f64>, radius: f64) -> Self {
        Self {
            centre,
            along: Vector2::x(),
            half: [0.0, 0.0],
            radius,
        }
    }

    /// Unit direction of its width.
    pub fn across(&self) -> Vector2<f64> {
        Vector2::new(-self.along.y, self.along.x)
    }

    /// Half the length over all.
    pub fn half_length(&self) -> f64 {
        self.half[0] + self.radius
    }

    /// Half the width over all.
    pub fn half_width(&self) -> f64 {
        self.half[1] + self.radius
    }

    /// The same outline, wider all round.
    pub fn wider(&self, by: f64) -> Self {
        Self {
            radius: self.radius + by,
            ..*self
        }
    }

    /// The same outline turned about its middle by a small angle, rad.
    pub fn turned(&self, by: f64) -> Self {
        let (sin, cos) = by.sin_cos();
        Self {
            along: (self.along * cos + self.across() * sin).normalize(),
            ..*self
        }
    }

    /// What it encloses, mm².
    pub fn area(&self) -> f64 {
        let [a, b] = self.half;
        PI * self.radius * self.radius + 4.0 * self.radius * (a + b) + 4.0 * a * b
    }

    /// How long it is, mm.
    pub fn perimeter(&self) -> f64 {
        TAU * self.radius + 4.0 * (self.half[0] + self.half[1])
    }

    /// How far outside of it a place lies, mm; negative inside.
    #[inline]
    pub fn off(&self, place: &Vector2<f64>) -> f64 {
        let own = self.own(place);
        let x = (own.x.abs() - self.half[0]).max(0.0);
        let y = (own.y.abs() - self.half[1]).max(0.0);
        (x * x + y * y).sqrt() - self.radius
    }

    /// Where along the outline a place is nearest to it, as a share of its length from the middle of one end on.
    pub fn share_along(&self, place: &Vector2<f64>) -> f64 {
        let own = self.own(place);
        let [a, b] = self.half;
        let core = Vector2::new(own.x.clamp(-a, a), own.y.clamp(-b, b));
        let out = own - core;
        // The straight runs that are passed before the place, beginning in the middle of the end that `along` points to.
        let straight = if out.y == 0.0 && out.x >= 0.0 {
            core.y
        } else if out.y == 0.0 {
            2.0 * b + 2.0 * a - core.y
        } else if out.x == 0.0 && out.y > 0.0 {
            b + a - core.x
        } else if out.x == 0.0 {
            3.0 * b + 3.0 * a + core.x
        } else {
            match (out.x > 0.0, out.y > 0.0) {
                (true, true) => b,
                (false, true) => b + 2.0 * a,
                (false, false) => 3.0 * b + 2.0 * a,
                (true, false) => 3.0 * b + 4.0 * a,
            }
        };
        let bend = out.y.atan2(out.x).rem_euclid(TAU) * self.radius;
        ((straight + bend) / self.perimeter()).rem_euclid(1.0)
    }

    fn own(&self, place: &Vector2<f64>) -> Vector2<f64> {
        let d = place - self.centre;
        Vector2::new(d.dot(&self.along), d.dot(&self.across()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window() -> Outline {
        Outline {
            centre: Vector2::new(3.0, -2.0),
            along: Vector2::new(0.6, 0.8),
            half: [5.0, 2.0],
            radius: 1.5,
        }
    }

    // Walked in small steps, the outline has the length that it says, encloses the area that it says (shoelace formula)
    // and meets its own shares in order.
    #[test]
    fn length_area_and_shares_are_those_of_the_walk_around_it() {
        for half in [[5.0, 2.0], [5.0, 0.0], [0.0, 0.0]] {
            let outline = Outline { half, ..window() };
            let mut walk: Vec<Vector2<f64>> = Vec::new();
            for i in 0..20_000 {
                // Along a ray from the middle to the outline, by halving.
                let a = TAU * (f64::from(i) + 0.5) / 20_000.0;
                let ray = outline.along * a.cos() + outline.across() * a.sin();
                let (mut inside, mut outside) = (0.0, 20.0);
                for _ in 0..50 {
                    let middle = f64::midpoint(inside, outside);
                    if outline.off(&(outline.centre + ray * middle)) < 0.0 {
                        inside = middle;
                    } else {
                        outside = middle;
                    }
                }
                walk.push(outline.centre + ray * inside);
            }
            let next = |i: usize| walk[(i + 1) % walk.len()];
            let length: f64 = (0..walk.len()).map(|i| (next(i) - walk[i]).norm()).sum();
            let area: f64 = (0..walk.len()).map(|i| walk[i].perp(&next(i)) / 2.0).sum();
            assert!((length - outline.perimeter()).abs() < 1e-4 * length, "{length}");
            assert!((area - outline.area()).abs() < 1e-4 * area, "{area}");
            // The walk begins half a step past the middle of the end.
            let begun = (walk[0] - outline.centre).norm() * TAU / 40_000.0;
            let mut walked = begun;
            for (i, place) in walk.iter().enumerate().take(walk.len() - 1) {
                let share = outline.share_along(place);
                assert!(
                    (share - walked / length).abs() < 1e-3,
                    "{i}: {share} for {}",
                    walked / length
                );
                walked += (next(i) - place).norm();
            }
        }
    }

    #[test]
    fn off_is_the_distance_to_the_rim() {
        let outline = window();
        let at = |x: f64, y: f64| outline.centre + outline.along * x + outline.across() * y;
        for (x, y, expected) in [
            (0.0, 0.0, -1.5),
            (8.0, 0.0, 1.5),
            (0.0, -4.5, 1.0),
            (5.0 + 3.0, 2.0 + 4.0, 3.5),
        ] {
            assert!((outline.off(&at(x, y)) - expected).abs() < 1e-12, "{x} {y}");
        }
    }
}
