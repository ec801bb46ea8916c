//! Where a bead ends at half depth.
//!
//! Near its end a bead runs out by its own profile, turned about the end of its middle line: so dies leave it. Others run out
//! far more gently. Along a strip of half its width that profile is slid, and drawn out or pushed together along the bead, until
//! it lies on the points best; a square end of the same wall differs there by less than a fiftieth of the width. Its ± is that of
//! the two unknowns, by what the points of the run-out are off then.

use super::section::{Laid, Told};
use cloud::bisquare::{bisquare, bisquare_loss};
use cloud::chance::student_t;

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
/// How many times as steeply as its walls a bead may run out.
const STEEPER: [f64; 11] = [0.2, 0.25, 0.3, 0.37, 0.45, 0.55, 0.67, 0.82, 1.0, 1.25, 1.6];
/// Steps by which it is told what moves a height: of the end, mm, and of the logarithm of its steepness.
const NUDGE_MM: f64 = 0.5;
const NUDGE: f64 = 0.05;
/// A point is of the run-out where the end moves its height by more than this share of the way.
const ON_RUN_OUT: f64 = 0.02;

/// What is known of the bead whose end is looked for.
pub(super) struct Run<'a> {
    /// Height as a share of the depth at a place across from the middle line.
    pub profile: &'a dyn Fn(f64) -> f64,
    pub depth_mm: f64,
    pub width_mm: f64,
    pub scatter_mm: f64,
}

impl Run<'_> {
    /// Height beside the middle line of a bead that ends at `end` and runs out `steeper` times as steeply as its walls, mm.
    fn height(&self, at: [f64; 2], end: f64, steeper: f64) -> f64 {
        let centre = end - self.width_mm / 2.0 / steeper;
        let [along, across] = at;
        let from_line = across.hypot(steeper * (along - centre).max(0.0));
        self.depth_mm * (self.profile)(from_line)
    }
}

/// Where the bead ends along, from points beside its middle line; `direction` is −1 for its first end, +1 for its last, and
/// `about_mm` where the outline has that end. `None` where too few points show it.
pub(super) fn end(run: &Run, points: &[Laid], direction: f64, about_mm: f64) -> Option<Told> {
    let about = direction * about_mm;
    let strip: Vec<Placed> = points
        .iter()
        .map(|p| ([direction * p.along, p.across], p.height))
        .filter(|([along, across], _)| {
            across.abs() < STRIP * run.width_mm && (along - about).abs() < run.width_mm + BEYOND_MM
        })
        .collect();
    let beyond = strip.iter().filter(|([along, _], _)| *along > about).count();
    if strip.len() < FEWEST || beyond < FEWEST / 3 {
        return None;
    }
    let cut = (FAR * run.depth_mm).max(SCATTERS * run.scatter_mm);
    let cost = |end: f64, steeper: f64| {
        strip
            .iter()
            .map(|(at, height)| bisquare_loss(height - run.height(*at, end, steeper), cut))
            .sum::<f64>()
    };
    let mut best = (f64::INFINITY, about, 1.0);
    for steeper in STEEPER {
        let (mut here, mut reach) = ((f64::INFINITY, about), AROUND_MM);
        for step in STEPS_MM {
            let count = (reach / step).round() as i32;
            let places = (-count..=count).map(|k| here.1 + f64::from(k) * step);
            here = places
                .map(|place| (cost(place, steeper), place))
                .min_by(|a, b| a.0.total_cmp(&b.0))?;
            reach = step;
        }
        if here.0 < best.0 {
            best = (here.0, here.1, steeper);
        }
    }
    let (_, end, steeper) = best;
    Some(Told {
        mm: direction * end,
        pm_mm: pm(run, &strip, cut, [end, steeper])?,
    })
}

/// A place (along, across) and its height, mm.
type Placed = ([f64; 2], f64);

/// ± of an end, mm: from the two unknowns' normal equations, linearised where they lie best (Gauss-Newton), and what the points of
/// the run-out are off. `None` where no point tells.
fn pm(run: &Run, strip: &[Placed], cut: f64, [end, steeper]: [f64; 2]) -> Option<f64> {
    let least = ON_RUN_OUT * run.depth_mm / run.width_mm;
    let (mut ends, mut both, mut steep) = (0.0, 0.0, 0.0);
    let (mut count, mut squares) = (0.0, 0.0);
    for (at, height) in strip {
        let off = height - run.height(*at, end, steeper);
        let weight = bisquare(off, cut);
        let by_end = (run.height(*at, end + NUDGE_MM, steeper) - run.height(*at, end - NUDGE_MM, steeper))
            / (2.0 * NUDGE_MM);
        let by_steep = (run.height(*at, end, steeper * (1.0 + NUDGE))
            - run.height(*at, end, steeper / (1.0 + NUDGE)))
            / (2.0 * NUDGE.ln_1p());
        ends += weight * by_end * by_end;
        both += weight * by_end * by_steep;
        steep += weight * by_steep * by_steep;
        if by_end.abs() > least {
            count += weight;
            squares += weight * off * off;
        }
    }
    let freedoms = count - 2.0;
    if freedoms <= 0.0 {
        return None;
    }
    let off_mm = (squares / freedoms).sqrt().max(run.scatter_mm);
    let held = ends - both * both / steep.max(f64::MIN_POSITIVE);
    (held > 0.0).then(|| student_t(0.95, freedoms) * off_mm / held.sqrt())
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
                assert!((found.mm - direction * 57.3).abs() < 0.6, "{found:?}");
            }
        }
    }

    /// It runs out over 25 mm, half way at 57.3 mm, as deep as its like or half as deep; 4.5 mm spacing, 0.1 mm of noise. One is
    /// sure to a fraction of a millimetre, says so, and is neither short nor long for being shallow.
    #[test]
    fn a_long_run_out_is_found_as_well_as_its_own_plus_minus_says() {
        let cosine = |x: f64| {
            let t = (x / 16.0).abs().min(1.0);
            0.5 * (1.0 + (std::f64::consts::PI * t).cos())
        };
        for depth_mm in [6.0, 3.0] {
            let run = Run {
                profile: &cosine,
                depth_mm,
                width_mm: 16.0,
                scatter_mm: 0.1,
            };
            let (mut within, mut sure) = (0, 0);
            for seed in 0..20u64 {
                let points: Vec<Laid> = (0..400u64)
                    .map(|i| {
                        let k = 5 * (i + 1000 * seed);
                        let (along, across) = (100.0 * uniform(k), 80.0 * uniform(k + 1) - 40.0);
                        let rough = 0.2 * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5);
                        let share = ((57.3 + 12.5 - along) / 25.0).clamp(0.0, 1.0);
                        Laid {
                            along,
                            across,
                            height: depth_mm * share * cosine(across) + rough,
                        }
                    })
                    .collect();
                let found = end(&run, &points, 1.0, 60.0).unwrap();
                let off_mm = (found.mm - 57.3).abs();
                assert!(off_mm < 2.5 * found.pm_mm, "{found:?}");
                within += usize::from(off_mm <= found.pm_mm);
                sure += usize::from(found.pm_mm < 1.2);
            }
            assert!(within >= 16 && sure >= 14, "{within} {sure} at {depth_mm}");
        }
    }
}
