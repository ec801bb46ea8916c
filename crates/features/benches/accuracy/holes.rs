//! How well round holes are read: bias and spread of centre and diameter over diameters and spacings.

use cloud::statistics::{mean, standard_deviation};
use cloud::{Cloud, Point, Scan, Surface, Vector};
use features::holes::{Hole, find};

use crate::uniform;

const DIAMETERS_MM: [f64; 5] = [6.0, 11.1, 19.0, 38.0, 60.0];
const SPACINGS_MM: [f64; 4] = [0.5, 1.0, 2.0, 3.0];
const NOISE_MM: f64 = 0.1;
const SEEDS: u64 = 20;

/// A square plate three diameters wide with a hole in its middle: points at random, the noise up and down only.
fn plate(diameter_mm: f64, spacing_mm: f64, seed: u64) -> Option<Surface<Scan>> {
    let side = 3.0 * diameter_mm;
    let count = (side / spacing_mm).powi(2) as u64;
    let points: Vec<Point> = (0..count)
        .map(|i| {
            let k = 8 * (i + seed * 1_000_000);
            // The sum of three has a standard deviation of a half.
            let off: f64 = (2..5).map(|j| uniform(k + j)).sum::<f64>() - 1.5;
            Point::new(
                side * (uniform(k) - 0.5),
                side * (uniform(k + 1) - 0.5),
                2.0 * NOISE_MM * off,
            )
        })
        .filter(|p| p.x.hypot(p.y) > diameter_mm / 2.0)
        .collect();
    let mut cloud = Cloud::from_points(points);
    cloud.normals = Some(vec![Vector::z(); cloud.points_mm.len()]);
    Surface::new(cloud, None).ok().map(|(surface, _)| surface)
}

/// Prints the table.
pub fn table() {
    println!("\n### Round holes, noise {NOISE_MM} mm along the normal, {SEEDS} plates each\n");
    println!(
        "| diameter mm | spacing mm | found | centre: bias ± spread mm (spacings) | diameter: bias ± spread mm (spacings) | ± stated: centre, diameter mm | in the ± | others found |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for diameter_mm in DIAMETERS_MM {
        for spacing_mm in SPACINGS_MM {
            row(diameter_mm, spacing_mm);
        }
    }
}

fn row(diameter_mm: f64, spacing_mm: f64) {
    let mut found: Vec<Hole> = Vec::new();
    let mut others = 0;
    for surface in (0..SEEDS).filter_map(|seed| plate(diameter_mm, spacing_mm, seed)) {
        let (here, elsewhere): (Vec<Hole>, Vec<Hole>) = find(&surface)
            .into_iter()
            .partition(|h| h.slot.is_none() && h.at.x.hypot(h.at.y) < diameter_mm / 2.0);
        found.extend(here);
        others += elsewhere.len();
    }
    // Both directions across the axis are one and the same by symmetry.
    let centre: Vec<f64> = found.iter().flat_map(|h| [h.at.x, h.at.y]).collect();
    let size: Vec<f64> = found.iter().map(|h| h.diameter_mm - diameter_mm).collect();
    let of = |values: &[f64]| {
        if values.len() < 4 {
            return "–".to_string();
        }
        let (bias, spread) = (mean(values), standard_deviation(values));
        format!(
            "{bias:+.3} ± {spread:.3} ({:+.3} ± {:.3})",
            bias / spacing_mm,
            spread / spacing_mm
        )
    };
    let stated = |pm: fn(&Hole) -> f64| mean(&found.iter().map(pm).collect::<Vec<f64>>());
    let held = found
        .iter()
        .map(|h| {
            usize::from(h.at.x.abs() <= h.place_pm_mm)
                + usize::from(h.at.y.abs() <= h.place_pm_mm)
                + usize::from((h.diameter_mm - diameter_mm).abs() <= h.size_pm_mm)
        })
        .sum::<usize>();
    println!(
        "| {diameter_mm} | {spacing_mm} | {:.0} % | {} | {} | {:.3}, {:.3} | {:.0} % | {others} |",
        100.0 * found.len() as f64 / SEEDS as f64,
        of(&centre),
        of(&size),
        stated(|h| h.place_pm_mm),
        stated(|h| h.size_pm_mm),
        100.0 * held as f64 / (3 * found.len()).max(1) as f64,
    );
}
