//! Beads and a drain dish on an invented floor, found, read and matched.

use super::*;
use crate::made::uniform;
use cloud::{Body, Cloud, Motion, Scan};

/// A raised cosine: 1 at 0, 0 from ±1 on.
fn hump(t: f64) -> f64 {
    if t.abs() < 1.0 {
        0.5 * (1.0 + (std::f64::consts::PI * t).cos())
    } else {
        0.0
    }
}

/// A floor pan, mm: X from 50 to 1270, Y from 127 to 610.
#[derive(Clone, Copy)]
struct Floor {
    /// Beads along X: where across, from and to, depth.
    beads: [Option<(f64, [f64; 2], f64)>; 3],
    /// A drain dish at (1016, 305), 4 in across at its rim: how deep.
    dish: f64,
    /// How far its middle stands over its edges.
    crown: f64,
}

const IN: f64 = 25.4;

impl Floor {
    const FULL: Self = Self {
        beads: [
            Some((9.5 * IN, [8.0 * IN, 44.0 * IN], 0.25 * IN)),
            Some((14.5 * IN, [8.0 * IN, 44.0 * IN], 0.25 * IN)),
            Some((19.5 * IN, [14.0 * IN, 44.0 * IN], 0.25 * IN)),
        ],
        dish: 0.3125 * IN,
        crown: 5.0,
    };

    const BARE: Self = Self {
        beads: [None; 3],
        dish: 0.0,
        crown: 5.0,
    };

    fn height(&self, x: f64, y: f64) -> f64 {
        let mut height = self.crown * hump((x - 660.0) / 620.0) * hump((y - 368.0) / 260.0);
        for (place, [from, to], depth) in self.beads.iter().flatten() {
            let along = (from + 15.875 - x).max(x - (to - 15.875)).max(0.0);
            height += depth * hump((y - place).hypot(along) / 15.875);
        }
        let rise = ((2.0 * IN - (x - 40.0 * IN).hypot(y - 12.0 * IN)) / (0.5 * IN)).clamp(0.0, 1.0);
        height - self.dish * rise * rise * (3.0 - 2.0 * rise)
    }
}

/// Points on a floor, as many as the spacing asks for, off it by the noise; only where `seen`.
fn cloud<F: cloud::Frame>(
    height: impl Fn(f64, f64) -> f64,
    spacing: f64,
    noise: f64,
    seed: u64,
    seen: impl Fn(&Point) -> bool,
) -> Cloud<F> {
    let count = (1220.0 * 483.0 / spacing / spacing) as u64;
    let (mut points, mut normals) = (Vec::new(), Vec::new());
    for i in 0..count {
        let k = 5 * (i + seed * 10_000_000);
        let (x, y) = (50.0 + 1220.0 * uniform(k), 127.0 + 483.0 * uniform(k + 1));
        let slope = |dx: f64, dy: f64| (height(x + dx, y + dy) - height(x - dx, y - dy)) / 0.02;
        let normal = Vector::new(-slope(0.01, 0.0), -slope(0.0, 0.01), 1.0).normalize();
        let off = 2.0 * noise * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5);
        let point = Point::new(x, y, 508.0 + height(x, y)) + normal * off;
        if seen(&point) {
            points.push(point);
            normals.push(normal);
        }
    }
    let mut cloud = Cloud::from_points(points);
    cloud.normals = Some(normals);
    cloud
}

fn surface(floor: Floor, spacing: f64, noise: f64, seed: u64) -> Surface<Body> {
    let cloud = cloud(|x, y| floor.height(x, y), spacing, noise, seed, |_| true);
    Surface::new(cloud, None).unwrap().0
}

/// How the measured set of the tests lies: turned and far off.
pub(super) fn pose() -> Motion<Scan, Body> {
    Motion::turn_about(
        Vector::new(0.4, -0.2, 2.1),
        Point::new(100.0, 50.0, 0.0),
        Vector::new(300.0, -1200.0, 150.0),
    )
}

