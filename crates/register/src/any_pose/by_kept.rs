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
/// farther apart than `reach_mm`; nothing where there is but one, or where they don't tell.
pub fn told_by_kept(
    reference: &Surface<Body>,
    kept: &[bool],
    measured: &Surface<Scan>,
    found: &AnyPose,
    reach_mm: f64,
) -> Option<Motion<Scan, Body>> {
    if found.also.is_empty() {
        return None;
    }
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
    let starts: Vec<Motion<Scan, Body>> = std::iter::once(found.best.reference_from_measured)
        .chain(found.also.iter().copied())
        .collect();
    let off: Vec<f64> = starts.iter().map(off_share).collect::<Option<_>>()?;
    foremost(&off).map(|which| starts[which])
}

/// Which of the shares that are off is clearly less than every other.
fn foremost(off: &[f64]) -> Option<usize> {
    let least = (0..off.len()).min_by(|&a, &b| off[a].total_cmp(&off[b]))?;
    let clear = |(other, share): (usize, &f64)| {
        other == least || off[least] < (CLEARLY * share).min(share - MATERIAL)
    };
    off.iter().enumerate().all(clear).then_some(least)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_told_only_where_it_is_clearly_less_off_than_all_others() {
        assert_eq!(foremost(&[0.30, 0.02, 0.20]), Some(1));
        assert_eq!(foremost(&[0.02, 0.30]), Some(0));
        // Both lie home, or neither does clearly.
        assert_eq!(foremost(&[0.010, 0.002]), None);
        assert_eq!(foremost(&[0.20, 0.30]), None);
        assert_eq!(foremost(&[0.02, 0.30, 0.03]), None);
    }
}
