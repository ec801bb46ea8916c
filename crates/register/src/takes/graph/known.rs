//! How well each take's place is known when all links are met: the ± at its far corner, through the chain.

use cloud::held::{per_arm, pm_at};
use cloud::{Body, Bounds, Motion, Scan};

use super::{Graph, Groups};
use crate::takes::Link;

impl Graph<'_> {
    /// The ± of each take at the far corner of its box, in the joined frame, mm: 0 for the first, which stays where it is. By the
    /// covariance of all weighed links together, so that what each link leaves unknown adds up along the chain, and grows with the
    /// distance; nothing where the links don't hold all takes.
    pub(super) fn pms_mm(
        &self,
        laid: &[Motion<Scan, Body>],
        weights: &[f64],
        bounds: &[Bounds],
    ) -> Vec<Option<f64>> {
        let Some((_, covariance)) = self.step(laid, weights) else {
            return vec![None; self.takes];
        };
        let of_take = |k: usize| {
            let Some(before) = k.checked_sub(1) else {
                return 0.0;
            };
            let place = 6 * before;
            // Turns are counted in mm at the arm.
            let own = per_arm(
                &covariance.fixed_view::<6, 6>(place, place).into_owned(),
                self.arm_mm,
            );
            let corners = bounds[k].corners();
            let pms = corners
                .iter()
                .map(|corner| pm_at(&own, &(laid[k].apply(corner) - self.about)));
            pms.fold(0.0, f64::max)
        };
        (0..self.takes).map(|k| Some(of_take(k))).collect()
    }
}

/// Whether each take hangs on the first by links that hold it: over one that slides, with no points and no loop to hold it, nothing
/// is known.
pub fn held_to_the_first(links: &[Link], takes: usize) -> Vec<bool> {
    let mut groups = Groups::of(takes);
    for link in links.iter().filter(|link| !link.left_out()) {
        if link.by_points || link.checked || link.motions.held().free.is_empty() {
            groups.tie(link.reference, link.measured);
        }
    }
    (0..takes).map(|take| groups.tied(0, take)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::takes::graph::solve;
    use crate::takes::misfit::pm_by_link_mm;
    use cloud::held::Motions;
    use cloud::{Point, Vector};

    /// Takes that all lie alike and hang each on the one before by the same link: what is unknown adds up in squares, so that the
    /// k-th is known √k times worse than the first of them.
    #[test]
    fn along_a_chain_of_alike_links_the_pm_grows_by_the_root() {
        let mut seen = (Vec::new(), Vec::new());
        for axis in 0..3 {
            for k in 0..100 {
                let mut at = [0.0; 3];
                at[axis] = 100.0;
                at[(axis + 1) % 3] = 20.0 * (f64::from(k % 10) - 4.5);
                at[(axis + 2) % 3] = 20.0 * (f64::from(k / 10) - 4.5);
                let mut normal = Vector::zeros();
                normal[axis] = 1.0;
                seen.0.push(Point::from(at));
                seen.1.push(normal);
            }
        }
        let bounds = vec![Bounds::of(&seen.0).unwrap(); 4];
        let links: Vec<Link> = (1..4)
            .map(|measured| {
                let motions = Motions::of(&seen.0, &seen.1, 0.1);
                Link::new(measured - 1, measured, Motion::identity(), motions)
            })
            .collect();
        let pms: Vec<f64> = solve(&links, &bounds).pms_mm.into_iter().flatten().collect();
        assert_eq!(pms.len(), 4);
        assert!(pms[0].abs() < 1e-12);
        let one = pm_by_link_mm(&links[0], &bounds[1]);
        for (k, pm) in pms.iter().enumerate() {
            let expected = one * (k as f64).sqrt();
            assert!(
                (pm - expected).abs() < 1e-3 * one,
                "take {}: {pm} for {expected}",
                k + 1
            );
        }
        let mut slides = links;
        assert_eq!(held_to_the_first(&slides, 4), [true; 4]);
        slides[1].motions = Motions::of(&seen.0, &[Vector::z(); 300], 0.1);
        assert_eq!(held_to_the_first(&slides, 4), [true, true, false, false]);
    }
}