fn measured(floor: Floor, seed: u64, seen: impl Fn(&Point) -> bool) -> Surface<Scan> {
    let cloud: Cloud<Body> = cloud(|x, y| floor.height(x, y), 4.0, 0.1, seed, seen);
    Surface::new(cloud.moved(&pose().inverse()), None).unwrap().0
}

fn all<F: cloud::Frame>(surface: &Surface<F>) -> Vec<u32> {
    (0..surface.points().len() as u32).collect()
}

#[test]
fn three_beads_and_a_dish_are_found_on_a_crowned_floor_and_read_right() {
    let floor = surface(Floor::FULL, 4.0, 0.1, 1);
    let found = read(&floor, &all(&floor));
    let kinds: Vec<Kind> = found.iter().map(|b| b.kind).collect();
    assert_eq!(kinds, [Kind::Bead, Kind::Bead, Kind::Bead, Kind::Recess]);
    for (bead, (y, ends)) in found
        .iter()
        .zip([(9.5, [8.0, 44.0]), (14.5, [8.0, 44.0]), (19.5, [14.0, 44.0])])
    {
        assert!((bead.depth_mm - 6.35).abs() < 0.12, "{}", bead.depth_mm);
        assert!(bead.pm_depth_mm < 0.15, "{}", bead.pm_depth_mm);
        assert!((bead.width_mm - 15.875).abs() < 0.25, "{}", bead.width_mm);
        assert!((bead.at.y - y * IN).abs() < 0.2, "{}", bead.at);
        assert!(!bead.flat && bead.outer_radius_mm.is_none() && bead.straight);
        assert_eq!(bead.open, [false; 2]);
        // Half depth is met half way up the round ends.
        let from = ends[0] * IN + 7.94;
        let to = ends[1] * IN - 7.94;
        assert!((bead.ends[0].x - from).abs() < 1.2, "{} {from}", bead.ends[0]);
        assert!((bead.ends[1].x - to).abs() < 1.2, "{} {to}", bead.ends[1]);
        assert!((bead.length_mm - (to - from)).abs() < 1.6);
    }
    let dish = &found[3];
    assert!((dish.depth_mm + 7.94).abs() < 0.15, "{}", dish.depth_mm);
    assert!((dish.width_mm - 88.9).abs() < 0.4, "{}", dish.width_mm);
    let off = (dish.at.x - 40.0 * IN).hypot(dish.at.y - 12.0 * IN);
    assert!(off < 0.3, "{off}");
    assert_eq!(relief::found(&floor, &all(&floor)).len(), 4);
}

#[test]
fn nothing_is_found_on_bare_metal_however_it_is_bowed_dented_or_stepped() {
    let dent = |x: f64, y: f64| -4.0 * hump((x - 660.0).hypot(y - 368.0) / 60.0);
    let shapes: [Box<dyn Fn(f64, f64) -> f64>; 6] = [
        Box::new(|_: f64, _: f64| 0.0),
        Box::new(|x: f64, y: f64| Floor::BARE.height(x, y)),
        Box::new(|x: f64, _: f64| 6.0 * (x / 1220.0 * std::f64::consts::PI).sin()),
        Box::new(dent),
        Box::new(move |x: f64, y: f64| dent(2.0 * x - 660.0, 2.0 * y - 368.0)),
        Box::new(|x: f64, _: f64| if x > 700.0 { 7.6 } else { 0.0 }),
    ];
    for (k, shape) in shapes.iter().enumerate() {
        let noise = if k < 3 { 0.3 } else { 0.1 };
        let cloud = cloud(shape, 5.0, noise, k as u64, |_| true);
        let bare: Surface<Body> = Surface::new(cloud, None).unwrap().0;
        let found = read(&bare, &all(&bare));
        assert!(found.is_empty(), "shape {k}: {found:?}");
    }
}

