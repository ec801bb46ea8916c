//! Zones held against closed forms and against every direction or centre around them.

use super::*;
use crate::made::uniform;
use nalgebra::Rotation3;

/// Points of a sheet of 600 × 400 mm with the height given.
fn sheet(count: u64, height: impl Fn(f64, f64, u64) -> f64) -> Vec<Point> {
    (0..count)
        .map(|i| {
            let (x, y) = (600.0 * uniform(3 * i), 400.0 * uniform(3 * i + 1));
            Point::new(x, y, height(x, y, 3 * i + 2))
        })
        .collect()
}

fn width(points: &[Point], normal: &Vector) -> f64 {
    span(points.iter().map(|p| p.coords.dot(normal))).width_mm
}

#[test]
fn the_planes_hold_all_and_no_other_direction_is_narrower() {
    for (round, few) in [4, 5, 9, 40].into_iter().enumerate() {
        // Thick enough that the least is not near the plane of least squares every time.
        let seed = 1000 * round as u64;
        let points = sheet(few, |_, _, i| 300.0 * uniform(i + seed));
        let found = flatness(&points).unwrap();
        assert!((width(&points, &found.normal) - found.zone_mm).abs() < 1e-9);
        assert!(found.zone_mm <= found.least_squares_mm + 1e-9);
        for k in 0..20_000u64 {
            let z = 2.0 * uniform(2 * k) - 1.0;
            let turn = TAU * uniform(2 * k + 1);
            let side = (1.0 - z * z).sqrt();
            let normal = Vector::new(side * turn.cos(), side * turn.sin(), z);
            assert!(width(&points, &normal) >= found.zone_mm - 1e-9);
        }
    }
}

#[test]
fn a_turned_saddle_has_the_zone_of_its_corners() {
    let turn = Rotation3::new(Vector::new(0.4, -0.7, 0.2));
    let saddle: Vec<Point> = (0..21 * 21)
        .map(|i| {
            let (x, y) = (f64::from(i % 21 - 10) * 10.0, f64::from(i / 21 - 10) * 10.0);
            turn * Point::new(x, y, 0.05 * x * y / 1e4) + Vector::new(1500.0, -300.0, 900.0)
        })
        .collect();
    let found = flatness(&saddle).unwrap();
    assert!((found.zone_mm - 0.1).abs() < 1e-6, "{found:?}");
    assert!(found.normal.cross(&(turn * Vector::z())).norm() < 1e-4);
    assert!(found.normal[found.normal.iamax()] > 0.0);
}

#[test]
fn a_hundred_thousand_points_settle() {
    let dish = |x: f64, y: f64, _: u64| ((x - 300.0).powi(2) + (y - 200.0).powi(2)) / 5000.0;
    let rough = |_: f64, _: f64, i: u64| 0.1 * uniform(i);
    for points in [sheet(100_000, dish), sheet(100_000, rough)] {
        let found = flatness(&points).unwrap();
        assert!(found.zone_mm < found.least_squares_mm);
        assert!((width(&points, &found.normal) - found.zone_mm).abs() < 1e-9);
        for side in [Vector::x(), Vector::y()] {
            for step in [-1e-5, 1e-5] {
                let leaning = (found.normal + side * step).normalize();
                assert!(width(&points, &leaning) > found.zone_mm);
            }
        }
    }
}

#[test]
fn points_on_a_line_have_no_face() {
    let line: Vec<Point> = (0..9)
        .map(|i| Point::new(0.1, 0.7, -0.3) * f64::from(i))
        .collect();
    assert!(flatness(&line).is_none() && flatness(&line[..3]).is_none());
}

#[test]
fn the_lines_hold_all_and_no_other_direction_is_narrower() {
    for (round, few) in [3, 4, 7, 300].into_iter().enumerate() {
        let seed = 1000 * round as u64;
        let profile: Vec<Vector2<f64>> = (0..few)
            .map(|i| Vector2::new(50.0 * uniform(2 * i + seed), 30.0 * uniform(2 * i + 1 + seed)))
            .collect();
        let found = straightness(&profile).unwrap();
        let across = |direction: &Vector2<f64>| span(profile.iter().map(|p| direction.perp(p))).width_mm;
        assert!((across(&found.direction) - found.zone_mm).abs() < 1e-9);
        assert!(found.zone_mm <= found.least_squares_mm + 1e-9);
        for k in 0..20_000 {
            let a = PI * f64::from(k) / 20_000.0;
            assert!(across(&Vector2::new(a.cos(), a.sin())) >= found.zone_mm - 1e-9);
        }
    }
    let line: Vec<Vector2<f64>> = (0..5).map(|i| Vector2::new(f64::from(i), 2.0)).collect();
    let found = straightness(&line).unwrap();
    assert!(found.zone_mm < 1e-12 && (found.direction - Vector2::x()).norm() < 1e-12);
    assert!(straightness(&[Vector2::new(3.0, 1.0); 4]).is_none());
}

