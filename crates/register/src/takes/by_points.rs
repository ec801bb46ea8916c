//! Links by named points: takes that share three or more are laid by them, and what they have in common finishes it.

use cloud::held::{Motions, row};
use cloud::named::Datum;
use cloud::{Body, Matrix3, Motion, Point, Scan, Surface, Vector, Warning, eigen};

use super::graph::{LEAST_SIGMA_MM, SHARED};
use super::linking::{KNOWN_ROUGHLY, Onto, could_share};
use super::{Link, NotJoined};
use crate::any_pose::{self, LEAST_OVERLAP};
use crate::icp::{Fixed, Settled, settle};
use crate::named::{NamedFit, set_by_names};
use crate::partners::LEAST_BAD_MM;

/// Fewest named points that lay one take on another.
pub const FEWEST: usize = 3;
/// Points that stray from one line by less than this share of their spread along it leave a turn about it free.
const ON_A_LINE: f64 = 0.02;
/// Named points that were pointed at lay a take within this of where the surface has it, mm (an inch).
const REACH_MM: f64 = 25.4;
/// … or within so many spacings.
const REACH_SPACINGS: f64 = 12.0;
/// Where the surface carries a named point farther off than this, mm (a quarter inch), or than so many times what the points
/// disagree by, it has found another place, and the points are followed.
const PARTED_MM: f64 = 25.4 / 4.0;
const PARTED_TIMES: f64 = 3.0;

/// The links of all takes that share named points, and what the user should know of them. `points` are those of each take, in
/// its own frame.
///
/// # Errors
/// [`NotJoined::PointsDisagree`] where the points of two takes don't belong together.
pub fn links_by_points(
    takes: &[Surface<Scan>],
    points: &[Vec<Datum>],
) -> Result<(Vec<Link>, Vec<Warning>), NotJoined> {
    let (mut links, mut warnings) = (Vec::new(), Vec::new());
    let named: Vec<(usize, &Vec<Datum>)> = points.iter().enumerate().take(takes.len()).collect();
    for &(reference, its_own) in &named {
        let mut onto = None;
        for &(measured, others) in &named[reference + 1..] {
            let shared = places_of_shared(its_own, others);
            if shared.len() < FEWEST {
                continue;
            }
            let mut told = |code: &'static str, words: &str| {
                let words = format!("take {} on take {}: {words}", measured + 1, reference + 1);
                warnings.push(Warning::new(code, words));
            };
            if on_a_line(&shared) {
                told(
                    "points-on-a-line",
                    "the named points that both have lie on one line and would leave a turn about it free, so they were not used; name one off the line",
                );
                continue;
            }
            let fit = set_by_names(its_own, others).map_err(|why| NotJoined::PointsDisagree {
                reference,
                measured,
                why,
            })?;
            // Takes see different points; that three can't check each other matters only where nothing else does.
            let of_note = fit.warnings.iter().filter(|w| w.code != "point-without-partner");
            for warning in of_note.filter(|w| w.code != "points-unchecked") {
                told(warning.code, &warning.words);
            }
            let onto = onto.get_or_insert_with(|| Onto::new(takes, reference));
            links.push(onto.laid(takes, measured, others, &fit, &mut told));
        }
    }
    Ok((links, warnings))
}

/// The places, in the first take, of the points that both takes have.
fn places_of_shared(first: &[Datum], second: &[Datum]) -> Vec<Point> {
    let in_second = |name: &str| second.iter().any(|other| other.point.name == name);
    first
        .iter()
        .filter(|datum| in_second(&datum.point.name))
        .map(|datum| datum.point.at_mm)
        .collect()
}

/// Whether points lie on one line, or in one place.
fn on_a_line(points: &[Point]) -> bool {
    let n = points.len().max(1) as f64;
    let middle = points.iter().map(|p| p.coords).sum::<Vector>() / n;
    let mut spread = Matrix3::zeros();
    for point in points {
        let arm = point.coords - middle;
        spread += arm * arm.transpose();
    }
    let [_, across, along] = eigen::eigenvalues(&spread);
    across <= ON_A_LINE.powi(2) * along
}

/// Where the points that took part lie in the reference, by name, mm.
fn used(fit: &NamedFit) -> impl Iterator<Item = (&str, Point)> {
    fit.points
        .iter()
        .filter(|point| point.used)
        .map(|point| (point.name.as_str(), point.at_mm))
}

