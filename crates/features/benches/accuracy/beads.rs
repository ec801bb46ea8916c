//! How well beads are read: bias ± spread of depth, place, width and outer radius over spacing and noise; a ring and an L, too.

use cloud::statistics::{mean, standard_deviation};
use cloud::{Body, Cloud, Point, Surface, Vector};
use features::bead;
use features::wall_profile::profile;

use crate::uniform;

/// The bead: straight through a strip of metal, walls at 1 rad, a flat top; mm.
const DEPTH_MM: f64 = 6.35;
const WIDTH_MM: f64 = 25.4;
const WALL: f64 = 1.0;
const INNER_MM: f64 = 3.2;
const OUTER_MM: [f64; 2] = [1.6, 4.8];
/// The strip, mm.
const LENGTH_MM: f64 = 300.0;
const ACROSS_MM: f64 = 120.0;
/// Where the bead's middle lies across.
const PLACE_MM: f64 = 61.3;
const SPACINGS_MM: [f64; 4] = [0.5, 1.0, 2.0, 4.0];
const NOISES_MM: [f64; 3] = [0.05, 0.1, 0.3];
const SEEDS: u64 = 10;
/// The sheet of a ring or an L, mm; radius of the ring's middle line and of that of the L's corner, and the L's two legs.
const SHEET_MM: [f64; 2] = [380.0, 320.0];
const RING_MM: f64 = 50.0;
const CORNER_MM: f64 = 25.0;
const LEGS_MM: [f64; 2] = [150.0, 100.0];
/// Middle of the ring, and where the L's legs would meet, mm.
const MIDDLE_MM: [f64; 2] = [190.3, 160.7];
const MEET_MM: [f64; 2] = [110.3, 90.7];

/// A deviate of the standard normal distribution (Box & Muller 1958).
fn deviate(i: u64) -> f64 {
    (-2.0 * (1.0 - uniform(i)).max(f64::MIN_POSITIVE).ln()).sqrt()
        * (std::f64::consts::TAU * uniform(i + 1)).cos()
}

/// The strip scanned: points at random, as dense on the walls as on the flat, noise along the normal.
fn strip(outer_mm: f64, spacing_mm: f64, noise_mm: f64, seed: u64) -> Option<Surface<Body>> {
    let height = |y: f64| {
        profile(
            WIDTH_MM / 2.0 - (y - PLACE_MM).abs(),
            DEPTH_MM,
            WALL,
            outer_mm,
            INNER_MM,
        )
    };
    // The walls have more metal than the plan shows.
    let steepest = 1.0 / WALL.cos();
    let count = (LENGTH_MM * ACROSS_MM / spacing_mm.powi(2) * steepest) as u64;
    let (mut points, mut normals) = (Vec::new(), Vec::new());
    for i in 0..count {
        let k = 6 * (i + seed * 100_000_000);
        let (x, y) = (LENGTH_MM * uniform(k), ACROSS_MM * uniform(k + 1));
        let slope = (height(y + 1e-4) - height(y - 1e-4)) / 2e-4;
        if uniform(k + 2) * steepest > slope.hypot(1.0) {
            continue;
        }
        let normal = Vector::new(0.0, -slope, 1.0).normalize();
        points.push(Point::new(x, y, height(y)) + normal * (noise_mm * deviate(k + 3)));
        normals.push(normal);
    }
    let mut cloud = Cloud::from_points(points);
    cloud.normals = Some(normals);
    Surface::new(cloud, None).ok().map(|(surface, _)| surface)
}

/// A bead that is not straight.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Bent {
    Ring,
    L,
}

impl Bent {
    /// How far a place lies from the middle line, mm.
    fn off_line(self, x: f64, y: f64) -> f64 {
        if self == Bent::Ring {
            return ((x - MIDDLE_MM[0]).hypot(y - MIDDLE_MM[1]) - RING_MM).abs();
        }
        let (x, y) = (x - MEET_MM[0], y - MEET_MM[1]);
        let leg = |along: f64, across: f64, to: f64| across.hypot(along - along.clamp(CORNER_MM, to));
        let corner = if x < CORNER_MM && y < CORNER_MM {
            ((x - CORNER_MM).hypot(y - CORNER_MM) - CORNER_MM).abs()
        } else {
            f64::INFINITY
        };
        corner.min(leg(x, y, LEGS_MM[0])).min(leg(y, x, LEGS_MM[1]))
    }

    /// How far off the places across were read, mm: of the ring its middle, of the L its sections, on the average of each leg.
    fn off_place(self, found: &bead::Bead) -> Vec<f64> {
        if self == Bent::Ring {
            return vec![found.at.x - MIDDLE_MM[0], found.at.y - MIDDLE_MM[1]];
        }
        let off = |rearward: bool| {
            let of: Vec<f64> = found
                .sections
                .iter()
                .map(|s| (s.at.x - MEET_MM[0], s.at.y - MEET_MM[1]))
                .filter(|(x, y)| (x > y) == rearward)
                .map(|(x, y)| if rearward { y } else { x })
                .collect();
            mean(&of)
        };
        vec![off(true), off(false)]
    }
}

