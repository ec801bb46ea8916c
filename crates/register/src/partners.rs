//! Named points of two sets paired by name: who has a partner, how well each pair is known, what they hold.

use cloud::held::Motions;
use cloud::named::Datum;
use cloud::named::spelling::Alone;
use cloud::{Bounds, Point, Vector, Warning, statistics};

pub(crate) mod apart;
pub(crate) mod exchanged;
pub(crate) mod other_unit;

use crate::RegisterError;
use exchanged::exchange;

/// Points that lie farther apart than this after the setting (and than a hundredth of their spread) don't belong
/// together, mm (a quarter inch).
const MOST_RMS_MM: f64 = 6.35;
/// How many times what is to be expected of it a bad point is out.
pub(crate) const BAD: f64 = 3.0;
/// A point that is out by less than this is never called bad, mm (1/64 in: what a pin repeats to).
pub(crate) const LEAST_BAD_MM: f64 = 0.4;
/// Standard deviations in half a 95 % band.
pub(crate) const COVER: f64 = 1.96;

/// A point of both sets: as the reference has it, as it was measured.
pub(crate) type Pair<'a> = (&'a Datum, &'a Datum);

/// The points that both sets have, in the reference's order, and a warning of those that only one of them has.
pub(crate) fn partners<'a>(reference: &'a [Datum], measured: &'a [Datum]) -> (Vec<Pair<'a>>, Vec<Warning>) {
    let pairs = reference
        .iter()
        .filter_map(|r| Some((r, find(measured, &r.point.name)?)))
        .collect();
    let alone = Alone::of(reference, measured).words("the reference", "the measured set");
    let told =
        alone.map(|words| Warning::new("point-without-partner", format!("of the named points {words}")));
    (pairs, told.into_iter().collect())
}

fn find<'a>(set: &'a [Datum], name: &str) -> Option<&'a Datum> {
    set.iter().find(|d| d.point.name == name)
}

/// How well each pair of points is known.
pub(crate) struct Known {
    /// Standard deviation of each pair along one axis: mm where a ± was declared, all 1 where none was.
    pub(crate) sigmas: Vec<f64>,
    /// Whether any ± was declared.
    pub(crate) declared: bool,
}

/// The declared ± of both points of each pair together; a pair without any gets the median of the others. A ± that is
/// not above 0 says nothing.
pub(crate) fn known(pairs: &[Pair]) -> Known {
    let given: Vec<Option<f64>> = pairs
        .iter()
        .map(|(r, m)| {
            let both = [r, m].map(|d| d.pm_mm.filter(|pm| pm.is_finite() && *pm > 0.0));
            let any = both.iter().any(Option::is_some);
            any.then(|| both[0].unwrap_or(0.0).hypot(both[1].unwrap_or(0.0)) / COVER)
        })
        .collect();
    let mut said: Vec<f64> = given.iter().flatten().copied().collect();
    let declared = !said.is_empty();
    let usual = if declared {
        statistics::median(&mut said)
    } else {
        1.0
    };
    Known {
        sigmas: given.into_iter().map(|s| s.unwrap_or(usual)).collect(),
        declared,
    }
}

/// Those of `all` that are used.
pub(crate) fn chosen<T: Copy>(all: &[T], used: &[bool]) -> Vec<T> {
    all.iter()
        .zip(used)
        .filter_map(|(one, used)| used.then_some(*one))
        .collect()
}

/// What points hold that count along all three axes with the weight 1/σ². The spread of a pair is `times` its σ.
///
/// Σ (σ₀/σᵢ)² rowᵀ row with σ₀ so that the weights are 1 in the mean, and σ₀ `times` as the σ of the whole.
pub(crate) fn held_by(at: &[Point], sigmas: &[f64], times: f64) -> Motions {
    let mean_weight = sigmas.iter().map(|s| s.powi(-2)).sum::<f64>() / sigmas.len().max(1) as f64;
    let middle = if mean_weight > 0.0 {
        mean_weight.powf(-0.5)
    } else {
        1.0
    };
    let thrice: Vec<Point> = at.iter().flat_map(|p| [*p; 3]).collect();
    // A row is linear in its normal, so that a longer normal is a heavier one.
    let axes: Vec<Vector> = sigmas
        .iter()
        .flat_map(|s| [Vector::x(), Vector::y(), Vector::z()].map(|axis| axis * (middle / s)))
        .collect();
    Motions::of(&thrice, &axes, times * middle).of_named()
}

/// Points whose residuals are beyond this (rms) have a bad one among them, mm: by their declared σ, else by what a pin repeats
/// to.
pub(crate) fn expected_rms_mm(sigmas: &[f64], declared: bool) -> f64 {
    if declared {
        BAD * statistics::rms(sigmas) * 3f64.sqrt()
    } else {
        BAD * LEAST_BAD_MM
    }
}

/// Points of one part lie no farther apart than this (rms) after the setting, mm.
pub(crate) fn belonging_rms_mm(at: &[Point]) -> f64 {
    let spread = Bounds::of(at).map_or(0.0, |b| b.diagonal());
    MOST_RMS_MM.max(0.01 * spread)
}

/// Refuses pairs that lie `rms_mm` apart after the setting when that is over `times` what points of one part do.
pub(crate) fn belong_together(
    pairs: &[Pair],
    at: &[Point],
    rms_mm: f64,
    times: f64,
) -> Result<(), RegisterError> {
    if rms_mm <= times * belonging_rms_mm(at) {
        return Ok(());
    }
    Err(match exchange(pairs) {
        Some(two) => two.refused(),
        None => RegisterError::PointsDisagree {
            rms_mm,
            hint: "check the names, the units and the hand".to_string(),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::NamedPoint;

    fn six() -> Vec<Datum> {
        let named = |i: u8| NamedPoint {
            name: format!("H{i}"),
            at_mm: Point::new(f64::from(i * i), f64::from(i), 0.0),
        };
        (0..6).map(|i| named(i).into()).collect()
    }

    #[test]
    fn the_pm_of_both_tables_count_and_none_is_the_median() {
        let (mut reference, mut measured) = (six(), six());
        reference[0].pm_mm = Some(0.3);
        measured[0].pm_mm = Some(0.4);
        reference[1].pm_mm = Some(0.7);
        measured[2].pm_mm = Some(2.0);
        measured[3].pm_mm = Some(0.0);
        let (pairs, _) = partners(&reference, &measured);
        for (sigma, pm) in known(&pairs).sigmas.iter().zip([0.5, 0.7, 2.0, 0.7, 0.7, 0.7]) {
            assert!((sigma * COVER - pm).abs() < 1e-12);
        }
    }

    /// Three equal weights about a centre: the middle is known to σ/√3, a turn in the plane to σ/(r √3).
    #[test]
    fn what_three_points_hold_is_the_closed_form() {
        let r = 400.0;
        let at: Vec<Point> = [0.0f64, 120.0, 240.0]
            .iter()
            .map(|deg| Point::new(r * deg.to_radians().cos(), r * deg.to_radians().sin(), 7.0))
            .collect();
        let covariance = held_by(&at, &[0.2; 3], 1.5).covariance();
        let middle = 0.3 * 0.3 / 3.0;
        assert!((covariance[(3, 3)] - middle).abs() < 1e-12);
        assert!((covariance[(2, 2)] - middle / (r * r)).abs() < 1e-15);
    }
}