/// What became of a setting by points when the surface was asked to finish it.
enum Finished {
    /// It did; with the share of the surface in common.
    BySurface(Box<Settled>, f64),
    /// It would carry a named point so far off, mm.
    Parted(f64),
    /// Too little is in common, or it does not lie on each other.
    NotBySurface,
}

impl Onto {
    /// The link of a setting by points, finished by the surface where that can be done; `told` takes a warning's code and words.
    fn laid(
        &self,
        takes: &[Surface<Scan>],
        measured: usize,
        points: &[Datum],
        fit: &NamedFit,
        told: &mut impl FnMut(&'static str, &str),
    ) -> Link {
        match self.finished(takes, measured, points, fit) {
            Finished::BySurface(settled, overlap) => {
                let mut link = Link::of(self.index, measured, *settled, overlap);
                hold_by_points(&mut link.motions, fit);
                link.by_points = true;
                return link;
            }
            Finished::Parted(off_mm) => told(
                "points-against-metal",
                &format!(
                    "the metal that they have in common would carry a named point {off_mm:.1} mm off; the points were followed. Check them"
                ),
            ),
            Finished::NotBySurface => told(
                "points-alone",
                &format!(
                    "laid by {} named points alone, which lie {:.2} mm apart in the mean; too little surface in common bears them out",
                    used(fit).count(),
                    fit.rms_mm
                ),
            ),
        }
        self.by_points_alone(takes, measured, fit)
    }

    /// Finishes a setting by points; along what the surface does not hold the points keep it.
    fn finished(
        &self,
        takes: &[Surface<Scan>],
        measured: usize,
        points: &[Datum],
        fit: &NamedFit,
    ) -> Finished {
        let (take, pose) = (&takes[measured], &fit.reference_from_measured);
        let coarse_mm = self.surface.spacing_mm.max(take.spacing_mm);
        let reach_mm = REACH_MM.max(REACH_SPACINGS * coarse_mm);
        let there: Motion<Scan, Scan> = pose.then(&Motion::identity());
        if could_share(&takes[self.index], take, &there, reach_mm) < LEAST_OVERLAP {
            return Finished::NotBySurface;
        }
        let mut settled = settle(&Fixed::all_of(&self.surface), take, pose, reach_mm);
        settled.reference_from_measured = settled.slid_to(pose);
        let motion = settled.reference_from_measured;
        let overlap = any_pose::overlap(&self.surface, take, &motion);
        let lies =
            overlap >= LEAST_OVERLAP && self.too_rough(take, &settled, overlap, KNOWN_ROUGHLY).is_none();
        if !lies {
            return Finished::NotBySurface;
        }
        let off_mm = used(fit)
            .filter_map(|(name, at)| {
                let own = points.iter().find(|datum| datum.point.name == name)?;
                Some((motion.apply(&own.point.at_mm) - at).norm())
            })
            .fold(0.0, f64::max);
        if off_mm > PARTED_MM.max(PARTED_TIMES * fit.rms_mm) {
            return Finished::Parted(off_mm);
        }
        Finished::BySurface(Box::new(settled), overlap)
    }

    fn by_points_alone(&self, takes: &[Surface<Scan>], measured: usize, fit: &NamedFit) -> Link {
        let pose: Motion<Scan, Body> = fit.reference_from_measured;
        let mut motions = fit.motions.clone();
        // That a few points happen to agree does not make them known better than a pin repeats.
        motions.sigma_mm = motions.sigma_mm.max(LEAST_BAD_MM);
        Link {
            reference: self.index,
            measured,
            reference_from_measured: pose.then(&Motion::identity()),
            motions,
            pairs: used(fit).count(),
            rms_mm: fit.rms_mm,
            overlap: any_pose::overlap(&self.surface, &takes[measured], &pose),
            by_points: true,
            closes_loop: false,
            before_mm: 0.0,
            after_mm: 0.0,
            weight: 1.0,
            checked: false,
        }
    }
}

/// Adds to what the pairs of a link hold what the named points do, so that they count where the surface slides. Each point
/// holds all three axes and, unlike the pairs, shares nothing with its neighbours.
fn hold_by_points(motions: &mut Motions, fit: &NamedFit) {
    let pair_mm = motions.sigma_mm.max(LEAST_SIGMA_MM);
    let point_mm = fit.motions.sigma_mm.max(LEAST_BAD_MM);
    let weight = SHARED * (pair_mm / point_mm).powi(2);
    for (_, at) in used(fit) {
        for axis in [Vector::x(), Vector::y(), Vector::z()] {
            let row = row(&(at - motions.centre_mm), &axis);
            motions.information += row * row.transpose() * weight;
        }
    }
}
