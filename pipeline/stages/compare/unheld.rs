//! What a motion that nothing holds does to a deviation: it masks places, and a region leans on it.

use ::compare::{Deviations, State};
use cloud::held::follows;
use cloud::held::{FreeMotion, Motions};
use cloud::{Body, Surface};

/// A place that a free motion carries mostly along its own normal has no deviation that means anything: it is masked.
const MASKED: f64 = 0.5;

/// Masks the deviation along motions that nothing holds.
pub fn mask_unheld(
    free: &[FreeMotion],
    motions: &Motions,
    reference: &Surface<Body>,
    deviations: &mut Deviations,
) {
    if free.is_empty() {
        return;
    }
    let places = reference.points().iter().zip(reference.normals());
    for ((at, normal), state) in places.zip(&mut deviations.states) {
        let carried = |motion: &FreeMotion| motion.at(motions, at).dot(normal).powi(2);
        if free.iter().map(carried).sum::<f64>().sqrt() > MASKED {
            *state = State::NotMeasured;
        }
    }
}

/// The free motion that would change a region's deviation the most, where it would change it by a fifth of itself.
pub fn leans_on<'a>(
    free: &'a [FreeMotion],
    members: &[u32],
    reference: &Surface<Body>,
    motions: &Motions,
) -> Option<&'a str> {
    let change = |motion: &FreeMotion| {
        let square: f64 = members
            .iter()
            .map(|&i| {
                let moved = motion.at(motions, &reference.points()[i as usize]);
                reference.normals()[i as usize].dot(&moved).powi(2)
            })
            .sum();
        (square / members.len().max(1) as f64).sqrt()
    };
    follows::leans_on(free, change).map(|motion| motion.words.as_str())
}
