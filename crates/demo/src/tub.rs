//! The demo tub, in inches: X rearward, Y right as seated, Z above the table.

use cloud::Point;

use crate::sheet::{Sheet, hump, inside_rectangle, pressed, rise};

/// What a tub has of its own; the drawing has none of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Own {
    /// How far the left cross bar lies rearward of its place, inches.
    pub left_bar_rearward: f64,
    /// Whether the right floor has a fourth bead, between the middle one and the outboard one.
    pub fourth_bead: bool,
    /// Whether the top edge of the left sill is notched.
    pub notch: bool,
}

impl Own {
    /// As drawn.
    pub const NOTHING: Self = Self {
        left_bar_rearward: 0.0,
        fourth_bead: false,
        notch: false,
    };
}

/// Height of a bead.
const BEAD: f64 = 0.25;
/// Where the middle line of a fourth bead runs.
const FOURTH_BEAD: f64 = 17.0;
/// The notch: the middle of its length and half of it along X, and how far down from the top edge it goes.
const NOTCH: [f64; 3] = [12.0, 0.625, 0.375];

/// A bead's share of its height at a place: 1-1/4 wide along the line `middle`, with half round ends.
fn bead(x: f64, y: f64, middle: f64, ends: [f64; 2]) -> f64 {
    // The distance from the middle line, as a share of the half width.
    let along = (ends[0] + 0.625 - x).max(x - (ends[1] - 0.625)).max(0.0);
    hump((y - middle).hypot(along) / 0.625)
}

/// Height of the floor over Z 20 with beads of the height `bead_height`: three a side, the right outboard one short, and a
/// drain dish on the right.
pub(crate) fn floor_pressed(x: f64, y: f64, bead_height: f64) -> f64 {
    let side = y.signum();
    let mut height = 0.0;
    for place in [9.5, 14.5, 19.5] {
        let short = side > 0.0 && place > 19.0;
        let ends = [if short { 14.0 } else { 8.0 }, 44.0];
        height += bead_height * bead(x, y, place * side, ends);
    }
    if side > 0.0 {
        let from_middle = (x - 40.0).hypot(y - 12.0);
        height -= 0.3125 * rise((2.0 - from_middle) / 0.5);
    }
    height
}

/// Height of the floor over Z 20, as drawn.
pub(crate) fn floor_height(x: f64, y: f64) -> f64 {
    floor_pressed(x, y, BEAD)
}

/// Whether a place on the left lies in the notch. It takes half an inch of the outer sill's top along, which is all but
/// flat there and would else close it.
fn in_notch(p: &Point) -> bool {
    let [middle, half, down] = NOTCH;
    (p.x - middle).abs() < half && p.z > 27.0 - down && p.y > -24.5
}

/// Height of the bottom of a chassis leg.
fn leg_bottom(x: f64) -> f64 {
    20.0 + 6.0 * rise((x - 50.0) / 20.0)
}

/// All sheets of the tub as drawn, each in its part.
pub fn sheets() -> Vec<Sheet> {
    sheets_with(Own::NOTHING)
}

