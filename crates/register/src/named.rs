//! Setting by named points: matched by name, a bad one found and named.

use cloud::held::Motions;
use cloud::{Body, Bounds, Motion, NamedPoint, Point, Scan, Vector, Warning};

use crate::RegisterError;
use crate::fit::{rigid, scale_between};

/// How many times the others' residual makes a point a bad one.
const BAD: f64 = 3.0;
/// A point that is out by less than this is never called bad, mm (1/64 in: what a pin repeats to).
const LEAST_BAD_MM: f64 = 0.4;

/// Points that lie farther apart than this after the setting (and than a hundredth of their spread) don't belong
/// together, mm (a quarter inch).
const MOST_RMS_MM: f64 = 6.35;

/// One named point after the setting.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedResidual {
    /// Its name.
    pub name: String,
    /// Where it is in the reference, mm.
    pub at_mm: Point,
    /// How far the two lie apart after the setting, mm.
    pub residual_mm: f64,
    /// Whether it took part; a bad one does not.
    pub used: bool,
}

/// A setting by named points.
#[derive(Debug, Clone)]
pub struct NamedFit {
    /// The motion reference ← measured.
    pub reference_from_measured: Motion<Scan, Body>,
    /// Every point that both sets have, in the reference's order.
    pub points: Vec<NamedResidual>,
    /// Over the points that took part, mm.
    pub rms_mm: f64,
    /// What the points that took part hold, with the spread that their residuals show.
    pub motions: Motions,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

/// Sets the measured points on the reference's by name.
///
/// Each point is held against the fit of the others; one that is out by more than three times their rms (and by more
/// than 1/64 in) is left out and named, the worst first, as long as four stay.
///
/// # Errors
/// With fewer than three common names, or points on one line.
pub fn set_by_names(reference: &[NamedPoint], measured: &[NamedPoint]) -> Result<NamedFit, RegisterError> {
    let pairs: Vec<(&NamedPoint, &NamedPoint)> = reference
        .iter()
        .filter_map(|r| Some((r, measured.iter().find(|m| m.name == r.name)?)))
        .collect();
    let mut warnings = Vec::new();
    let unmatched: Vec<&str> = reference
        .iter()
        .map(|p| p.name.as_str())
        .filter(|n| !measured.iter().any(|m| m.name == *n))
        .chain(
            measured
                .iter()
                .map(|p| p.name.as_str())
                .filter(|n| !reference.iter().any(|r| r.name == *n)),
        )
        .collect();
    if !unmatched.is_empty() {
        warnings.push(Warning::new(
            "point-without-partner",
            format!("only one of the two sets has the point {}", unmatched.join(", ")),
        ));
    }
    let from: Vec<Point> = pairs.iter().map(|(_, m)| m.at_mm).collect();
    let to: Vec<Point> = pairs.iter().map(|(r, _)| r.at_mm).collect();
    let mut used = vec![true; pairs.len()];
    let mut fit = rigid::<Scan, Body>(&from, &to, None)?;
    while used.iter().filter(|u| **u).count() > 4 {
        let Some((worst, out_mm, others_rms)) = worst_against_others(&from, &to, &used) else {
            break;
        };
        if out_mm <= LEAST_BAD_MM || out_mm <= BAD * others_rms {
            break;
        }
        used[worst] = false;
        warnings.push(Warning::new(
            "bad-point",
            format!(
                "point {} is {:.2} mm from where the others put it; it was left out",
                pairs[worst].0.name, out_mm
            ),
        ));
        fit = rigid(&chosen(&from, &used), &chosen(&to, &used), None)?;
    }
    let kept_to = chosen(&to, &used);
    let spread = Bounds::of(&kept_to).map_or(0.0, |b| b.diagonal());
    if fit.rms_mm > MOST_RMS_MM.max(0.01 * spread) {
        return Err(RegisterError::PointsDisagree {
            rms_mm: fit.rms_mm,
            hint: swapped(&pairs, &from, &to, fit.rms_mm),
        });
    }
    if let Ok(scale) = scale_between(&chosen(&from, &used), &kept_to) {
        let reach = kept_to
            .iter()
            .flat_map(|a| kept_to.iter().map(move |b| (a - b).norm()))
            .fold(0.0, f64::max);
        let scaled: Vec<Point> = chosen(&from, &used).iter().map(|p| p * scale).collect();
        let explains =
            rigid::<Scan, Body>(&scaled, &kept_to, None).is_ok_and(|s| s.rms_mm < 0.5 * fit.rms_mm);
        // A sixteenth over the whole set, and another size explains most of the disagreement.
        if (scale - 1.0).abs() * reach > 1.6 && explains {
            warnings.push(Warning::new(
                "scale-differs",
                format!(
                    "the measured points lie {:.2} % {} apart than the reference's; check the unit and the scale of the set (it was not changed)",
                    100.0 * (1.0 / scale - 1.0).abs(),
                    if scale < 1.0 { "farther" } else { "closer" }
                ),
            ));
        }
    }
    let n = kept_to.len();
    let degrees = (3 * n).saturating_sub(6).max(1) as f64;
    let sigma_mm = fit.rms_mm * (n as f64 / degrees).sqrt();
    // Each point counts along all three axes.
    let thrice: Vec<Point> = kept_to.iter().flat_map(|p| [*p; 3]).collect();
    let axes: Vec<Vector> = kept_to
        .iter()
        .flat_map(|_| [Vector::x(), Vector::y(), Vector::z()])
        .collect();
    Ok(NamedFit {
        reference_from_measured: fit.motion,
        points: pairs
            .iter()
            .zip(&used)
            .map(|((r, m), used)| NamedResidual {
                name: r.name.clone(),
                at_mm: r.at_mm,
                residual_mm: (fit.motion.apply(&m.at_mm) - r.at_mm).norm(),
                used: *used,
            })
            .collect(),
        rms_mm: fit.rms_mm,
        motions: Motions::of(&thrice, &axes, sigma_mm),
        warnings,
    })
}

/// Two names whose exchange would bring the points together.
fn swapped(pairs: &[(&NamedPoint, &NamedPoint)], from: &[Point], to: &[Point], rms_mm: f64) -> String {
    for i in 0..from.len() {
        for j in i + 1..from.len() {
            let mut exchanged = from.to_vec();
            exchanged.swap(i, j);
            if rigid::<Scan, Body>(&exchanged, to, None).is_ok_and(|f| f.rms_mm < 0.2 * rms_mm) {
                return format!("{} and {} look exchanged", pairs[i].0.name, pairs[j].0.name);
            }
        }
    }
    "check the names, the units and the hand".to_string()
}

fn chosen(points: &[Point], used: &[bool]) -> Vec<Point> {
    points
        .iter()
        .zip(used)
        .filter_map(|(p, used)| used.then_some(*p))
        .collect()
}

/// The point that lies farthest from where the others put it: its index, that distance, and the others' rms.
fn worst_against_others(from: &[Point], to: &[Point], used: &[bool]) -> Option<(usize, f64, f64)> {
    let mut worst: Option<(usize, f64, f64)> = None;
    for i in (0..from.len()).filter(|&i| used[i]) {
        let mut others = used.to_vec();
        others[i] = false;
        let Ok(fit) = rigid::<Scan, Body>(&chosen(from, &others), &chosen(to, &others), None) else {
            continue;
        };
        let out = (fit.motion.apply(&from[i]) - to[i]).norm();
        // With few points the others' rms is itself flattered by the fit: allow for the six freedoms it used up.
        let n = others.iter().filter(|u| **u).count() as f64;
        let rms = fit.rms_mm * (3.0 * n / (3.0 * n - 6.0).max(1.0)).sqrt();
        let ratio = |out: f64, rms: f64| out / rms.max(1e-9);
        if worst.is_none_or(|(_, o, r)| ratio(out, rms) > ratio(o, r)) {
            worst = Some((i, out, rms));
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(name: &str, x: f64, y: f64, z: f64) -> NamedPoint {
        NamedPoint {
            name: name.to_string(),
            at_mm: Point::new(x, y, z),
        }
    }

    fn six() -> Vec<NamedPoint> {
        vec![
            named("H1", 100.0, -350.0, 500.0),
            named("H2", 100.0, 350.0, 500.0),
            named("H3", 1170.0, -350.0, 500.0),
            named("H4", 1170.0, 350.0, 500.0),
            named("H5", 2030.0, -390.0, 660.0),
            named("H6", 2030.0, 390.0, 660.0),
        ]
    }

    #[test]
    fn a_bad_point_is_found_named_and_left_out() {
        let motion: Motion<Body, Scan> = Motion::turn_about(
            Vector::new(0.1, 0.2, -0.3),
            Point::origin(),
            Vector::new(50.0, 0.0, -20.0),
        );
        let mut measured: Vec<NamedPoint> = six()
            .iter()
            .enumerate()
            .map(|(i, p)| NamedPoint {
                name: p.name.clone(),
                at_mm: motion.apply(&p.at_mm) + Vector::new(0.05, -0.04, 0.03) * (i as f64 - 2.5),
            })
            .collect();
        measured[3].at_mm.z += 4.0;
        measured.reverse();
        let fit = set_by_names(&six(), &measured).unwrap();
        let bad: Vec<&str> = fit
            .points
            .iter()
            .filter(|p| !p.used)
            .map(|p| p.name.as_str())
            .collect();
        assert_eq!(bad, ["H4"]);
        assert!(
            fit.warnings
                .iter()
                .any(|w| w.code == "bad-point" && w.words.contains("H4"))
        );
        assert!(fit.rms_mm < 0.2);
    }

    #[test]
    fn a_set_in_another_scale_is_warned_of() {
        let measured: Vec<NamedPoint> = six()
            .iter()
            .map(|p| NamedPoint {
                name: p.name.clone(),
                at_mm: p.at_mm * 0.996,
            })
            .collect();
        let fit = set_by_names(&six(), &measured).unwrap();
        assert!(
            fit.warnings.iter().any(|w| w.code == "scale-differs"),
            "{:?}",
            fit.warnings
        );
    }

    #[test]
    fn names_without_partners_are_told_and_two_are_too_few() {
        let fit = set_by_names(&six(), &six()[..4]).unwrap();
        assert!(fit.warnings[0].words.contains("H5, H6"));
        assert!(set_by_names(&six(), &six()[..2]).is_err());
    }
}
