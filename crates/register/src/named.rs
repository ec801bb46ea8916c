//! Setting by named points: matched by name, weighed by how well each is known, a bad one found and named.

mod twist;

use cloud::frame::WAYS;
use cloud::held::{Matrix6x6, Motions, row};
use cloud::named::Datum;
use cloud::unit::fraction_of_inch;
use cloud::{Body, Motion, Point, Scan, Vector, Warning, statistics};

use crate::RegisterError;
use crate::fit::{PairFit, rigid, scale_between};
use crate::order::USUAL_PM_MM;
pub use crate::partners::apart::distances_apart;
use crate::partners::apart::{LEAST_APART_MM, among};
use crate::partners::exchanged::exchange;
use crate::partners::other_unit::other_unit;
use crate::partners::{
    BAD, COVER, Known, LEAST_BAD_MM, Pair, belong_together, chosen, expected_rms_mm, held_by, known, partners,
};

/// Another point whose leaving out mends the fit to within this factor could as well be the bad one.
const MENDS_AS_WELL: f64 = 2.0;

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
    /// Over the points that took part, each counted alike, mm.
    pub rms_mm: f64,
    /// What the points that took part hold. The spread is what their residuals show; where a ± was declared it is the
    /// larger of that and the declared one.
    pub motions: Motions,
    /// Degrees of freedom of the residuals: 3 n − 6. A ± that rests on so few is 1.96 too small; Student's t is due.
    pub freedoms: usize,
    /// Whether the spread is the declared one: the residuals show no more, and the ± need not be widened for few points.
    pub spread_is_declared: bool,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

/// The points of both sets, paired, with what is known of them.
struct Weighed<'a> {
    from: &'a [Point],
    to: &'a [Point],
    known: &'a Known,
}

/// The fit of some of the points, and what it says of itself.
struct Fitted {
    fit: PairFit<Scan, Body>,
    freedoms: usize,
    /// How many times the σ of each pair the spread is, by its residuals.
    shown: f64,
    motions: Motions,
}

