//! How well trim edges are read: bias ± spread of a planted shortness over spacing and noise, and of one set alone.

use cloud::statistics::{mean, percentile_of_sorted, standard_deviation};
use cloud::{Body, Cloud, Frame, Motion, Point, Scan, Surface, Vector};
use features::edge::{self, Run, Seen};

use crate::uniform;

/// How short one edge of the plate is planted, mm (7/32 in).
const SHORT_MM: f64 = 25.4 * 7.0 / 32.0;
/// The plate, mm.
const SIDES_MM: [f64; 2] = [200.0, 120.0];
const SPACINGS_MM: [f64; 5] = [0.5, 1.0, 2.0, 3.0, 4.0];
const NOISES_MM: [f64; 2] = [0.05, 0.2];
const SEEDS: u64 = 10;
/// What is asked of one set alone at a spacing, mm: half the 95 % band of the outermost point (0.003, 0.007 and 0.016 in).
const ASKED_MM: [(f64, f64); 3] = [(1.0, 0.076), (2.0, 0.18), (3.0, 0.41)];

/// A plate scanned: points at random, noise of about `noise_mm` up and down.
fn plate<F: Frame>(width_mm: f64, spacing_mm: f64, noise_mm: f64, seed: u64) -> Option<Surface<F>> {
    let count = (width_mm * SIDES_MM[1] / spacing_mm.powi(2)) as u64;
    let points: Vec<Point> = (0..count)
        .map(|i| {
            let k = 8 * (i + seed * 10_000_000);
            // The sum of three has a standard deviation of a half.
            let off: f64 = (2..5).map(|j| uniform(k + j)).sum::<f64>() - 1.5;
            Point::new(
                width_mm * uniform(k),
                SIDES_MM[1] * uniform(k + 1),
                2.0 * noise_mm * off,
            )
        })
        .collect();
    let mut cloud = Cloud::from_points(points);
    cloud.normals = Some(vec![Vector::z(); cloud.points_mm.len()]);
    Surface::new(cloud, None).ok().map(|(surface, _)| surface)
}

/// How far outside of the plate's edge the reference's was read in a run, mm.
fn off_mm(run: &Run) -> f64 {
    let axis = if run.outward.x.abs() > run.outward.y.abs() {
        0
    } else {
        1
    };
    let outward = run.outward[axis];
    let edge = if outward > 0.0 { SIDES_MM[axis] } else { 0.0 };
    (run.middle[axis] - edge) / outward
}

/// Half the 95 % band of values, and what was asked.
fn band(values: &mut [f64], spacing_mm: f64) -> String {
    values.sort_unstable_by(f64::total_cmp);
    let half = (percentile_of_sorted(values, 0.975) - percentile_of_sorted(values, 0.025)) / 2.0;
    let asked = ASKED_MM.iter().find(|(at, _)| *at == spacing_mm);
    asked.map_or(format!("{half:.3}"), |(_, asked)| format!("{half:.3} of {asked}"))
}

/// Prints the table.
pub fn table() {
    println!(
        "\n### Trim edges: one side planted 7/32 in (5.56 mm) short, runs of the side that is and of those that are not\n"
    );
    println!(
        "| spacing mm | noise mm | short side: bias ± spread mm | others: bias ± spread mm | ± stated mm | in the ± | seen | one set: bias ± spread mm | half its 95 % band of what is asked mm |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    for spacing_mm in SPACINGS_MM {
        for noise_mm in NOISES_MM {
            let (mut short, mut others, mut stated) = (Vec::new(), Vec::new(), Vec::new());
            let mut alone = Vec::new();
            let (mut held, mut seen, mut all) = (0usize, 0usize, 0usize);
            for seed in 0..SEEDS {
                let (Some(reference), Some(measured)) = (
                    plate::<Body>(SIDES_MM[0], spacing_mm, noise_mm, 2 * seed),
                    plate::<Scan>(SIDES_MM[0] - SHORT_MM, spacing_mm, noise_mm, 2 * seed + 1),
                ) else {
                    continue;
                };
                let found = edge::compared(
                    &reference,
                    &measured,
                    &Motion::identity(),
                    &|_| None,
                    25.4 / 16.0,
                    &|_, _| 0.0,
                );
                for run in found.iter().flat_map(|e| &e.runs) {
                    all += 1;
                    let Seen::Short { mm, pm_mm } = run.seen else {
                        continue;
                    };
                    seen += 1;
                    alone.push(off_mm(run));
                    let planted = if run.outward.x > 0.7 { SHORT_MM } else { 0.0 };
                    stated.push(pm_mm);
                    held += usize::from((mm - planted).abs() <= pm_mm);
                    if planted > 0.0 {
                        short.push(mm - planted);
                    } else {
                        others.push(mm);
                    }
                }
            }
            let of = |values: &[f64]| format!("{:+.3} ± {:.3}", mean(values), standard_deviation(values));
            println!(
                "| {spacing_mm} | {noise_mm} | {} | {} | {:.3} | {:.0} % | {:.0} % | {} | {} |",
                of(&short),
                of(&others),
                mean(&stated),
                100.0 * held as f64 / seen.max(1) as f64,
                100.0 * seen as f64 / all.max(1) as f64,
                of(&alone),
                band(&mut alone, spacing_mm)
            );
        }
    }
}
