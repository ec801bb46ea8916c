//! Links by named points: takes that share three or more are laid by them, and what they have in common finishes it.

use cloud::held::{Matrix6x6, Motions, per_arm, row};
use cloud::named::Datum;
use cloud::{Body, Matrix3, Motion, Point, Scan, Surface, Vector, Warning, eigen};

use super::graph::{Groups, LEAST_SIGMA_MM, SHARED};
use super::linking::{KNOWN_ROUGHLY, Onto, could_share};
use super::misfit::{ByNames, KNOWN_POORLY_MM, LaidByPoints, PointsDoubt, length, pm_by_link_mm};
use super::no_link::{not_held, sliding};
use super::{Link, NotJoined};
use crate::any_pose::{self, LEAST_OVERLAP, metal_would_rather};
use crate::icp::{Fixed, Settled, settle_at_home};
use crate::named::set_by_names;

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
/// [`NotJoined::PointsDisagree`] where the points of two takes don't belong together, [`NotJoined::PointsDoubtful`] where they don't
/// lay the one on the other without doubt.
pub fn links_by_points(
    takes: &[Surface<Scan>],
    points: &[Vec<Datum>],
) -> Result<(Vec<Link>, Vec<Warning>), NotJoined> {
    let (mut links, mut doubts, mut warnings) = (Vec::new(), Vec::new(), Vec::new());
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
            // Takes see different points; that three can't check each other is told where the metal doesn't.
            let of_note = fit.warnings.iter().filter(|w| w.code != "point-without-partner");
            for warning in of_note.filter(|w| !["points-unchecked", "points-contradict"].contains(&w.code)) {
                told(warning.code, &warning.words);
            }
            let onto = onto.get_or_insert_with(|| Onto::new(takes, reference));
            let names = ByNames {
                reference: its_own,
                measured: others,
                fit: &fit,
            };
            let laid = onto.laid(takes, measured, &names, &mut told);
            match laid {
                Ok(link) => links.push(link),
                Err(why) => doubts.push((reference, measured, why)),
            }
        }
    }
    warnings.extend(left_out(&links, doubts, takes.len())?);
    Ok((links, warnings))
}