impl Weighed<'_> {
    /// The setting by the points `used`, each along all three axes with the weight 1/σ².
    fn fitted(&self, used: &[bool]) -> Result<Fitted, RegisterError> {
        let (from, to) = (chosen(self.from, used), chosen(self.to, used));
        let sigmas = chosen(&self.known.sigmas, used);
        let weights: Vec<f64> = sigmas.iter().map(|s| s.powi(-2)).collect();
        let fit = rigid::<Scan, Body>(&from, &to, Some(&weights))?;
        let freedoms = (3 * to.len()).saturating_sub(6);
        let square: f64 = fit
            .residuals_mm
            .iter()
            .zip(&weights)
            .map(|(r, w)| r * r * w)
            .sum();
        let shown = (square / freedoms.max(1) as f64).sqrt();
        Ok(Fitted {
            fit,
            freedoms,
            shown,
            motions: held_by(&to, &sigmas, self.times(shown)),
        })
    }

    /// Four points whose residuals are beyond this have a bad one among them, mm.
    fn expected_rms_mm(&self, used: &[bool]) -> f64 {
        expected_rms_mm(&chosen(&self.known.sigmas, used), self.known.declared)
    }

    /// How many times its σ the spread of a pair is taken for: what the residuals show, and no less than was declared.
    fn times(&self, shown: f64) -> f64 {
        if self.known.declared {
            shown.max(1.0)
        } else {
            shown
        }
    }

    /// The point that lies farthest from where the others put it for what is to be expected of it: its index, that
    /// distance, and what is to be expected, mm.
    ///
    /// To be expected is the root of 3 σᵢ² + tr(J C Jᵀ): its own spread, and how well the others say where it belongs,
    /// which is poorly for a point that reaches out or is known better than they are.
    fn worst_against_others(&self, used: &[bool]) -> Option<(usize, f64, f64)> {
        let mut worst: Option<(usize, f64, f64)> = None;
        for i in (0..self.from.len()).filter(|&i| used[i]) {
            let mut others = used.to_vec();
            others[i] = false;
            let Ok(theirs) = self.fitted(&others) else {
                continue;
            };
            let out_mm = (theirs.fit.motion.apply(&self.from[i]) - self.to[i]).norm();
            let arm = self.to[i] - theirs.motions.centre_mm;
            let own = self.times(theirs.shown) * self.known.sigmas[i];
            let expected_mm = (3.0 * own * own + spread_at(&theirs.motions.covariance(), &arm)).sqrt();
            let ratio = |out: f64, expected: f64| out / expected.max(1e-9);
            if worst.is_none_or(|(_, o, e)| ratio(out_mm, expected_mm) > ratio(o, e)) {
                worst = Some((i, out_mm, expected_mm));
            }
        }
        worst
    }

    /// A warning where another size of the measured set explains most of what the points disagree by.
    fn other_scale(&self, used: &[bool]) -> Option<Warning> {
        let (from, to) = (chosen(self.from, used), chosen(self.to, used));
        let scale = scale_between(&from, &to).ok()?;
        let reach = to
            .iter()
            .flat_map(|a| to.iter().map(move |b| (a - b).norm()))
            .fold(0.0, f64::max);
        let scaled: Vec<Point> = from.iter().map(|p| p * scale).collect();
        let rms_mm =
            |from: &[Point]| rigid::<Scan, Body>(from, &to, None).map_or(f64::INFINITY, |f| f.rms_mm);
        let explains = rms_mm(&scaled) < 0.5 * rms_mm(&from);
        // A sixteenth over the whole set, and another size explains most of the disagreement.
        ((scale - 1.0).abs() * reach > 1.6 && explains).then(|| {
            Warning::new(
                "scale-differs",
                format!(
                    "the measured points lie {:.2} % {} apart than the reference's; check the unit and the scale of the set (it was not changed)",
                    100.0 * (1.0 / scale - 1.0).abs(),
                    if scale < 1.0 { "farther" } else { "closer" }
                ),
            )
        })
    }
}

/// The variance of a place `arm` from the centre, all three axes together, mm²: tr(J C Jᵀ).
fn spread_at(covariance: &Matrix6x6, arm: &Vector) -> f64 {
    let along = [Vector::x(), Vector::y(), Vector::z()].map(|axis| row(arm, &axis));
    along.iter().map(|r| (covariance * r).dot(r)).sum()
}

