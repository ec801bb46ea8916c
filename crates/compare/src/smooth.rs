//! The deviation smoothed over about half an inch (a running median), from which the worst spots are taken: a stray must not set them.

use cloud::statistics::median;
use cloud::{Body, Surface};
use rayon::prelude::*;

use crate::state::{Deviations, State};

/// Radius over which the median is taken, mm; two spacings where the set is coarser.
pub const RADIUS_MM: f64 = 6.0;
/// Fewest distances that make a smoothed one.
const FEWEST: usize = 4;

/// The smoothed deviation at each point of the reference, with its ±: the median over the neighbours that face the same
/// way within 60°; `None` where there is no distance, or none around it.
pub fn smoothed(reference: &Surface<Body>, deviations: &Deviations) -> Vec<Option<(f64, f64)>> {
    let (points, normals) = (reference.points(), reference.normals());
    let radius = RADIUS_MM.max(2.0 * reference.spacing_mm);
    (0..points.len())
        .into_par_iter()
        .with_min_len(512)
        .map_init(
            || (Vec::with_capacity(64), Vec::with_capacity(64)),
            |(values, spreads), i| {
                deviations.states[i].mm()?;
                values.clear();
                spreads.clear();
                let mut around = 0usize;
                reference.near.visit_within(&points[i], radius, |n| {
                    let j = n.index as usize;
                    if normals[i].dot(&normals[j]) > 0.5 {
                        around += 1;
                        if let State::Distance { mm, pm_mm } = deviations.states[j] {
                            values.push(mm);
                            spreads.push(pm_mm);
                        }
                    }
                });
                // A spot whose surroundings were hardly seen is no spot to point at.
                if values.len() < FEWEST || 2 * values.len() < around {
                    return None;
                }
                // Neighbours share most of their points with each other, so their ± is not divided down.
                Some((median(values), median(spreads)))
            },
        )
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Cloud, Point};

    #[test]
    fn one_wild_point_hardly_shows() {
        let sheet = (0..2500).map(|i| Point::new(f64::from(i % 50) * 2.0, f64::from(i / 50) * 2.0, 0.0));
        let (reference, _) = Surface::<Body>::new(Cloud::from_points(sheet.collect()), None).unwrap();
        let mut states = vec![State::Distance { mm: 0.0, pm_mm: 0.1 }; 2500];
        states[1200] = State::Distance { mm: 5.0, pm_mm: 0.1 };
        states[7] = State::NotMeasured;
        let deviations = Deviations { states, disc_mm: 5.0 };
        let smooth = smoothed(&reference, &deviations);
        assert!(smooth[1200].unwrap().0 < 0.3);
        assert!(smooth[7].is_none());
    }
}
