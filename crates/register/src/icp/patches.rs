//! Whether neighbouring pairs are off alike: sheet metal is wavy, and a thousand points on one wave are one piece of evidence.
//!
//! The pull of each patch is summed and squared; were each pair for itself, the squares would come to as much as those of
//! the pairs. By how much they come to more is how much more the mean scatters than the pairs let think (the clustered
//! variance of Liang & Zeger 1986, Biometrika 73, 13-22; over places Conley 1999, J. Econometrics 92, 1-45).

use cloud::Point;

/// The side of a patch, mm (two inches): waves of sheet are about as long as the beads that stiffen it are apart.
const PATCH_MM: f64 = 50.8;
/// Fewer patches say nothing.
const FEWEST: usize = 12;
/// Chance lets the sum come out so many of its standard deviations larger before it is believed.
const CHANCE: f64 = 4.0;
/// A rigid fit takes six degrees of freedom off the patches.
const FITTED: f64 = 6.0;

/// How many times more the mean of `pulls` (place, mm) scatters than if each were for itself; one where nothing shows it.
pub fn alike(pulls: impl Iterator<Item = (Point, f64)>) -> f64 {
    let mut placed: Vec<([i32; 3], f64)> = pulls
        .map(|(at, pull)| ([0, 1, 2].map(|axis| (at[axis] / PATCH_MM).floor() as i32), pull))
        .collect();
    // Stable, so that the sums are always summed in one order.
    placed.sort_by_key(|(patch, _)| *patch);
    let n = placed.len() as f64;
    let (mut patches, mut squares, mut together, mut counts) = (0usize, 0.0, 0.0, 0.0);
    for patch in placed.chunk_by(|a, b| a.0 == b.0) {
        let sum: f64 = patch.iter().map(|p| p.1).sum();
        patches += 1;
        together += sum * sum;
        squares += patch.iter().map(|p| p.1 * p.1).sum::<f64>();
        counts += (patch.len() as f64).powi(2);
    }
    if patches < FEWEST || squares <= 0.0 {
        return 1.0;
    }
    let more = together / squares * patches as f64 / (patches as f64 - FITTED);
    let by_chance = 1.0 + CHANCE * (2.0 * counts).sqrt() / n;
    if more > by_chance { more } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn uniform(i: u64) -> f64 {
        let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        (x ^ x >> 31) as f64 / u64::MAX as f64
    }

    /// A sheet of 20 000 points with noise of variance 1/12 and waves of the height `wave`, a patch each.
    fn sheet(wave: f64) -> f64 {
        alike((0..20_000u64).map(|i| {
            let at = Point::new(800.0 * uniform(4 * i), 400.0 * uniform(4 * i + 1), 0.0);
            let patch = (at.x / PATCH_MM) as u64 * 100 + (at.y / PATCH_MM) as u64;
            let up = if uniform(7 * patch + 999_983) < 0.5 {
                -1.0
            } else {
                1.0
            };
            (at, uniform(4 * i + 2) - 0.5 + wave * up)
        }))
    }

    #[test]
    fn noise_alone_is_each_for_itself_and_waves_are_not() {
        assert_eq!(sheet(0.0), 1.0);
        // Σ over patches of (n_b wave)² over n (1/12 + wave²), about n_b wave² / (1/12 + wave²) with n_b = 161.
        let expected = 161.0 * 0.01 / (1.0 / 12.0 + 0.01);
        let found = sheet(0.1);
        assert!((found / expected - 1.0).abs() < 0.25, "{found} for {expected}");
    }

    #[test]
    fn too_few_patches_say_nothing() {
        assert_eq!(
            alike((0..500).map(|i| (Point::new(f64::from(i) * 0.1, 0.0, 0.0), 1.0))),
            1.0
        );
        assert_eq!(alike(std::iter::empty()), 1.0);
    }
}