/// A rim of 25 mm radius about (7, 3) with the deviation given of the angle.
fn rim(count: u32, deviation: impl Fn(f64, u64) -> f64) -> Vec<Vector2<f64>> {
    (0..count)
        .map(|i| {
            let a = TAU * f64::from(i) / f64::from(count);
            Vector2::new(7.0, 3.0) + Vector2::new(a.cos(), a.sin()) * (25.0 + deviation(a, u64::from(i)))
        })
        .collect()
}

#[test]
fn two_lobes_stand_out_by_both_their_heights() {
    for count in [12, 40, 20_000] {
        let found = roundness(&rim(count, |a, _| 0.2 * (2.0 * a).cos())).unwrap();
        assert!((found.zone_mm - 0.4).abs() < 1e-9, "{found:?}");
        assert!((found.centre - Vector2::new(7.0, 3.0)).norm() < 1e-6);
        assert!((found.radii_mm[0] - 24.8).abs() < 1e-6 && (found.radii_mm[1] - 25.2).abs() < 1e-6);
    }
}

#[test]
fn the_circles_hold_all_and_no_other_centre_is_narrower() {
    for count in [5, 9, 200] {
        let points = rim(count, |_, i| 0.3 * uniform(i + u64::from(count)));
        let found = roundness(&points).unwrap();
        let about = |centre: &Vector2<f64>| span(points.iter().map(|p| (p - centre).norm())).width_mm;
        assert!((about(&found.centre) - found.zone_mm).abs() < 1e-9);
        assert!(found.zone_mm <= found.least_squares_mm + 1e-9);
        for k in 0..20_000u64 {
            // Dense near the centre, thin as far as a whole radius away.
            let far = 25.0 * uniform(2 * k).powi(4);
            let turn = TAU * uniform(2 * k + 1);
            let centre = found.centre + Vector2::new(turn.cos(), turn.sin()) * far;
            assert!(about(&centre) >= found.zone_mm - 1e-9);
        }
    }
}

#[test]
fn an_arc_has_no_roundness() {
    let whole = rim(100, |_, i| 0.1 * uniform(i));
    assert!(roundness(&whole[..60]).is_some());
    assert!(roundness(&whole[..45]).is_none());
    assert!(roundness(&whole[..3]).is_none());
}

#[test]
fn a_straight_edge_shows_the_sag_however_it_leans() {
    for lean in [0.0f64, 0.3, -0.5] {
        let (sin, cos) = lean.sin_cos();
        let mut profile: Vec<Vector2<f64>> = (-50..=50)
            .map(|x| {
                let (x, y) = (f64::from(x), f64::from(x).powi(2) * 2.0 / 2500.0);
                Vector2::new(cos * x - sin * y, sin * x + cos * y)
            })
            .collect();
        let ends = [profile[0], profile[100]];
        let deepest = profile[50];
        profile.reverse();
        let found = straight_edge(&profile).unwrap();
        assert!((found.mm - 2.0).abs() < 1e-12, "{found:?}");
        assert!((found.at - deepest).norm() < 1e-12);
        assert_eq!(found.rests, ends);
    }
}

#[test]
fn of_several_settings_the_widest_gap_is_told_and_a_crown_shows_none() {
    let places = [
        (0.0, 0.0),
        (10.0, -1.0),
        (20.0, 3.0),
        (20.0, -9.0),
        (30.0, 1.0),
        (40.0, 2.0),
    ];
    let profile = places.map(|(x, y)| Vector2::new(x, y));
    let found = straight_edge(&profile[..3]).unwrap();
    // From (0, 0) to (20, 3) the edge stands 1.5 over x = 10: 2.5 above the profile, upright.
    assert!((found.mm - 2.5 * 20.0 / 409.0f64.sqrt()).abs() < 1e-12);
    let found = straight_edge(&profile).unwrap();
    assert_eq!((found.at, found.rests), (profile[3], [profile[0], profile[2]]));
    let crown: Vec<Vector2<f64>> = (-5..=5)
        .map(|x| Vector2::new(f64::from(x), -f64::from(x).powi(2)))
        .collect();
    assert!(straight_edge(&crown).unwrap().mm < 1e-12);
    assert!(straight_edge(&profile[2..4]).is_none() && straight_edge(&[]).is_none());
}
