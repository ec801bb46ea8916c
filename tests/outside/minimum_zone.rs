//! Flatness and straightness by their least zone against sets whose answer two independent codes agree on.
//!
//! Constructed sets: a linear programme in the height, and the width of the convex hull, which is the definition (ISO 1101:
//! the distance of the planes or lines, square to them) and is what is held here.

use cloud::Point;
use features::minimum_zone::{flatness, straight_edge, straightness};
use serde_json::Value;

use crate::data::{figures, numbers};

/// The places of a set; a third coordinate that is not there is 0.
fn places(set: &Value) -> Vec<Point> {
    let place = |row: &Value| {
        let row = numbers(row);
        Point::new(row[0], row[1], row.get(2).copied().unwrap_or(0.0))
    };
    set["points"].as_array().unwrap().iter().map(place).collect()
}

fn close(found: f64, expected: &Value, within: f64) {
    let expected = expected.as_f64().unwrap();
    assert!((found - expected).abs() < within, "{found} for {expected}");
}

/// What the ready-made test of this number expects.
fn expected(id: u64) -> Value {
    let all = figures("tests.json");
    let test = all.as_array().unwrap().iter().find(|t| t["id"] == id).unwrap();
    test["expect"].clone()
}

#[test]
fn flatness_is_the_width_of_the_hull() {
    let all = figures("minimum_zone.json");
    for name in ["saddle_3x3", "forum_5pt", "grid_5x5"] {
        let found = flatness(&places(&all[name])).unwrap();
        close(found.zone_mm, &all[name]["hull_width"], 1e-11);
        close(found.least_squares_mm, &all[name]["ls_orth"], 1e-10);
    }
    let found = flatness(&places(&all["grid_5x5"])).unwrap();
    close(found.zone_mm, &expected(16)["mz"], 1e-6);
    close(found.least_squares_mm, &expected(16)["ls"], 1e-6);
}

#[test]
fn straightness_is_the_width_of_the_hull() {
    let all = figures("minimum_zone.json");
    let given = &all["straightness_7"];
    let profile: Vec<_> = places(given).iter().map(|p| p.coords.xy()).collect();
    let found = straightness(&profile).unwrap();
    close(found.zone_mm, &given["mz_orth"], 1e-12);
    close(found.direction.y / found.direction.x, &given["slope"], 1e-12);
    // The file's line has the least squares upright, ours square to it: 6e-10 apart.
    close(found.least_squares_mm, &given["ls"], 1e-8);
    close(found.zone_mm, &expected(17)["mz"], 1e-7);
    close(found.least_squares_mm, &expected(17)["ls"], 1e-7);
}

// The same profile bulges between its ends: laid on from below, a straight edge rests on the two and shows the zone.
#[test]
fn a_straight_edge_across_the_ends_shows_the_bulge() {
    let all = figures("minimum_zone.json");
    let given = &all["straightness_7"];
    let below: Vec<_> = places(given)
        .iter()
        .map(|p| Point::new(p.x, -p.y, 0.0).coords.xy())
        .collect();
    let found = straight_edge(&below).unwrap();
    // The file's figure is upright.
    close(found.mm, &given["ends_line"], 1e-9);
    close(found.mm, &given["mz_orth"], 1e-12);
    assert_eq!(found.rests, [below[0], below[6]]);
    assert_eq!(found.at, below[4]);
}
