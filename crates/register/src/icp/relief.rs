//! Relief that holds: swages and steps fix a sheet that slides, where they agree on how far.
//!
//! Of a kept floor with two shallow swages nearly nothing holds fore and aft, as a share of what holds up and down, and yet it
//! is known to a hundredth of a millimetre. The slight slope of a bare skin is known as well by that reckoning, but a skin
//! that has sprung a little slides on it by much. What tells the two apart is that a swage is steep beside the metal around
//! it, and that several places of it can be asked one by one: where most of them say the same, the motion is held by
//! them, and what they scatter by goes into its ±; where two swages contradict each other, nothing is held.

use cloud::chance::student_t;
use cloud::held::{Motions, SmallMotion, row};
use cloud::statistics::median;
use cloud::{CellList, Point};

use super::matching::Pair;

/// Relief is told from the metal around it within this share of the pairs' rms radius.
const AROUND: f64 = 0.25;
/// A motion that carries a place along its normal by this much more than it carries the metal around meets relief …
const STEEP: f64 = 0.15;
/// … if that is so many times what normals scatter by.
const TIMES_SCATTER: f64 = 4.0;
/// Pairs on relief, at least.
const LEAST_PAIRS: usize = 100;
/// How well all of it together must know the motion, as a standard deviation, mm.
const SURE_MM: f64 = 0.5 * ALIKE_MM;
/// Places that must agree, at least, how much, mm (1/64 in), and what share of the relief they must be.
const LEAST_PLACES: usize = 3;
const ALIKE_MM: f64 = 25.4 / 64.0;
const MOST: f64 = 0.75;

/// A pair beside the metal around it.
struct Part {
    /// How much more a unit of the motion carries it along its normal.
    carried: f64,
    /// That as a share of how far it goes, without a sign.
    slope: f64,
    /// How much more it lies off, mm.
    lies_mm: f64,
}

/// What the relief at one place says.
struct Place {
    /// How far along the motion it lies off, mm.
    off_mm: f64,
    /// The sum of the squares of what its pairs are carried: what it counts.
    holds: f64,
}

/// Takes motions that little holds for held where relief holds them and agrees. All pairs within reach are asked, also
/// those that lie too far off to count: a swage that contradicts the others is one of them.
pub fn hold(motions: &mut Motions, pairs: &[Pair]) {
    let loose = motions.loose();
    if loose.is_empty() || pairs.len() < LEAST_PAIRS {
        return;
    }
    let at: Vec<Point> = pairs.iter().map(|p| p.at).collect();
    let around = CellList::new(&at, AROUND * motions.radius_mm);
    for motion in loose {
        if let Some(sd_mm) = agreed(motions, &around, pairs, &motion) {
            motions.take_for_held(&motion, sd_mm);
        }
    }
}

/// How well the relief knows the motion, as a standard deviation, mm: by the scatter of its places between each other (one cluster a
/// place, widened since they are few; Liang & Zeger 1986, Biometrika 73(1)) and by the noise of its own pairs. Nothing where they
/// don't hold it, or don't agree.
fn agreed(motions: &Motions, around: &CellList, pairs: &[Pair], motion: &SmallMotion) -> Option<f64> {
    let (turn, slide) = (motion.fixed_rows::<3>(0), motion.fixed_rows::<3>(3));
    let part = |p: &Pair| {
        let arm = (p.at - motions.centre_mm) / motions.radius_mm;
        let goes = (slide + turn.cross(&arm)).norm().max(f64::MIN_POSITIVE);
        (row(&arm, &p.normal).dot(motion), goes)
    };
    let places: Vec<Vec<Part>> = around
        .cells()
        .map(|members| {
            let here = || members.iter().map(|&i| &pairs[i as usize]);
            let common = median(&mut here().map(|p| part(p).0).collect::<Vec<f64>>());
            let lies_mm = median(&mut here().map(|p| p.distance_mm).collect::<Vec<f64>>());
            here()
                .map(|p| {
                    let (carried, goes) = part(p);
                    Part {
                        carried: carried - common,
                        slope: ((carried - common) / goes).abs(),
                        lies_mm: p.distance_mm - lies_mm,
                    }
                })
                .collect()
        })
        .collect();
    let mut slopes: Vec<f64> = places.iter().flatten().map(|part| part.slope).collect();
    let steep = STEEP.max(TIMES_SCATTER * 1.4826 * median(&mut slopes));
    let steep_pairs = slopes.iter().filter(|slope| **slope > steep).count();
    let said: Vec<Place> = places
        .iter()
        .filter_map(|place| said(place, steep, motions.sigma_mm))
        .collect();
    let holds: f64 = said.iter().map(|place| place.holds).sum();
    let middle_mm = weighted_median(said.iter().map(|p| (p.off_mm, p.holds)).collect());
    let alike = || said.iter().filter(|p| (p.off_mm - middle_mm).abs() < ALIKE_MM);
    let (count, agreeing) = (alike().count(), alike().map(|p| p.holds).sum::<f64>());
    // One that holds most of it would agree with itself.
    let enough = steep_pairs >= LEAST_PAIRS && count >= LEAST_PLACES && agreeing >= MOST * holds;
    if !enough || middle_mm.abs() > 0.5 * ALIKE_MM {
        return None;
    }
    let squares: f64 = alike().map(|p| (p.holds * (p.off_mm - middle_mm)).powi(2)).sum();
    let freedoms = count as f64 - 1.0;
    let few = student_t(0.95, freedoms) / student_t(0.95, f64::INFINITY) * (1.0 + 1.0 / freedoms).sqrt();
    let sd_mm = (few * squares.sqrt() / agreeing).hypot(motions.sigma_mm / agreeing.sqrt());
    (sd_mm < SURE_MM).then_some(sd_mm)
}