/// A bead that runs under a bar is one bead; one that runs out of the region is open there.
#[test]
fn a_bead_under_a_bar_is_one_and_one_that_is_cut_is_open() {
    let floor = Floor {
        dish: 0.0,
        ..Floor::FULL
    };
    let seen = |p: &Point| !(34.0 * IN..37.0 * IN).contains(&p.x) && p.x < 42.0 * IN;
    let cloud = cloud(|x, y| floor.height(x, y), 4.0, 0.1, 3, seen);
    let surface: Surface<Body> = Surface::new(cloud, None).unwrap().0;
    let found = read(&surface, &all(&surface));
    assert_eq!(found.len(), 3);
    for bead in &found {
        assert_eq!(bead.open, [false, true]);
        assert!((bead.depth_mm - 6.35).abs() < 0.12, "{}", bead.depth_mm);
    }
}

#[test]
fn shallow_moved_missing_and_extra_are_told() {
    let reference = surface(
        Floor {
            dish: 0.0,
            crown: 0.0,
            ..Floor::FULL
        },
        4.0,
        0.1,
        5,
    );
    let pressed = Floor {
        beads: [
            Some((9.5 * IN, [8.0 * IN, 44.0 * IN], 7.0 / 32.0 * IN)),
            Some((14.625 * IN, [8.0 * IN, 43.5 * IN], 0.25 * IN)),
            None,
        ],
        ..Floor::FULL
    };
    let measured_set = measured(pressed, 6, |_| true);
    let pairs = matched(&reference, &all(&reference), &measured_set, &pose());
    let names: Vec<&str> = pairs.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["bead 1", "bead 2", "bead 3", "recess 1"]);
    assert_eq!(pairs[0].words, ["in its place", "1/32 shallow"]);
    assert_eq!(pairs[1].words[0], "1/8 to the right");
    assert!((pairs[1].moved_mm - Vector::y() * (IN / 8.0)).norm() < 0.25);
    assert!(
        pairs[1].words[1].starts_with("ends ") && pairs[1].words[1].ends_with(" short at the rear"),
        "{:?}",
        pairs[1].words
    );
    assert_eq!(pairs[2].words, ["missing"]);
    assert!(pairs[2].reference.is_some() && pairs[2].measured.is_none());
    assert_eq!(pairs[3].words, ["extra: the reference has none"]);
    assert!(pairs[3].reference.is_none());
    // Both stand up: the measured set takes the reference's outside.
    assert!(pairs[0].measured.as_ref().unwrap().depth_mm > 0.0);
}

#[test]
fn what_was_not_seen_is_not_missing() {
    let reference = surface(Floor::FULL, 4.0, 0.1, 7);
    let blind = |p: &Point| (p.y - 19.5 * IN).abs() > 1.5 * IN;
    let pairs = matched(
        &reference,
        &all(&reference),
        &measured(Floor::FULL, 8, blind),
        &pose(),
    );
    let names: Vec<&str> = pairs.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["bead 1", "bead 2", "recess 1"]);
    assert_eq!(pairs[0].words.len(), 1, "{:?}", pairs[0].words);
    for pair in &pairs {
        assert_eq!(pair.words[0], "in its place", "{}", pair.name);
    }
}

/// Rust has eaten the reference's middle bead through; the measured set has it whole.
#[test]
fn a_bead_that_is_parted_in_the_reference_is_there_where_the_measured_one_runs_through() {
    let floor = Floor {
        dish: 0.0,
        ..Floor::FULL
    };
    let rusted = |p: &Point| !((400.0..600.0).contains(&p.x) && (p.y - 14.5 * IN).abs() < 60.0);
    let cloud = cloud(|x, y| floor.height(x, y), 4.0, 0.1, 9, rusted);
    let reference: Surface<Body> = Surface::new(cloud, None).unwrap().0;
    assert_eq!(read(&reference, &all(&reference)).len(), 4);
    let pairs = matched(
        &reference,
        &all(&reference),
        &measured(floor, 10, |_| true),
        &pose(),
    );
    // Each piece of it lies on the whole one.
    assert_eq!(pairs.len(), 4);
    for pair in &pairs {
        assert_eq!(pair.words[0], "in its place", "{}", pair.name);
    }
}
