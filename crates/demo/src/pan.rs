//! The demo floor pan, in inches: the right one that was ordered, the left one that was sent and seen from below, and the
//! one with flanges that the tool is judged by.

use cloud::{Point, Vector};

use crate::sheet::{Place, Sheet, hump};
use crate::tub::{floor_height, floor_pressed};

/// Where the pan begins and ends along X and Y.
const LOW: [f64; 2] = [2.0, 5.0];
const HIGH: [f64; 2] = [50.0, 24.0];
/// Its round holes: place and diameter.
const HOLES: [([f64; 2], f64); 6] = [
    ([4.0, 14.0], 0.75),
    ([46.0, 14.0], 0.75),
    ([18.0, 8.0], 0.375),
    ([18.0, 21.0], 0.375),
    ([31.0, 8.0], 0.375),
    ([31.0, 20.0], 0.375),
];
/// Width of a spot-weld flange.
const FLANGE: f64 = 0.625;

/// Thickness of its sheet: 20 gauge, manufacturers' standard.
const THICK: f64 = 0.0359;

/// The pan as the drawing has it: three beads, the outboard one short, a drain dish and its holes; seen from above, and
/// the left one from below.
pub fn sheets(left: bool) -> Vec<Sheet> {
    let side = if left { -1.0 } else { 1.0 };
    // The left pan is the mirror image of the right one, so its map turns over: it looks down.
    let pan = Sheet::new("pan", [48.0, 19.0], move |u, v| {
        let (x, y) = (2.0 + u, 5.0 + v);
        Point::new(x, side * y, 20.0 + floor_height(x, y))
    });
    vec![
        pan.holes(
            HOLES
                .iter()
                .map(|([x, y], diameter)| ([*x, side * y, 20.0], *diameter))
                .collect(),
        ),
    ]
}

/// What is seen from below is the other face: a thickness lower.
pub fn other_face(_: &str, place: &mut Place) {
    let up = if place.normal.z < 0.0 {
        -place.normal
    } else {
        place.normal
    };
    place.at -= up * THICK;
}

/// How the tool pressed a right pan that has a spot-weld flange turned down all round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pressed {
    /// How far each flange stands open of a right angle, degrees.
    pub opened_deg: f64,
    /// Height of the beads, inches.
    pub bead: f64,
    /// How high the middle stands over the edges, inches.
    pub crown: f64,
}

impl Pressed {
    /// The original that the tool was made from.
    pub const ORIGINAL: Self = Self {
        opened_deg: 0.0,
        bead: 0.25,
        crown: 0.0,
    };

    /// The first-off, clamped down flat.
    pub const HELD: Self = Self {
        opened_deg: 2.5,
        bead: 7.0 / 32.0,
        crown: 0.0,
    };

    /// The first-off, lying free.
    pub const FREE: Self = Self {
        crown: 3.0 / 16.0,
        ..Self::HELD
    };

    /// Height of the pan over its edges. The crown runs out level at every edge, so that it turns no flange.
    fn height(self, x: f64, y: f64) -> f64 {
        let across = |at: f64, k: usize| hump((2.0 * at - LOW[k] - HIGH[k]) / (HIGH[k] - LOW[k]));
        floor_pressed(x, y, self.bead) + self.crown * across(x, 0) * across(y, 1)
    }

