//! The demo panel, a boot side, in inches: X from its front edge, Y out of its face, Z from its bottom edge.

use cloud::Point;

use crate::sheet::{Sheet, inside_rectangle, pressed};

/// What can be wrong with a boot side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BootSide {
    /// Where the rear fold lies.
    pub rear_fold: f64,
    /// Where the recess begins, from the front.
    pub recess_front: f64,
    /// How deep it is pressed.
    pub recess_depth: f64,
    /// Radius between skin and wall.
    pub outer_radius: f64,
    /// Diameter of the filler hole.
    pub filler: f64,
}

impl BootSide {
    /// As drawn.
    pub const GOOD: Self = Self {
        rear_fold: 26.0,
        recess_front: 10.0,
        recess_depth: 0.375,
        outer_radius: 0.0625,
        filler: 1.5,
    };

    /// As bought in: short at the rear, the recess forward, shallow and soft, the hole small.
    pub const BOUGHT_IN: Self = Self {
        rear_fold: 26.0 - 7.0 / 32.0,
        recess_front: 10.0 - 3.0 / 16.0,
        recess_depth: 0.3125,
        outer_radius: 0.1875,
        filler: 1.375,
    };

    /// Its sheets: the skin with recess and filler hole, and a half-inch return flange all round.
    pub fn sheets(self) -> Vec<Sheet> {
        let rear = self.rear_fold;
        let low = [self.recess_front, 5.0];
        let high = [self.recess_front + 8.0, 10.0];
        let skin = Sheet::new("skin", [rear, 16.0], move |x, z| {
            let d = inside_rectangle(x, z, low, high, 0.75);
            Point::new(
                x,
                -pressed(d, self.recess_depth, 1.0, self.outer_radius, 0.1875),
                z,
            )
        })
        .flipped()
        .holes(vec![([21.5, 0.0, 11.0], self.filler)]);
        vec![
            skin,
            Sheet::flat(
                "front flange",
                [0.0, -0.5, 0.0],
                [0.0, 0.0, 16.0],
                [0.0, 0.5, 0.0],
            ),
            Sheet::flat(
                "rear flange",
                [rear, -0.5, 0.0],
                [0.0, 0.5, 0.0],
                [0.0, 0.0, 16.0],
            ),
            Sheet::flat(
                "bottom flange",
                [0.0, -0.5, 0.0],
                [0.0, 0.5, 0.0],
                [rear, 0.0, 0.0],
            ),
            Sheet::flat("top flange", [0.0, -0.5, 16.0], [rear, 0.0, 0.0], [0.0, 0.5, 0.0]),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn every_sheet_faces_out() {
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(3);
        let middle = Point::new(13.0, -0.25, 8.0);
        for sheet in BootSide::GOOD.sheets() {
            let mut places = Vec::new();
            sheet.scatter(0.5, &mut random, &mut places);
            let out = places
                .iter()
                .filter(|(p, _)| p.normal.dot(&(p.at - middle)) > 0.0)
                .count();
            assert!(
                out * 2 > places.len(),
                "{}: {out} of {}",
                sheet.part,
                places.len()
            );
        }
    }
}