/// Sets the measured points on the reference's by name, with the least sum of squares weighed by 1/(±² of the one + ±² of
/// the other). A point for which neither table says how well it is known gets the median of those that are said; where
/// none is, all are alike.
///
/// Each point is held against the fit of the others; one that is out by more than three times what is to be expected of
/// it (and by more than 1/64 in) is left out and named, the worst first, as long as four stay.
///
/// # Errors
/// With fewer than three common names, with points on one line, or where the points don't belong together.
pub fn set_by_names(reference: &[Datum], measured: &[Datum]) -> Result<NamedFit, RegisterError> {
    let (pairs, mut warnings) = partners(reference, measured);
    let from: Vec<Point> = pairs.iter().map(|(_, m)| m.point.at_mm).collect();
    let to: Vec<Point> = pairs.iter().map(|(r, _)| r.point.at_mm).collect();
    let known = known(&pairs);
    let weighed = Weighed {
        from: &from,
        to: &to,
        known: &known,
    };
    let mut used = vec![true; pairs.len()];
    let mut fitted = weighed.fitted(&used)?;
    refuse_mirrored(&pairs, &from, &to, fitted.fit.rms_mm)?;
    if pairs.len() == 3 {
        let apart_mm = fitted.fit.rms_mm;
        let words = if apart_mm > LEAST_BAD_MM {
            format!(
                "three points set the part, and they part by {apart_mm:.1} mm: one of them is off, and three can't tell which; give four or more"
            )
        } else {
            "three points set the part and can't check each other: if one of them is off, little shows it; give four or more".to_string()
        };
        warnings.push(Warning::new("points-unchecked", words));
    }
    while used.iter().filter(|u| **u).count() > 4 {
        // Two exchanged names look like two bad points, or pull the fit so far that none does.
        if let Some(two) = exchange(&chosen(&pairs, &used)) {
            return Err(two.refused());
        }
        let Some((worst, out_mm, expected_mm)) = weighed.worst_against_others(&used) else {
            break;
        };
        if out_mm <= LEAST_BAD_MM || out_mm <= BAD * expected_mm {
            break;
        }
        refuse_ambiguous(&weighed, &used, &pairs, 2)?;
        used[worst] = false;
        fitted = weighed.fitted(&used)?;
        let name = &pairs[worst].0.point.name;
        let lies = away(&(fitted.fit.motion.apply(&from[worst]) - to[worst]));
        let words = match other_unit(&pairs[worst], &fitted.fit.motion) {
            Some(if_only) => format!(
                "point {name} lies {lies}, and would be there if {if_only} (is its unit right?); it was left out"
            ),
            None => format!(
                "point {name} lies {lies}; it was left out: it was measured or written wrong, or that hole has moved on the part"
            ),
        };
        warnings.push(Warning::new("bad-point", words));
    }
    let left = used.iter().filter(|u| **u).count();
    if left == 4 && fitted.fit.rms_mm > weighed.expected_rms_mm(&used) {
        // Of four none can be left out and the rest still check each other.
        refuse_ambiguous(&weighed, &used, &pairs, 1)?;
    }
    let fit = &fitted.fit;
    let rms_mm = statistics::rms(&fit.residuals_mm);
    belong_together(&pairs, &chosen(&to, &used), rms_mm, 1.0)?;
    let worst_mm = fit.residuals_mm.iter().copied().fold(0.0, f64::max);
    let one_sigma = if known.declared { 1.0 } else { USUAL_PM_MM / COVER };
    match weighed.other_scale(&used) {
        Some(scale) => warnings.push(scale),
        None if left > 3 && worst_mm > LEAST_APART_MM && fitted.shown > BAD * one_sigma => {
            warnings.push(disagree(&chosen(&pairs, &used), worst_mm));
        }
        None => {}
    }
    Ok(NamedFit {
        reference_from_measured: fit.motion,
        points: pairs
            .iter()
            .zip(&used)
            .map(|((r, m), used)| NamedResidual {
                name: r.point.name.clone(),
                at_mm: r.point.at_mm,
                residual_mm: (fit.motion.apply(&m.point.at_mm) - r.point.at_mm).norm(),
                used: *used,
            })
            .collect(),
        rms_mm,
        freedoms: fitted.freedoms,
        spread_is_declared: known.declared && fitted.shown <= 1.0,
        motions: fitted.motions,
        warnings,
    })
}

/// The question of points that lie up to `worst_mm` off, as many times their σ as no chance explains.
fn disagree(pairs: &[Pair], worst_mm: f64) -> Warning {
    let words = twist::twisted(pairs).or_else(|| among(pairs));
    Warning::new(
        "points-contradict",
        format!(
            "the points lie up to {} in ({worst_mm:.1} mm) from where they set each other, far more than they are known to: one or more of them has moved, or was measured or written wrong{}. The setting shares that out among them: measure them again, or set it by those that agree (if they are known no better, give a column pm, the ± of each)",
            fraction_of_inch(worst_mm, 32),
            words.map_or(String::new(), |words| format!("; {words}"))
        ),
    )
}