    /// Its sheets, seen from above: the pan with its holes, and the outer faces of its four flanges.
    pub fn sheets(self) -> Vec<Sheet> {
        let size = [HIGH[0] - LOW[0], HIGH[1] - LOW[1]];
        // The holes are round in the plan, wherever the crown lifts them to.
        let pan = Sheet::new("pan", size, move |u, v| {
            let (x, y) = (LOW[0] + u, LOW[1] + v);
            Point::new(x, y, 20.0 + self.height(x, y))
        })
        .only(|p| {
            HOLES
                .iter()
                .all(|([x, y], diameter)| (p.x - x).hypot(p.y - y) > diameter / 2.0)
        });
        let flange = |part, corner: [f64; 2], outward: Vector, length: f64| {
            let (sine, cosine) = self.opened_deg.to_radians().sin_cos();
            let along = outward.cross(&Vector::z()) * length;
            let down = (outward * sine - Vector::z() * cosine) * FLANGE;
            Sheet::flat(part, [corner[0], corner[1], 20.0], along.into(), down.into())
        };
        vec![
            pan,
            flange("front flange", LOW, -Vector::x(), size[1]),
            flange("rear flange", HIGH, Vector::x(), size[1]),
            flange("left flange", [HIGH[0], LOW[1]], -Vector::y(), size[0]),
            flange("right flange", [LOW[0], HIGH[1]], Vector::y(), size[0]),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    /// Places and normals of a part of a pan.
    fn scattered(pressed: Pressed, part: &str) -> Vec<Place> {
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(10);
        let mut places = Vec::new();
        for sheet in pressed.sheets() {
            sheet.scatter(0.25, &mut random, &mut places);
        }
        let of_part = places.into_iter().filter(|p| p.1 == part);
        of_part.map(|(place, _)| place).collect()
    }

    #[test]
    fn the_flanges_hang_from_the_edges_and_stand_open_by_what_was_planted() {
        for (pressed, degrees) in [
            (Pressed::ORIGINAL, 0.0_f64),
            (Pressed::HELD, 2.5),
            (Pressed::FREE, 2.5),
        ] {
            let (sine, cosine) = degrees.to_radians().sin_cos();
            for (part, outward, edge) in [
                ("front flange", -Vector::x(), -LOW[0]),
                ("rear flange", Vector::x(), HIGH[0]),
                ("left flange", -Vector::y(), -LOW[1]),
                ("right flange", Vector::y(), HIGH[1]),
            ] {
                let places = scattered(pressed, part);
                assert!(places.len() > 150, "{part}: {}", places.len());
                for place in &places {
                    let normal = outward * cosine + Vector::z() * sine;
                    assert!((place.normal - normal).norm() < 1e-6, "{part}: {}", place.normal);
                    let down = (20.0 - place.at.z) / cosine;
                    assert!((0.0..=FLANGE).contains(&down));
                    let out = place.at.coords.dot(&outward) - edge;
                    assert!((out - down * sine).abs() < 1e-9, "{part}: {out}");
                    assert!((LOW[0] - 0.1..=HIGH[0] + 0.1).contains(&place.at.x));
                    assert!((LOW[1] - 0.1..=HIGH[1] + 0.1).contains(&place.at.y));
                }
            }
        }
    }

    #[test]
    fn the_crown_is_gone_when_the_pan_is_held_and_the_low_beads_are_not() {
        let [original, held, free] =
            [Pressed::ORIGINAL, Pressed::HELD, Pressed::FREE].map(|p| move |x, y| p.height(x, y));
        // On the middle bead, and between two beads.
        assert_eq!(original(26.0, 14.5), 0.25);
        assert_eq!(held(26.0, 14.5), 0.21875);
        assert_eq!(free(26.0, 14.5), 0.21875 + 0.1875);
        assert_eq!(held(26.0, 17.0), 0.0);
        assert!(free(26.0, 17.0) > 0.15);
        for [x, y] in [[2.0, 14.5], [50.0, 8.0], [26.0, 5.0], [11.0, 24.0]] {
            assert!(free(x, y).abs() < 1e-12);
            // And level there.
            assert!(free(x, y + 0.01).abs() < 1e-5 && free(x + 0.01, y).abs() < 1e-5);
        }
        for place in scattered(Pressed::FREE, "pan") {
            assert!(place.normal.z > 0.5);
            assert!(
                HOLES
                    .iter()
                    .all(|([x, y], d)| (place.at.x - x).hypot(place.at.y - y) > d / 2.0)
            );
        }
    }

    #[test]
    fn the_left_pan_is_the_mirror_image_and_looks_down() {
        let scattered = |left: bool| {
            let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(9);
            let mut places = Vec::new();
            for sheet in sheets(left) {
                sheet.scatter(0.5, &mut random, &mut places);
            }
            places
        };
        let (right, left) = (scattered(false), scattered(true));
        assert!(right.len() > 3000 && right.len() == left.len());
        for ((r, _), (l, _)) in right.iter().zip(&left) {
            assert!((r.at.x - l.at.x).abs() < 1e-9 && (r.at.y + l.at.y).abs() < 1e-9);
            assert!((r.at.z - l.at.z).abs() < 1e-9);
            assert!(r.normal.z > 0.5 && l.normal.z < -0.5);
        }
    }
}