/// A sheet with a ring or an L scanned, as the strip is.
fn bent_sheet(bent: Bent, spacing_mm: f64, noise_mm: f64, seed: u64) -> Option<Surface<Body>> {
    let height = |x: f64, y: f64| {
        let inward = WIDTH_MM / 2.0 - bent.off_line(x, y);
        profile(inward, DEPTH_MM, WALL, OUTER_MM[1], INNER_MM)
    };
    let steepest = 1.0 / WALL.cos();
    let count = (SHEET_MM[0] * SHEET_MM[1] / spacing_mm.powi(2) * steepest) as u64;
    let (mut points, mut normals) = (Vec::new(), Vec::new());
    for i in 0..count {
        let k = 6 * (i + seed * 100_000_000);
        let (x, y) = (SHEET_MM[0] * uniform(k), SHEET_MM[1] * uniform(k + 1));
        let slope = |dx: f64, dy: f64| (height(x + dx, y + dy) - height(x - dx, y - dy)) / 2e-4;
        let (along, across) = (slope(1e-4, 0.0), slope(0.0, 1e-4));
        if uniform(k + 2) * steepest > along.hypot(across).hypot(1.0) {
            continue;
        }
        let normal = Vector::new(-along, -across, 1.0).normalize();
        points.push(Point::new(x, y, height(x, y)) + normal * (noise_mm * deviate(k + 3)));
        normals.push(normal);
    }
    let mut cloud = Cloud::from_points(points);
    cloud.normals = Some(normals);
    Surface::new(cloud, None).ok().map(|(surface, _)| surface)
}

fn bias_and_spread(off: &[f64]) -> String {
    if off.len() < 2 {
        return "can't tell".to_string();
    }
    format!("{:+.3} ± {:.3}", mean(off), 2.0 * standard_deviation(off))
}

/// Prints the table, in Markdown, mm: bias ± two standard deviations over ten seeds of a trapezoid bead 6.35 deep and 25.4
/// wide; the share of depths, places and widths that lie within their own ±; and how often the outer radius was told. Then
/// the same of a ring and of an L.
#[allow(clippy::print_stdout)]
pub fn table() {
    println!(
        "| outer radius | spacing | noise | found | depth | place | width | within their ± | radius told | radius |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    for outer in OUTER_MM {
        for spacing in SPACINGS_MM {
            for noise in NOISES_MM {
                row(outer, spacing, noise);
            }
        }
    }
    println!(
        "\n| bead | spacing | noise | found | depth | place | width | within their ± | size of the ring |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    for bent in [Bent::Ring, Bent::L] {
        for spacing in &SPACINGS_MM[1..] {
            for noise in &NOISES_MM[1..] {
                bent_row(bent, *spacing, *noise);
            }
        }
    }
}

#[allow(clippy::print_stdout)]
fn bent_row(bent: Bent, spacing_mm: f64, noise_mm: f64) {
    let (mut depth, mut place, mut width, mut size) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let (mut within, mut figures) = (0, 0);
    for seed in 0..SEEDS {
        let Some(surface) = bent_sheet(bent, spacing_mm, noise_mm, seed) else {
            continue;
        };
        let all: Vec<u32> = (0..surface.points().len() as u32).collect();
        let beads = bead::read(&surface, &all);
        let [found] = beads.as_slice() else {
            continue;
        };
        depth.push(found.depth_mm - DEPTH_MM);
        width.push(found.width_mm - WIDTH_MM);
        let off_place = bent.off_place(found);
        let off = [
            (found.depth_mm - DEPTH_MM, found.pm_depth_mm),
            (found.width_mm - WIDTH_MM, found.pm_width_mm),
            (off_place[0], found.pm_place_mm),
            (off_place[1], found.pm_place_mm),
        ];
        within += off.iter().filter(|(off, pm)| off.abs() <= *pm).count();
        figures += off.len();
        place.extend(off_place);
        size.extend(found.closed.then_some(found.length_mm - 2.0 * RING_MM));
    }
    println!(
        "| {bent:?} | {spacing_mm} | {noise_mm} | {} of {SEEDS} | {} | {} | {} | {within} of {figures} | {} |",
        depth.len(),
        bias_and_spread(&depth),
        bias_and_spread(&place),
        bias_and_spread(&width),
        bias_and_spread(&size),
    );
}

#[allow(clippy::print_stdout)]
fn row(outer_mm: f64, spacing_mm: f64, noise_mm: f64) {
    let (mut depth, mut place, mut width, mut radius) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let (mut within, mut figures) = (0, 0);
    for seed in 0..SEEDS {
        let Some(surface) = strip(outer_mm, spacing_mm, noise_mm, seed) else {
            continue;
        };
        let all: Vec<u32> = (0..surface.points().len() as u32).collect();
        let beads = bead::read(&surface, &all);
        // More than one is as wrong as none.
        let [found] = beads.as_slice() else {
            continue;
        };
        let off = [
            (found.depth_mm - DEPTH_MM, found.pm_depth_mm),
            (found.at.y - PLACE_MM, found.pm_place_mm),
            (found.width_mm - WIDTH_MM, found.pm_width_mm),
        ];
        for (off, list) in off.iter().zip([&mut depth, &mut place, &mut width]) {
            list.push(off.0);
            within += i32::from(off.0.abs() <= off.1);
            figures += 1;
        }
        radius.extend(found.outer_radius_mm.map(|r| r - outer_mm));
    }
    println!(
        "| {outer_mm} | {spacing_mm} | {noise_mm} | {} of {SEEDS} | {} | {} | {} | {within} of {figures} | {} | {} |",
        depth.len(),
        bias_and_spread(&depth),
        bias_and_spread(&place),
        bias_and_spread(&width),
        radius.len(),
        bias_and_spread(&radius),
    );
}