/// `5/32 in (4.00 mm) from where the others put it: 5/32 high`; parts under a third of the largest are not told.
pub(crate) fn away(off_mm: &Vector) -> String {
    let mut axes = [0, 1, 2];
    axes.sort_by(|&a, &b| off_mm[b].abs().total_cmp(&off_mm[a].abs()));
    let ways: Vec<String> = axes
        .into_iter()
        .filter(|&axis| off_mm[axis].abs() > off_mm.amax() / 3.0)
        .map(|axis| {
            let (minus, plus) = WAYS[axis];
            let way = if off_mm[axis] > 0.0 { plus } else { minus };
            format!("{} {way}", fraction_of_inch(off_mm[axis], 64))
        })
        .collect();
    format!(
        "{} in ({:.2} mm) from where the others put it: {}",
        fraction_of_inch(off_mm.norm(), 64),
        off_mm.norm(),
        ways.join(" and ")
    )
}

/// The points as they are fit far better than their mirror image does, or the hand is wrong; or else two names are exchanged,
/// which four points can't always tell from it.
fn refuse_mirrored(pairs: &[Pair], from: &[Point], to: &[Point], rms_mm: f64) -> Result<(), RegisterError> {
    let image: Vec<Point> = from.iter().map(|p| Point::new(-p.x, p.y, p.z)).collect();
    let mirrored = rigid::<Scan, Body>(&image, to, None).map_or(f64::INFINITY, |f| f.rms_mm);
    if rms_mm <= 2.0 * LEAST_BAD_MM || mirrored >= 0.2 * rms_mm {
        return Ok(());
    }
    let two = exchange(pairs);
    if let Some(two) = two.as_ref().filter(|two| two.rms_mm > 0.5 * mirrored) {
        return Err(RegisterError::PointsDisagree {
            rms_mm,
            hint: format!(
                "as their mirror image they fit to {mirrored:.2} mm, and as well with {} exchanged: is it the other hand, are two axes swapped, or two names?",
                two.names
            ),
        });
    }
    Err(match two {
        Some(two) => two.refused(),
        None => RegisterError::PointsDisagree {
            rms_mm,
            hint: format!(
                "as their mirror image they fit to {mirrored:.2} mm: is it the other hand, or are two axes swapped?"
            ),
        },
    })
}

/// Leaving out one point must mend the fit clearly better than leaving out any other; else it can't be told which is bad.
/// Refused where `too_many` or more could be the bad one.
fn refuse_ambiguous(
    weighed: &Weighed<'_>,
    used: &[bool],
    pairs: &[Pair],
    too_many: usize,
) -> Result<(), RegisterError> {
    let mut without: Vec<(f64, f64, usize)> = (0..used.len())
        .filter(|&i| used[i])
        .filter_map(|i| {
            let mut others = used.to_vec();
            others[i] = false;
            let fitted = weighed.fitted(&others).ok()?;
            let out = (fitted.fit.motion.apply(&weighed.from[i]) - weighed.to[i]).norm();
            Some((fitted.fit.rms_mm, out, i))
        })
        .collect();
    without.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some(&(least, off_mm, _)) = without.first() else {
        return Ok(());
    };
    let alike: Vec<&(f64, f64, usize)> = without
        .iter()
        .filter(|w| w.0 < (MENDS_AS_WELL * least).max(LEAST_BAD_MM))
        .collect();
    if alike.len() < too_many {
        return Ok(());
    }
    if let Some(two) = exchange(&chosen(pairs, used)) {
        return Err(two.refused());
    }
    for &&(_, off_mm, i) in &alike {
        let mut others = used.to_vec();
        others[i] = false;
        if let Some(if_only) = other_unit(&pairs[i], &weighed.fitted(&others)?.fit.motion) {
            let name = pairs[i].0.point.name.clone();
            return Err(RegisterError::OtherUnit {
                name,
                off_mm,
                if_only,
            });
        }
    }
    let names: Vec<&str> = alike.iter().map(|w| pairs[w.2].0.point.name.as_str()).collect();
    let names = names.join(", ");
    Err(match twist::twisted(pairs) {
        Some(words) => RegisterError::Twisted { words, names },
        None => RegisterError::OneOfThese { names, off_mm },
    })
}

#[cfg(test)]
mod tests;
