//! A ring and an L on an invented sheet, found, read round their bends, and matched.

use crate::bead::tests::pose;
use crate::bead::{Bead, Kind, matched, read, relief};
use crate::made::uniform;
use crate::wall_profile::profile;
use cloud::statistics::mean;
use cloud::{Body, Cloud, Frame, Point, Scan, Surface, Vector};

/// The sheet, mm.
const SHEET_MM: [f64; 2] = [380.0, 320.0];
const WIDTH_MM: f64 = 25.0;
const DEPTH_MM: f64 = 6.0;
/// Radius of the middle line of an L's corner.
const CORNER_MM: f64 = 25.0;

/// What is pressed into the sheet.
#[derive(Clone, Copy)]
enum Pressed {
    /// Round a middle, of this radius of its middle line.
    Ring([f64; 2], f64),
    /// From where its legs would meet, 150 rearward and 100 to the right.
    L([f64; 2]),
    /// A bead of 200 with one of 100 that leaves it in its middle.
    T([f64; 2]),
    /// A round dish of this radius.
    Dish([f64; 2], f64),
    /// A three-cornered recess about a middle, of this radius of its inscribed circle.
    Triangle([f64; 2], f64),
}

fn from_stretch(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let way = [b[0] - a[0], b[1] - a[1]];
    let d = [p[0] - a[0], p[1] - a[1]];
    let share = (d[0] * way[0] + d[1] * way[1]) / (way[0] * way[0] + way[1] * way[1]);
    let share = share.clamp(0.0, 1.0);
    (d[0] - share * way[0]).hypot(d[1] - share * way[1])
}

impl Pressed {
    /// How far inside of the half-depth line a place lies, mm.
    fn inside(&self, x: f64, y: f64) -> f64 {
        let from_line = match *self {
            Pressed::Ring(at, radius) => ((x - at[0]).hypot(y - at[1]) - radius).abs(),
            Pressed::L(at) => {
                let p = [x - at[0], y - at[1]];
                let r = CORNER_MM;
                let arc = if p[0] < r && p[1] < r {
                    ((p[0] - r).hypot(p[1] - r) - r).abs()
                } else {
                    f64::INFINITY
                };
                arc.min(from_stretch(p, [r, 0.0], [150.0, 0.0]))
                    .min(from_stretch(p, [0.0, r], [0.0, 100.0]))
            }
            Pressed::T(at) => {
                let p = [x - at[0], y - at[1]];
                from_stretch(p, [-100.0, 0.0], [100.0, 0.0]).min(from_stretch(p, [0.0, 0.0], [0.0, 100.0]))
            }
            Pressed::Triangle(at, radius) => {
                let p = [x - at[0], y - at[1]];
                let corner = |k: f64| {
                    let turn = k * std::f64::consts::TAU / 3.0;
                    [2.0 * radius * turn.cos(), 2.0 * radius * turn.sin()]
                };
                let corners = [0.0, 1.0, 2.0].map(corner);
                let edge = |k: usize| from_stretch(p, corners[k], corners[(k + 1) % 3]);
                let near = edge(0).min(edge(1)).min(edge(2));
                let within = (0..3).all(|k| {
                    let turn = (k as f64 + 0.5) * std::f64::consts::TAU / 3.0;
                    p[0] * turn.cos() + p[1] * turn.sin() < radius
                });
                WIDTH_MM / 2.0 + if within { -near } else { near }
            }
            Pressed::Dish(at, radius) => (x - at[0]).hypot(y - at[1]) - radius + WIDTH_MM / 2.0,
        };
        WIDTH_MM / 2.0 - from_line
    }
}

/// Points on the sheet at 2 mm with 0.1 mm of noise.
fn cloud<F: Frame>(pressed: Pressed, depth: f64, seed: u64) -> Cloud<F> {
    rough(pressed, depth, [2.0, 0.1], seed)
}

/// Points on the sheet at a spacing and with a noise.
fn rough<F: Frame>(pressed: Pressed, depth: f64, [spacing, noise]: [f64; 2], seed: u64) -> Cloud<F> {
    let height = |x: f64, y: f64| {
        if depth > 0.0 {
            profile(pressed.inside(x, y), depth, 0.9, 2.0, 3.0)
        } else {
            0.0
        }
    };
    let count = (SHEET_MM[0] * SHEET_MM[1] / spacing / spacing) as u64;
    let (mut points, mut normals) = (Vec::new(), Vec::new());
    for i in 0..count {
        let k = 5 * (i + seed * 1_000_000);
        let (x, y) = (SHEET_MM[0] * uniform(k), SHEET_MM[1] * uniform(k + 1));
        let slope = |dx: f64, dy: f64| (height(x + dx, y + dy) - height(x - dx, y - dy)) / 0.02;
        let normal = Vector::new(-slope(0.01, 0.0), -slope(0.0, 0.01), 1.0).normalize();
        let off = 2.0 * noise * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5);
        points.push(Point::new(x, y, 500.0 + height(x, y)) + normal * off);
        normals.push(normal);
    }
    let mut cloud = Cloud::from_points(points);
    cloud.normals = Some(normals);
    cloud
}

