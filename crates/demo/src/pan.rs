//! The demo floor pan, in inches: the right one that was ordered, and the left one that was sent and seen from below.

use cloud::Point;

use crate::sheet::{Place, Sheet};
use crate::tub::floor_height;

/// Thickness of its sheet: 20 gauge, manufacturers' standard.
const THICK: f64 = 0.0359;

/// The pan as the drawing has it: three beads, the outboard one short, a drain dish and its holes; seen from above, and
/// the left one from below.
pub fn sheets(left: bool) -> Vec<Sheet> {
    let side = if left { -1.0 } else { 1.0 };
    let holes = [
        ([4.0, 14.0], 0.75),
        ([46.0, 14.0], 0.75),
        ([18.0, 8.0], 0.375),
        ([18.0, 21.0], 0.375),
        ([31.0, 8.0], 0.375),
        ([31.0, 20.0], 0.375),
    ];
    // The left pan is the mirror image of the right one, so its map turns over: it looks down.
    let pan = Sheet::new("pan", [48.0, 19.0], move |u, v| {
        let (x, y) = (2.0 + u, 5.0 + v);
        Point::new(x, side * y, 20.0 + floor_height(x, y))
    });
    vec![
        pan.holes(
            holes
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

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

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