/// Where points that are in doubt are not needed, since the others hang the two takes together, they are left out and told.
fn left_out(
    links: &[Link],
    doubts: Vec<(usize, usize, PointsDoubt)>,
    takes: usize,
) -> Result<Vec<Warning>, NotJoined> {
    let mut groups = Groups::of(takes);
    for link in links {
        groups.tie(link.reference, link.measured);
    }
    let mut warnings = Vec::new();
    for (reference, measured, why) in doubts {
        if !groups.tied(reference, measured) {
            return Err(NotJoined::PointsDoubtful {
                reference,
                measured,
                why,
            });
        }
        let words = format!(
            "take {} on take {}: the named points of the two were left out, since by them it {why}",
            measured + 1,
            reference + 1
        );
        warnings.push(Warning::new("points-left-out", words));
    }
    Ok(warnings)
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
    ///
    /// # Errors
    /// Where neither the metal nor a fourth point bears out what the points say, and there is doubt of it; where the metal would
    /// rather have the take mirrored, or the points on each other another way.
    fn laid(
        &self,
        takes: &[Surface<Scan>],
        measured: usize,
        names: &ByNames<'_>,
        told: &mut impl FnMut(&'static str, &str),
    ) -> Result<Link, PointsDoubt> {
        let by_points = &names.fit.reference_from_measured;
        let at: Vec<Point> = names.used().map(|point| point.at_mm).collect();
        if let Some(rather) = metal_would_rather(&self.surface, &takes[measured], &at, by_points) {
            return Err(PointsDoubt::MetalWouldRather(rather));
        }
        let by_themselves = names.worst(by_points);
        let mut only_they_hold = vec!["in every way".to_string()];
        let mut link = match self.finished(takes, measured, names) {
            Finished::BySurface(settled, overlap) => {
                only_they_hold = not_held(&settled.motions);
                let off = names.worst(&settled.reference_from_measured);
                if only_they_hold.is_empty() && off.is_too_far() {
                    told(
                        "point-off-metal",
                        &format!(
                            "point {} lies {} from where the metal that they have in common puts it; the metal was followed. Check that point",
                            off.name,
                            length(off.mm)
                        ),
                    );
                }
                let mut link = Link::of(self.index, measured, *settled, overlap);
                hold_by_points(&mut link.motions, names);
                link
            }
            Finished::Parted(off_mm) if names.agree() => {
                told(
                    "points-against-metal",
                    &format!(
                        "the metal that they have in common would carry a named point {off_mm:.1} mm off; the points were followed. Check them"
                    ),
                );
                self.by_points_alone(takes, measured, names)
            }
            Finished::Parted(off_mm) => {
                let count = names.count();
                return Err(PointsDoubt::AgainstMetal { off_mm, count });
            }
            Finished::NotBySurface => {
                let link = self.by_points_alone(takes, measured, names);
                if !names.agree() {
                    return Err(PointsDoubt::Alone {
                        overlap: link.overlap,
                        count: names.count(),
                        worst_mm: by_themselves.mm,
                    });
                }
                told(
                    "points-alone",
                    &format!(
                        "laid by {} named points alone, which lie {:.2} mm apart in the mean; too little surface in common bears them out",
                        names.count(),
                        names.fit.rms_mm
                    ),
                );
                link
            }
        };
        let bounds = takes[measured].cloud.bounds();
        let pm_mm = bounds.map_or(0.0, |around| pm_by_link_mm(&link, &around));
        if !only_they_hold.is_empty() && names.count() == FEWEST {
            let ways = only_they_hold.join(" and ");
            let (worst, worst_mm) = (by_themselves.name.clone(), by_themselves.mm);
            if by_themselves.is_too_far() {
                return Err(PointsDoubt::Apart {
                    worst,
                    worst_mm,
                    ways,
                });
            }
            if pm_mm > KNOWN_POORLY_MM {
                return Err(PointsDoubt::Wide { pm_mm, ways });
            }
            told(
                "points-unchecked",
                &format!(
                    "by the metal alone it {} (by the axes of take {}); only three named points hold that, and they can't check each other: if one of them is off, hardly anything shows it; name a fourth",
                    sliding(&only_they_hold),
                    self.index + 1
                ),
            );
        }
        link.by_points = true;
        link.points = Some(LaidByPoints {
            count: names.count(),
            rms_mm: names.fit.rms_mm,
            worst: by_themselves.name,
            worst_mm: by_themselves.mm,
            only_they_hold,
            pm_mm,
        });
        Ok(link)
    }

    /// Finishes a setting by points; along what the surface does not hold the points keep it.
    fn finished(&self, takes: &[Surface<Scan>], measured: usize, names: &ByNames<'_>) -> Finished {
        let (take, pose) = (&takes[measured], &names.fit.reference_from_measured);
        let coarse_mm = self.surface.spacing_mm.max(take.spacing_mm);
        let reach_mm = REACH_MM.max(REACH_SPACINGS * coarse_mm);
        let there: Motion<Scan, Scan> = pose.then(&Motion::identity());
        if could_share(&takes[self.index], take, &there, reach_mm) < LEAST_OVERLAP {
            return Finished::NotBySurface;
        }
        let settled = settle_at_home(&Fixed::all_of(&self.surface), take, pose, reach_mm);
        let motion = settled.reference_from_measured;
        let overlap = any_pose::overlap(&self.surface, take, &motion);
        let lies =
            overlap >= LEAST_OVERLAP && self.too_rough(take, &settled, overlap, KNOWN_ROUGHLY).is_none();
        if !lies {
            return Finished::NotBySurface;
        }
        let off_mm = names.farthest_mm(&motion);
        if off_mm > PARTED_MM.max(PARTED_TIMES * names.fit.rms_mm) {
            return Finished::Parted(off_mm);
        }
        Finished::BySurface(Box::new(settled), overlap)
    }

    fn by_points_alone(&self, takes: &[Surface<Scan>], measured: usize, names: &ByNames<'_>) -> Link {
        let pose: Motion<Scan, Body> = names.fit.reference_from_measured;
        let mut motions = names.fit.motions.clone();
        // Points share nothing with their neighbours, as pairs do.
        motions.sigma_mm = names.sigma_mm() / SHARED.sqrt();
        Link {
            pairs: names.count(),
            rms_mm: names.fit.rms_mm,
            overlap: any_pose::overlap(&self.surface, &takes[measured], &pose),
            ..Link::new(self.index, measured, pose.then(&Motion::identity()), motions)
        }
    }
}

/// Along what the surface lets slide its pairs know nothing but the noise of their normals, and count no more.
fn let_go_of_noise(motions: &mut Motions) {
    let mut kept = Matrix6x6::identity();
    for direction in motions.loose() {
        kept -= direction * direction.transpose();
    }
    let held = kept * per_arm(&motions.information, motions.radius_mm) * kept;
    motions.information = per_arm(&((held + held.transpose()) / 2.0), 1.0 / motions.radius_mm);
}

/// Adds to what the pairs of a link hold what the named points do, so that they count where the surface slides. Each point
/// holds all three axes and, unlike the pairs, shares nothing with its neighbours.
fn hold_by_points(motions: &mut Motions, names: &ByNames<'_>) {
    let_go_of_noise(motions);
    let pair_mm = motions.sigma_mm.max(LEAST_SIGMA_MM);
    let weight = SHARED * (pair_mm / names.sigma_mm()).powi(2);
    for point in names.used() {
        for axis in [Vector::x(), Vector::y(), Vector::z()] {
            let row = row(&(point.at_mm - motions.centre_mm), &axis);
            motions.information += row * row.transpose() * weight;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::NamedPoint;

    /// A flat sheet whose normals scatter by 2°, so that they seem to hold it in its plane; four points in a square hold it there.
    /// About their middle the turn is known to σ / √Σ r², and the slides to σ / √4.
    #[test]
    fn in_its_plane_a_flat_sheet_is_known_by_its_points_alone() {
        let sheet: Vec<Point> = (0..10_000)
            .map(|i| {
                Point::new(
                    5.0 * (f64::from(i % 100) - 49.5),
                    5.0 * (f64::from(i / 100) - 49.5),
                    0.0,
                )
            })
            .collect();
        let normals: Vec<Vector> = (0..10_000)
            .map(|i| {
                let t = 2.4 * f64::from(i);
                Vector::new(0.035 * t.cos(), 0.035 * t.sin(), 1.0).normalize()
            })
            .collect();
        let mut motions = Motions::of(&sheet, &normals, 0.1);
        assert_eq!(motions.held().free.len(), 3);
        let datums: Vec<Datum> = [[200.0, 200.0], [-200.0, 200.0], [-200.0, -200.0], [200.0, -200.0]]
            .iter()
            .enumerate()
            .map(|(k, [x, y])| {
                let (name, at_mm) = (format!("P{k}"), Point::new(*x, *y, 0.0));
                Datum::from(NamedPoint { name, at_mm })
            })
            .collect();
        let fit = set_by_names(&datums, &datums).unwrap();
        let names = ByNames {
            reference: &datums,
            measured: &datums,
            fit: &fit,
        };
        let sigma_mm = names.sigma_mm();
        hold_by_points(&mut motions, &names);
        motions.sigma_mm *= SHARED.sqrt();
        let covariance = motions.covariance();
        let turn = sigma_mm / (4.0f64 * 2.0 * 200.0 * 200.0).sqrt();
        assert!(
            (covariance[(2, 2)].sqrt() / turn - 1.0).abs() < 0.02,
            "{} for {turn}",
            covariance[(2, 2)].sqrt()
        );
        for axis in [3, 4] {
            let slide = covariance[(axis, axis)].sqrt();
            assert!((slide / (sigma_mm / 2.0) - 1.0).abs() < 0.02, "{slide} mm");
        }
    }
}
