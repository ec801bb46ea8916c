//! Where a bead ends at half depth.
//!
//! Near its end a bead runs out by its own profile, turned about the end of its middle line: so dies leave it. Along a strip of
//! half its width that profile is slid until it lies on the points best; a square end of the same wall differs there by less
//! than a fiftieth of the width.

use super::section::Laid;
use cloud::bisquare::bisquare_loss;

/// Half of the strip, as a share of the width.
const STRIP: f64 = 0.25;
/// How far around the outline's end it is looked for, and how much metal beyond is looked at, mm.
const AROUND_MM: f64 = 20.0;
const BEYOND_MM: f64 = 19.05;
/// Fewest points of a strip.
const FEWEST: usize = 10;
/// Steps of the search, mm, each about the best of the last.
const STEPS_MM: [f64; 3] = [1.0, 0.25, 0.05];
/// Heights off by more than this share of the depth, or so many scatters, count alike.
const FAR: f64 = 0.4;
const SCATTERS: f64 = 14.0;

/// What is known of the bead whose end is looked for.
pub(super) struct Run<'a> {
    /// Height as a share of the depth at a place across from the middle line.
    pub profile: &'a dyn Fn(f64) -> f64,
    pub depth_mm: f64,
    pub width_mm: f64,
    pub scatter_mm: f64,
}

/// Where the bead ends along, from points beside its middle line; `direction` is −1 for its first end, +1 for its last, and
/// `about_mm` where the outline has that end. `None` where too few points show it.
pub(super) fn end(run: &Run, points: &[Laid], direction: f64, about_mm: f64) -> Option<f64> {
    let about = direction * about_mm;
    let strip: Vec<(f64, f64, f64)> = points
        .iter()
        .map(|p| (direction * p.along, p.across, p.height))
        .filter(|(along, across, _)| {
            across.abs() < STRIP * run.width_mm && (along - about).abs() < run.width_mm + BEYOND_MM
        })
        .collect();
    let beyond = strip.iter().filter(|(along, ..)| *along > about).count();
    if strip.len() < FEWEST || beyond < FEWEST / 3 {
        return None;
    }
    let cut = (FAR * run.depth_mm).max(SCATTERS * run.scatter_mm);
    let cost = |end: f64| {
        let centre = end - run.width_mm / 2.0;
        strip
            .iter()
            .map(|(along, across, height)| {
                let from_line = across.hypot((along - centre).max(0.0));
                bisquare_loss(height - run.depth_mm * (run.profile)(from_line), cut)
            })
            .sum::<f64>()
    };
    let mut best = about;
    let mut reach = AROUND_MM;
    for step in STEPS_MM {
        let count = (reach / step).round() as i32;
        let places = (-count..=count).map(|k| best + f64::from(k) * step);
        let least = places
            .map(|place| (cost(place), place))
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        best = least.1;
        reach = step;
    }
    Some(direction * best)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    /// A raised cosine 31.75 mm wide at its foot whose half-depth end lies at 57.3 mm; 4 mm spacing, 0.1 mm of noise.
    #[test]
    fn a_round_end_is_found_to_a_share_of_the_spacing() {
        let cosine = |x: f64| {
            let t = x / 15.875;
            if t.abs() < 1.0 {
                0.5 * (1.0 + (std::f64::consts::PI * t).cos())
            } else {
                0.0
            }
        };
        let run = Run {
            profile: &cosine,
            depth_mm: 6.35,
            width_mm: 15.875,
            scatter_mm: 0.1,
        };
        for direction in [-1.0, 1.0] {
            for seed in 0..10u64 {
                let points: Vec<Laid> = (0..500u64)
                    .map(|i| {
                        let k = 5 * (i + 1000 * seed);
                        let (along, across) = (100.0 * uniform(k), 80.0 * uniform(k + 1) - 40.0);
                        let rough = 0.2 * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5);
                        let centre: f64 = 57.3 - 15.875 / 2.0;
                        Laid {
                            along: direction * along,
                            across,
                            height: 6.35 * cosine(across.hypot((along - centre).max(0.0))) + rough,
                        }
                    })
                    .collect();
                let found = end(&run, &points, direction, direction * 60.0).unwrap();
                assert!((found - direction * 57.3).abs() < 0.6, "{found}");
            }
        }
    }
}
