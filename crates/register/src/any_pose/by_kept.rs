//! Which of several ways round is meant, told by the kept metal alone.
//!
//! The last poses from nowhere are judged on all of the metal, and what was worked on counts for each of them. A floor with
//! two swages that aren't alike tells which way round it lies, though new flanges all around hide it: so each pose is
//! settled on what was kept, and there what lies off counts as off, however little.

use cloud::{Body, Motion, Scan, Surface};

use super::AnyPose;
use super::ready::{LAST_POINTS, explained_mm};
use super::worth::{Sample, agreement};
use crate::icp::{Fixed, settle};

/// Of the kept metal at least this share must be in the measured set before it tells anything.
const LEAST_HEARD: f64 = 0.5;
/// One is clearly the better where less than this share of what is off with the other is off with it …
const CLEARLY: f64 = 0.5;
/// … and less by this share of what the kept metal says.
const MATERIAL: f64 = 0.05;

/// The one of the poses that could be meant that the kept points tell from all others, each settled on them with pairs no
/// farther apart than `reach_mm`; nothing where they don't tell.
pub fn told_by_kept(
    reference: &Surface<Body>,
    kept: &[bool],
    measured: &Surface<Scan>,
    found: &AnyPose,
    reach_mm: f64,
) -> Option<Motion<Scan, Body>> {
    let fixed = Fixed::kept_of(reference, kept);
    let indices: Vec<u32> = (0..kept.len() as u32).filter(|&i| kept[i as usize]).collect();
    let sample = Sample::of(&reference.picked(&indices, reference.spacing_mm), LAST_POINTS);
    let off_mm = explained_mm(reference, measured);
    let near_mm = reach_mm.max(3.0 * off_mm);
    let off_share = |start: &Motion<Scan, Body>| {
        let motion = settle(&fixed, measured, start, reach_mm).reference_from_measured;
        let says = agreement(&sample, measured, &motion.inverse(), near_mm, off_mm);
        let heard = says.on + says.moved + says.against;
        (heard >= LEAST_HEARD).then(|| (says.moved + says.against) / heard)
    };
    found.told_by(off_share, clearly_less)
}

/// Whether the one share that is off is clearly less than the other.
fn clearly_less(one: &f64, other: &f64) -> bool {
    *one < (CLEARLY * other).min(other - MATERIAL)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_clearly_less_by_half_and_by_what_matters() {
        assert!(clearly_less(&0.02, &0.30) && clearly_less(&0.02, &0.20));
        for level in [[0.010, 0.002], [0.20, 0.30], [0.02, 0.03]] {
            assert!(!clearly_less(&level[0], &level[1]) && !clearly_less(&level[1], &level[0]));
        }
    }
}