/// All sheets of a tub that has something of its own, each in its part.
pub fn sheets_with(own: Own) -> Vec<Sheet> {
    let mut all = vec![
        Sheet::flat(
            "front bulkhead",
            [0.0, -24.0, 20.0],
            [0.0, 48.0, 0.0],
            [0.0, 0.0, 24.0],
        )
        .only(|p| p.y.abs() > 5.0 - (p.z - 20.0) / 9.0 || p.z > 29.0),
        Sheet::flat(
            "front bulkhead",
            [-0.625, -24.0, 44.0],
            [0.625, 0.0, 0.0],
            [0.0, 48.0, 0.0],
        ),
        Sheet::flat(
            "rear bulkhead",
            [50.0, -24.0, 20.0],
            [0.0, 0.0, 18.0],
            [0.0, 48.0, 0.0],
        )
        .only(|p| p.y.abs() > 5.0 - (p.z - 20.0) / 9.0 || p.z > 29.0),
        Sheet::flat(
            "boot floor",
            [50.0, -22.0, 28.0],
            [34.0, 0.0, 0.0],
            [0.0, 44.0, 0.0],
        ),
        Sheet::flat("tunnel", [2.0, -4.0, 29.0], [48.0, 0.0, 0.0], [0.0, 8.0, 0.0]),
    ];
    for side in [-1.0, 1.0] {
        let left = side < 0.0;
        let part = |l: &'static str, r: &'static str| if left { l } else { r };
        let datum_holes = vec![
            ([4.0, 14.0 * side, 20.0], 0.75),
            ([46.0, 14.0 * side, 20.0], 0.75),
        ];
        let seat_holes = if left {
            Vec::new()
        } else {
            [[18.0, 8.0], [18.0, 21.0], [31.0, 8.0], [31.0, 20.0]]
                .iter()
                .map(|h| ([h[0], h[1], 20.0], 0.375))
                .collect()
        };
        let fourth = if !left && own.fourth_bead { BEAD } else { 0.0 };
        let floor = Sheet::new(part("left floor", "right floor"), [48.0, 19.0], move |u, v| {
            let (x, y) = (2.0 + u, if left { -24.0 + v } else { 5.0 + v });
            let more = fourth * bead(x, y, FOURTH_BEAD, [8.0, 44.0]);
            Point::new(x, y, 20.0 + floor_height(x, y) + more)
        });
        let bar_front = 34.0 + if left { own.left_bar_rearward } else { 0.0 };
        all.push(
            floor
                .holes([datum_holes, seat_holes].concat())
                .only(move |p| !(bar_front..bar_front + 3.0).contains(&p.x)),
        );
        // The cross bar: front, top, back.
        let bar = part("left cross bar", "right cross bar");
        let y0 = if left { -24.0 } else { 5.0 };
        all.push(Sheet::flat(
            bar,
            [bar_front, y0, 20.0],
            [0.0, 0.0, 2.0],
            [0.0, 19.0, 0.0],
        ));
        all.push(Sheet::flat(
            bar,
            [bar_front, y0, 22.0],
            [3.0, 0.0, 0.0],
            [0.0, 19.0, 0.0],
        ));
        all.push(Sheet::flat(
            bar,
            [bar_front + 3.0, y0, 20.0],
            [0.0, 19.0, 0.0],
            [0.0, 0.0, 2.0],
        ));
        // The tunnel's side leans from 5 at the foot to 4 at the top.
        let tunnel = Sheet::flat(
            "tunnel",
            [2.0, 5.0 * side, 20.0],
            [48.0, 0.0, 0.0],
            [0.0, -side, 9.0],
        )
        .holes(vec![([40.0, 4.6 * side, 23.6], 0.4375)]);
        all.push(if left { tunnel } else { tunnel.flipped() });
        let inner = Sheet::flat(
            part("left inner sill", "right inner sill"),
            [-2.0, 24.0 * side, 20.0],
            [56.0, 0.0, 0.0],
            [0.0, 0.0, 7.0],
        )
        .holes(vec![([40.0, 24.0 * side, 23.0], 0.4375)]);
        let notched = left && own.notch;
        let inner = if notched {
            inner.only(|p| !in_notch(p))
        } else {
            inner
        };
        all.push(if left { inner.flipped() } else { inner });
        let outer = Sheet::new(
            part("left outer sill", "right outer sill"),
            [56.0, 11.0],
            move |u, v| {
                let a = std::f64::consts::PI * (v / 11.0 - 0.5);
                Point::new(-2.0 + u, side * (24.0 + 4.0 * a.cos()), 23.5 + 3.5 * a.sin())
            },
        );
        let outer = if notched {
            outer.only(|p| !in_notch(p))
        } else {
            outer
        };
        all.push(if left { outer } else { outer.flipped() });
        let pinch = Sheet::flat(
            part("left outer sill", "right outer sill"),
            [-2.0, 24.0 * side, 19.375],
            [56.0, 0.0, 0.0],
            [0.0, 0.0, 0.625],
        );
        all.push(if left { pinch } else { pinch.flipped() });
        // The chassis leg: bottom and two sides, under the boot floor.
        let leg = part("left leg", "right leg");
        let y_in = 14.0 * side;
        let bottom = Sheet::new(leg, [34.0, 3.0], move |u, v| {
            let x = 50.0 + u;
            Point::new(x, y_in + side * v, leg_bottom(x))
        })
        .holes(vec![([80.0, 15.5 * side, 26.0], 0.75)]);
        all.push(if left { bottom } else { bottom.flipped() });
        for (offset, inward) in [(0.0, true), (3.0, false)] {
            let wall = Sheet::new(leg, [34.0, 8.0], move |u, v| {
                let x = 50.0 + u;
                let z = leg_bottom(x) + v * (28.0 - leg_bottom(x)) / 8.0;
                Point::new(x, y_in + side * offset, z)
            });
            all.push(if inward == left { wall.flipped() } else { wall });
        }
        // The boot side with its recess, seen from inside the boot; the recess is pressed outward.
        let boot = Sheet::new(
            part("left boot side", "right boot side"),
            [28.0, 16.0],
            move |u, v| {
                let (x, z) = (56.0 + u, 28.0 + v);
                let d = inside_rectangle(x, z, [64.0, 33.0], [72.0, 38.0], 0.75);
                Point::new(x, side * (22.0 + pressed(d, 0.375, 1.0, 0.0625, 0.1875)), z)
            },
        );
        all.push(if left { boot.flipped() } else { boot });
        let flange = Sheet::flat(
            part("left boot side", "right boot side"),
            [56.0, 22.0 * side, 44.0],
            [28.0, 0.0, 0.0],
            [0.0, 0.625 * side, 0.0],
        );
        all.push(if left { flange.flipped() } else { flange });
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Vector;
    use rand::SeedableRng;

    /// The side that each part shows to the scanner: cabin and boot from within, sills and legs from without.
    #[test]
    fn every_part_shows_its_outer_side() {
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(5);
        for sheet in sheets() {
            let mut places = Vec::new();
            sheet.scatter(1.0, &mut random, &mut places);
            let toward = |p: &Point| match sheet.part {
                "left outer sill" | "right outer sill" => Vector::new(0.0, p.y.signum(), 0.0),
                "left leg" | "right leg" => *p - Point::new(p.x, 15.5 * p.y.signum(), 28.0),
                "boot floor" | "left floor" | "right floor" => Vector::z(),
                "left cross bar" | "right cross bar" => *p - Point::new(35.5, p.y, 20.0),
                "tunnel" => *p - Point::new(p.x, 0.0, 24.0),
                "left boot side" | "right boot side" => Vector::new(0.0, -p.y, 4.0),
                _ => Point::new(25.0, 0.0, 60.0) - *p,
            };
            let out = places
                .iter()
                .filter(|(q, _)| q.normal.dot(&toward(&q.at)) > 0.0)
                .count();
            assert!(
                out * 10 > places.len() * 8,
                "{}: {out} of {}",
                sheet.part,
                places.len()
            );
        }
    }

    fn scattered(own: Own, spacing: f64) -> Vec<(Point, &'static str)> {
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(6);
        let mut places = Vec::new();
        for sheet in sheets_with(own) {
            sheet.scatter(spacing, &mut random, &mut places);
        }
        places.into_iter().map(|(place, part)| (place.at, part)).collect()
    }

    #[test]
    fn what_a_tub_has_of_its_own_is_there_and_nothing_else() {
        let own = Own {
            left_bar_rearward: 0.3125,
            fourth_bead: true,
            notch: true,
        };
        let (drawn, found) = (scattered(Own::NOTHING, 0.2), scattered(own, 0.2));
        let bar = |of: &[(Point, &str)], name: &str| {
            let at: Vec<f64> = of.iter().filter(|p| p.1 == name).map(|p| p.0.x).collect();
            (
                at.iter().copied().fold(f64::INFINITY, f64::min),
                at.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            )
        };
        assert_eq!(bar(&drawn, "left cross bar"), (34.0, 37.0));
        assert_eq!(bar(&found, "left cross bar"), (34.3125, 37.3125));
        assert_eq!(bar(&found, "right cross bar"), (34.0, 37.0));
        // The floor makes way for the bar.
        let under = found
            .iter()
            .filter(|p| p.1 == "left floor" && (34.32..37.3).contains(&p.0.x));
        assert_eq!(under.count(), 0);

        let highest = |of: &[(Point, &str)], floor: &str| {
            of.iter()
                .filter(|p| p.1 == floor && (p.0.y.abs() - FOURTH_BEAD).abs() < 0.1)
                .map(|p| p.0.z - 20.0)
                .fold(f64::NEG_INFINITY, f64::max)
        };
        assert!(highest(&drawn, "right floor") < 1e-9 && highest(&found, "left floor") < 1e-9);
        assert!((highest(&found, "right floor") - BEAD).abs() < 1e-3);

        // 3/8 down over 1-1/4 about X 12, on the left only.
        let top = |of: &[(Point, &str)], side: f64, x: f64| {
            of.iter()
                .filter(|p| p.1.ends_with("inner sill") && p.0.y * side > 0.0 && (p.0.x - x).abs() < 0.6)
                .map(|p| p.0.z)
                .fold(f64::NEG_INFINITY, f64::max)
        };
        assert!(top(&found, -1.0, 12.0) <= 26.625 && top(&found, -1.0, 12.0) > 26.4);
        for whole in [
            top(&found, 1.0, 12.0),
            top(&found, -1.0, 10.7),
            top(&found, -1.0, 13.3),
            top(&drawn, -1.0, 12.0),
        ] {
            assert!(whole > 26.85, "{whole}");
        }
    }
}
