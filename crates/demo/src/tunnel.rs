//! The demo tunnel with a strip of the floor on each side, in inches, and how a program for photographs writes it: without
//! a unit, Y up, a little too small, and without what no photograph shows.

use cloud::unit::MM_PER_INCH;
use cloud::{Body, Motion, Point, Scan, Vector};

use crate::scan::Scanned;
use crate::sheet::{Place, Sheet, rise};

/// The part of the top that no photograph shows.
pub const UNSEEN: &str = "tunnel top rear";
/// Where it begins: 22 % of the top lie behind.
const SEEN_TO: f64 = 39.44;
/// How far each foot stands out.
const FOOT_OUT: f64 = 1.0 / 16.0;
/// What the photographs' program makes of a millimetre.
pub const SHRUNK: f64 = 0.996;

/// The bars that lay in the pictures: ends and length.
pub const BARS: [([[f64; 3]; 2], f64); 2] = [
    ([[6.0, 0.0, 29.5], [42.0, 0.0, 29.5]], 36.0),
    ([[12.0, -6.0, 29.5], [12.0, 6.0, 29.5]], 12.0),
];

/// The marks that were stuck on before anything was touched, all on metal that was left alone.
pub const MARKS: [(&str, [f64; 3]); 6] = [
    ("T1", [4.0, -3.0, 29.0]),
    ("T2", [4.0, 3.0, 29.0]),
    ("T3", [34.0, -3.0, 29.0]),
    ("T4", [34.0, 3.0, 29.0]),
    ("F1", [6.0, -7.0, 20.0]),
    ("F2", [46.0, 7.0, 20.0]),
];

/// The sheets as drawn: top, leaning sides with a belt hole each, and a strip of the floor on either side.
pub fn sheets() -> Vec<Sheet> {
    let top = |part, from: f64, to: f64| {
        Sheet::flat(part, [from, -4.0, 29.0], [to - from, 0.0, 0.0], [0.0, 8.0, 0.0])
    };
    let mut all = vec![top("tunnel top front", 2.0, SEEN_TO), top(UNSEEN, SEEN_TO, 50.0)];
    for side in [-1.0, 1.0] {
        let left = side < 0.0;
        let part = |l: &'static str, r: &'static str| if left { l } else { r };
        let wall = Sheet::flat(
            part("left side", "right side"),
            [2.0, 5.0 * side, 20.0],
            [48.0, 0.0, 0.0],
            [0.0, -side, 9.0],
        )
        .holes(vec![([40.0, 4.6 * side, 23.6], 0.4375)]);
        all.push(if left { wall } else { wall.flipped() });
        let strip = Sheet::flat(
            part("left strip", "right strip"),
            [2.0, 5.0 * side, 20.0],
            [48.0, 0.0, 0.0],
            [0.0, 3.5 * side, 0.0],
        );
        all.push(if left { strip.flipped() } else { strip });
    }
    all
}

/// Spreads the foot: each side a sixteenth out from X 12 to 42, less and less toward the top, where it is home.
pub fn spread_foot(part: &str, place: &mut Place) {
    let side = match part {
        "left side" => -1.0,
        "right side" => 1.0,
        _ => return,
    };
    let along = rise((place.at.x - 12.0) / 2.0) * rise((42.0 - place.at.x) / 2.0);
    let down = 1.0 - rise((place.at.z - 20.0) / 9.0);
    place.at.y += side * FOOT_OUT * along * down;
}

/// How the photographs' frame lies to the body's, before it is turned to Y up.
pub fn pose() -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::new(0.03, -0.02, 0.45),
        Point::new(660.0, 0.0, 620.0),
        Vector::new(-400.0, 250.0, -300.0),
    )
}

/// A direction with Y up: X stays, what was up is Y, what was right is against Z.
fn y_up(direction: &Vector) -> Vector {
    Vector::new(direction.x, direction.z, -direction.y)
}

/// A place of the body (inches) in the numbers of the photographs' file.
pub fn number(at: [f64; 3]) -> Point {
    let seen = pose().apply(&(Point::from(at) * MM_PER_INCH));
    Point::from(y_up(&seen.coords) * SHRUNK)
}

/// A set as the photographs' program writes it.
pub fn as_written(seen: Scanned) -> Scanned {
    Scanned {
        points_mm: seen
            .points_mm
            .iter()
            .map(|p| Point::from(y_up(&p.coords) * SHRUNK))
            .collect(),
        normals: seen.normals.iter().map(y_up).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn every_sheet_shows_its_outer_side() {
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(7);
        for sheet in sheets() {
            let mut places = Vec::new();
            sheet.scatter(1.0, &mut random, &mut places);
            for (place, part) in &places {
                let out = match *part {
                    "left side" => -Vector::y(),
                    "right side" => Vector::y(),
                    _ => Vector::z(),
                };
                assert!(place.normal.dot(&out) > 0.9, "{part}");
            }
        }
    }

    #[test]
    fn the_foot_is_an_eighth_wide_over_thirty_inches_and_the_top_is_home() {
        let out = |x: f64, z: f64| {
            let mut place = Place {
                at: Point::new(x, 5.0, z),
                normal: Vector::y(),
            };
            spread_foot("right side", &mut place);
            place.at.y - 5.0
        };
        assert_eq!(out(27.0, 20.0), FOOT_OUT);
        assert_eq!(out(27.0, 29.0), 0.0);
        assert_eq!(out(11.0, 20.0), 0.0);
        assert_eq!(out(43.0, 20.0), 0.0);
        assert!(out(27.0, 21.2) > 0.95 * FOOT_OUT);
    }

    #[test]
    fn the_marks_lie_on_metal_that_is_not_spread() {
        for (name, at) in MARKS {
            let on_top = at[2] == 29.0 && at[0] < SEEN_TO;
            assert!(on_top || at[2] == 20.0 && at[1].abs() > 5.0, "{name}");
        }
    }
}
