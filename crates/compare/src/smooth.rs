//! The deviation smoothed over about half an inch, from which the worst spots are taken: a stray must not set them.

use cloud::{Body, Surface};
use rayon::prelude::*;

use crate::state::{Deviations, State};

/// Radius over which the deviation is averaged, mm.
pub const RADIUS_MM: f64 = 6.0;
/// Fewest distances that make a smoothed one.
const FEWEST: usize = 4;

/// The smoothed deviation at each point of the reference, with its ±; `None` where there is no distance or too little
/// around it. Only neighbours that face the same way within 60° are averaged.
pub fn smoothed(reference: &Surface<Body>, deviations: &Deviations) -> Vec<Option<(f64, f64)>> {
    let (points, normals) = (reference.points(), reference.normals());
    // Where the disc is as large already, the neighbours only say whether the spot stands alone.
    let already_smooth = deviations.disc_mm >= RADIUS_MM;
    let radius = RADIUS_MM.max(1.6 * reference.spacing_mm);
    (0..points.len())
        .into_par_iter()
        .with_min_len(512)
        .map(|i| {
            let State::Distance { mm, pm_mm } = deviations.states[i] else {
                return None;
            };
            let (mut count, mut sum, mut squares) = (0usize, 0.0, 0.0);
            reference.near.visit_within(&points[i], radius, |n| {
                let j = n.index as usize;
                if let State::Distance { mm, pm_mm } = deviations.states[j]
                    && normals[i].dot(&normals[j]) > 0.5
                {
                    count += 1;
                    sum += mm;
                    squares += pm_mm * pm_mm;
                }
            });
            if count < FEWEST {
                return None;
            }
            // Neighbours share most of their points with each other, so their ± is averaged and not divided down.
            let mean_pm = (squares / count as f64).sqrt();
            Some(if already_smooth { (mm, pm_mm) } else { (sum / count as f64, mean_pm) })
        })
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