fn surface(pressed: Pressed, depth: f64, seed: u64) -> Surface<Body> {
    Surface::new(cloud(pressed, depth, seed), None).unwrap().0
}

fn measured(pressed: Pressed, depth: f64, seed: u64) -> Surface<Scan> {
    let cloud: Cloud<Body> = cloud(pressed, depth, seed);
    Surface::new(cloud.moved(&pose().inverse()), None).unwrap().0
}

fn all<F: Frame>(surface: &Surface<F>) -> Vec<u32> {
    (0..surface.points().len() as u32).collect()
}

fn only(surface: &Surface<Body>) -> Bead {
    let mut found = read(surface, &all(surface));
    assert_eq!(found.len(), 1, "{found:?}");
    found.remove(0)
}

fn has_the_right_section(bead: &Bead) {
    assert_eq!(bead.kind, Kind::Bead);
    assert!((bead.depth_mm - DEPTH_MM).abs() < 0.1, "{}", bead.depth_mm);
    assert!((bead.width_mm - WIDTH_MM).abs() < 0.3, "{}", bead.width_mm);
    assert!(bead.flat && !bead.straight);
    assert!((bead.wall.unwrap() - 0.9).abs() < 0.1, "{:?}", bead.wall);
    for section in &bead.sections {
        assert!((section.depth_mm - DEPTH_MM).abs() < 0.3, "{section:?}");
        assert!((section.width_mm - WIDTH_MM).abs() < 1.0, "{section:?}");
    }
}

const RING: Pressed = Pressed::Ring([190.0, 160.0], 50.0);
const L: Pressed = Pressed::L([110.0, 90.0]);

#[test]
fn a_ring_is_read_round_its_middle_line() {
    let ring = only(&surface(RING, DEPTH_MM, 1));
    has_the_right_section(&ring);
    assert!(ring.closed && ring.open == [true; 2]);
    assert!((ring.at.x - 190.0).hypot(ring.at.y - 160.0) < 0.2, "{}", ring.at);
    assert!((ring.length_mm - 100.0).abs() < 0.4, "{}", ring.length_mm);
    for p in ring.middle_line.iter().chain(ring.sections.iter().map(|s| &s.at)) {
        let radius = (p.x - 190.0).hypot(p.y - 160.0);
        assert!((radius - 50.0).abs() < 0.4, "{radius}");
    }
    assert!(ring.sections.len() >= 20, "{}", ring.sections.len());
}

#[test]
fn an_l_is_read_along_its_legs_and_not_in_its_corner() {
    let l = only(&surface(L, DEPTH_MM, 2));
    has_the_right_section(&l);
    assert!(!l.closed && l.open == [false; 2]);
    let (mut rearward, mut across) = (0, 0);
    for section in &l.sections {
        let (x, y) = (section.at.x - 110.0, section.at.y - 90.0);
        if x > y {
            assert!(x > 35.0 && y.abs() < 0.4, "{}", section.at);
            rearward += 1;
        } else {
            assert!(y > 35.0 && x.abs() < 0.4, "{}", section.at);
            across += 1;
        }
    }
    assert!(rearward >= 5 && across >= 2, "{rearward} {across}");
    // Its ends at half depth lie half a width beyond those of its middle line.
    let [a, b] = l.ends;
    let (rear, right) = if a.x > b.x { (a, b) } else { (b, a) };
    assert!(
        (rear.x - 272.5).abs() < 0.8 && (rear.y - 90.0).abs() < 0.5,
        "{rear}"
    );
    assert!(
        (right.y - 202.5).abs() < 0.8 && (right.x - 110.0).abs() < 0.5,
        "{right}"
    );
}

#[test]
fn a_half_deep_ring_is_shallow_and_a_flat_sheet_has_none() {
    let reference = surface(RING, DEPTH_MM, 3);
    let pairs = matched(
        &reference,
        &all(&reference),
        &measured(RING, DEPTH_MM / 2.0, 4),
        &pose(),
    );
    assert_eq!(pairs.len(), 1, "{pairs:?}");
    assert_eq!(pairs[0].name, "bead 1");
    assert_eq!(pairs[0].words[..2], ["in its place", "1/8 shallow"]);
    let flat = measured(RING, 0.0, 5);
    let pairs = matched(&reference, &all(&reference), &flat, &pose());
    assert_eq!(pairs[0].words, ["missing"]);
}