/// What one place says; nothing where noise leaves it unsure by over half of what places must agree by.
fn said(place: &[Part], steep: f64, sigma_mm: f64) -> Option<Place> {
    let relief: Vec<(f64, f64)> = place
        .iter()
        .filter(|part| part.slope > steep)
        .map(|part| (part.lies_mm / part.carried, part.carried.powi(2)))
        .collect();
    let holds: f64 = relief.iter().map(|(_, weight)| weight).sum();
    (sigma_mm < 0.5 * ALIKE_MM * holds.sqrt() && holds > 0.0).then(|| Place {
        off_mm: weighted_median(relief),
        holds,
    })
}

/// The value on either side of which half of the weight lies; `of` holds values and weights, at least one.
fn weighted_median(mut of: Vec<(f64, f64)>) -> f64 {
    of.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * of.iter().map(|(_, weight)| weight).sum::<f64>();
    let mut sum = 0.0;
    of.iter()
        .find(|(_, weight)| {
            sum += weight;
            sum >= half
        })
        .or(of.last())
        .map_or(0.0, |(value, _)| *value)
}

#[cfg(test)]
mod tests {
    use cloud::{Body, Cloud, Motion, Scan, Surface, Vector};

    use super::*;
    use crate::icp::{Fixed, Settled, settle};

    /// A deterministic number between −1 and 1.
    fn chance(i: u64) -> f64 {
        let mut x = i.wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        2.0 * ((x ^ x >> 31) as f64 / u64::MAX as f64) - 1.0
    }

    /// A floor of 900 × 400 mm with swages across it at `swages`, 24 mm wide and `deep_mm` deep, on a skin that bends with
    /// `radius_mm` and waves by `wave_mm`; a point each 3 mm, a tenth of noise.
    fn floor(swages: &[f64], deep_mm: f64, radius_mm: f64, wave_mm: f64, seed: u64) -> Vec<Point> {
        (0..300 * 133)
            .map(|i: u64| {
                let k = 4 * i + seed * 1_000_003;
                let x = 3.0 * (i % 300) as f64 + 1.4 * chance(k);
                let y = 3.0 * (i / 300) as f64 + 1.4 * chance(k + 1);
                let mut z = -((x - 450.0).powi(2) + (y - 200.0).powi(2)) / (2.0 * radius_mm);
                z += wave_mm * ((x + 90.0 * seed as f64) / 60.0).sin() * (y / 50.0).cos();
                for at in swages {
                    let t = ((x - at) / 12.0).clamp(-1.0, 1.0);
                    z += 0.5 * deep_mm * (1.0 + (std::f64::consts::PI * t).cos());
                }
                Point::new(x, y, z + 0.17 * chance(k + 2))
            })
            .collect()
    }

    fn set(reference: Vec<Point>, measured: Vec<Point>) -> Settled {
        let (reference, _) = Surface::<Body>::new(Cloud::from_points(reference), None).unwrap();
        let (measured, _) = Surface::<Scan>::new(Cloud::from_points(measured), None).unwrap();
        settle(&Fixed::all_of(&reference), &measured, &Motion::identity(), 12.0)
    }

    fn free(done: &Settled) -> Vec<String> {
        let free = done.motions.held().free;
        free.into_iter().map(|f| f.words).collect()
    }

    #[test]
    fn two_shallow_swages_hold_a_floor_fore_and_aft_and_where_they_put_it_is_right() {
        let there = floor(&[250.0, 640.0], 3.5, 1e9, 0.0, 1);
        let shift = Vector::new(1.5, 0.0, 0.7);
        let here = floor(&[250.0, 640.0], 3.5, 1e9, 0.0, 2)
            .into_iter()
            .map(|p| p + shift)
            .collect();
        let done = set(there, here);
        assert_eq!(free(&done), ["side to side"]);
        let off = (done.reference_from_measured.apply(&Point::origin()) + shift).x;
        let pm = done.motions.pm_at_mm(&Point::new(450.0, 200.0, 0.0));
        assert!(off.abs() < 0.2, "{off}, side to side ± {pm}");
    }

    #[test]
    fn swages_that_contradict_each_other_hold_nothing() {
        let there = floor(&[250.0, 640.0], 3.5, 1e9, 0.0, 1);
        let here = floor(&[250.0, 643.2], 3.5, 1e9, 0.0, 2);
        let done = set(there, here);
        assert!(
            free(&done).contains(&"fore and aft".to_string()),
            "{:?}",
            free(&done)
        );
    }

    #[test]
    fn one_of_three_that_contradicts_the_others_is_left_out() {
        let there = floor(&[150.0, 420.0, 700.0], 3.5, 1e9, 0.0, 1);
        let here = floor(&[150.0, 420.0, 703.2], 3.5, 1e9, 0.0, 2);
        let done = set(there, here);
        let free = free(&done);
        let off = done.reference_from_measured.apply(&Point::origin()).x;
        assert!(
            free.contains(&"fore and aft".to_string()) || off.abs() < 0.2,
            "{off} {free:?}"
        );
    }

    #[test]
    fn a_bare_skin_that_waves_is_held_by_no_relief() {
        let there = floor(&[], 0.0, 8_000.0, 0.0, 1);
        let here = floor(&[], 0.0, 8_000.0, 0.3, 2);
        let done = set(there, here);
        assert_eq!(done.motions.held().free.len(), 3, "{:?}", free(&done));
    }

    #[test]
    fn the_weighted_median_has_half_of_the_weight_on_either_side() {
        assert_eq!(weighted_median(vec![(3.0, 1.0), (1.0, 1.0), (2.0, 1.0)]), 2.0);
        assert_eq!(weighted_median(vec![(1.0, 1.0), (2.0, 5.0), (9.0, 2.0)]), 2.0);
    }
}