#[test]
fn a_moved_l_and_a_moved_ring_are_told_with_their_motion() {
    let reference = surface(L, DEPTH_MM, 6);
    let there = measured(Pressed::L([113.2, 88.4]), DEPTH_MM, 7);
    let pairs = matched(&reference, &all(&reference), &there, &pose());
    assert_eq!(pairs.len(), 1, "{pairs:?}");
    let off = pairs[0].moved_mm - Vector::new(3.2, -1.6, 0.0);
    assert!(off.norm() < 0.25, "{}", pairs[0].moved_mm);
    assert_eq!(pairs[0].words[0], "1/8 rearward and 1/16 to the left");
    assert!(
        pairs[0].words.iter().all(|w| !w.contains("ends")),
        "{:?}",
        pairs[0].words
    );
    let reference = surface(RING, DEPTH_MM, 8);
    let there = measured(Pressed::Ring([190.0, 164.8], 51.6), DEPTH_MM, 9);
    let pairs = matched(&reference, &all(&reference), &there, &pose());
    assert_eq!(pairs[0].words[..2], ["3/16 to the right", "1/8 larger round"]);
}

#[test]
fn what_can_not_be_followed_is_outlined_and_not_read_round() {
    let t = surface(Pressed::T([190.0, 110.0]), DEPTH_MM, 10);
    assert_eq!(relief::found(&t, &all(&t)).len(), 1);
    assert!(
        read(&t, &all(&t))
            .iter()
            .all(|b| b.middle_line.is_empty() && !b.closed)
    );
    // A dish stays a recess.
    let dish = only(&surface(Pressed::Dish([190.0, 160.0], 45.0), DEPTH_MM, 11));
    assert_eq!(dish.kind, Kind::Recess);
    assert!((dish.width_mm - 90.0).abs() < 0.5, "{}", dish.width_mm);
}

/// How far a bead's place lies off: a ring's by its middle, an L's by the sections of either leg.
fn off_its_place(bead: &Bead) -> [f64; 2] {
    if bead.closed {
        return [bead.at.x - 190.0, bead.at.y - 160.0];
    }
    let leg = |rearward: bool, off: fn(&Point) -> f64| {
        let on_leg = |p: &&Point| (p.x - 110.0 > p.y - 90.0) == rearward;
        let of: Vec<f64> = bead
            .sections
            .iter()
            .map(|s| &s.at)
            .filter(on_leg)
            .map(off)
            .collect();
        mean(&of)
    };
    [leg(false, |p| p.x - 110.0), leg(true, |p| p.y - 90.0)]
}

/// An L of about six widths of the strip that its longest extent and its area give: some of these seeds lie above, where a bend
/// is drawn through it.
#[test]
fn an_l_and_a_ring_are_followed_however_the_points_fall_and_lie_within_their_pm() {
    let (mut held, mut asked) = (0, 0);
    for (pressed, sampled, seeds) in [
        (L, [2.0, 0.1], 13..17),
        (L, [4.0, 0.1], 20..25),
        (RING, [4.0, 0.1], 30..33),
    ] {
        for seed in seeds {
            let bead = only(
                &Surface::new(rough(pressed, DEPTH_MM, sampled, seed), None)
                    .unwrap()
                    .0,
            );
            assert!(!bead.middle_line.is_empty(), "{seed}: {} long", bead.length_mm);
            assert!(
                (bead.width_mm - WIDTH_MM).abs() < 0.6,
                "{seed}: {}",
                bead.width_mm
            );
            for off in off_its_place(&bead) {
                held += i32::from(off.abs() <= bead.pm_place_mm);
                asked += 1;
            }
        }
    }
    assert!(held * 10 >= asked * 9, "{held} of {asked}");
}

#[test]
fn a_t_and_a_triangle_are_followed_nowhere() {
    for seed in 40..43 {
        let read_of = |pressed: Pressed| {
            let cloud: Cloud<Body> = rough(pressed, DEPTH_MM, [4.0, 0.1], seed);
            let surface = Surface::new(cloud, None).unwrap().0;
            read(&surface, &all(&surface))
        };
        for bead in read_of(Pressed::T([190.0, 110.0])) {
            assert!(
                bead.middle_line.is_empty() && bead.width_mm > 10.0,
                "{seed}: {bead:?}"
            );
        }
        for bead in read_of(Pressed::Triangle([175.0, 160.0], 45.0)) {
            assert_eq!(bead.kind, Kind::Recess, "{seed}");
        }
    }
}
