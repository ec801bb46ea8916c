//! Two names that were exchanged: the points don't fit as they are named, and do when the two are put right.

use cloud::{Body, Point, Scan};

use super::{LEAST_BAD_MM, Pair, belonging_rms_mm, expected_rms_mm, known};
use crate::RegisterError;
use crate::fit::rigid;

/// Put right, the points lie closer than this share of what they lie apart as they are named.
const MENDS: f64 = 0.2;
/// Another two whose exchange brings the points to within this factor, or to what a pin repeats to, could as well be the two.
const MENDS_AS_WELL: f64 = 2.0;
/// Those that lie farthest off as they are named are tried; so many, that hundreds of points don't take long.
const MOST_TRIED: usize = 24;
/// Where more than one exchange does as well, so many are told.
const MOST_TOLD: usize = 3;

/// An exchange of two names that brings the points together.
pub(crate) struct Exchange {
    /// `B and C`, or `A and B, or C and D` where either does.
    pub(crate) names: String,
    /// How far the points lie apart with the two exchanged, mm.
    pub(crate) rms_mm: f64,
    off_mm: f64,
    then_mm: Option<f64>,
}

impl Exchange {
    /// As the reason of a refusal.
    pub(crate) fn refused(self) -> RegisterError {
        RegisterError::Exchanged {
            names: self.names,
            off_mm: self.off_mm,
            then_mm: self.then_mm,
        }
    }
}

/// One exchange that was tried.
struct Tried {
    rms_mm: f64,
    worst_mm: f64,
    /// Indices of its pairs, the lower first.
    two: (usize, usize),
}

/// The two names whose exchange brings the points together; `None` where they lie together as they are named, or no exchange
/// of two mends it.
pub(crate) fn exchange(pairs: &[Pair]) -> Option<Exchange> {
    let from: Vec<Point> = pairs.iter().map(|(_, m)| m.point.at_mm).collect();
    let to: Vec<Point> = pairs.iter().map(|(r, _)| r.point.at_mm).collect();
    let as_named = rigid::<Scan, Body>(&from, &to, None).ok()?;
    let known = known(pairs);
    let noise_mm = expected_rms_mm(&known.sigmas, known.declared);
    if as_named.rms_mm <= noise_mm {
        return None;
    }
    let mended_mm = belonging_rms_mm(&to).min(MENDS * as_named.rms_mm);
    let off = &as_named.residuals_mm;
    let mut farthest: Vec<usize> = (0..pairs.len()).collect();
    farthest.sort_by(|&a, &b| off[b].total_cmp(&off[a]).then(a.cmp(&b)));
    farthest.truncate(MOST_TRIED);
    let mut mends = Vec::new();
    for (k, &i) in farthest.iter().enumerate() {
        for &j in &farthest[k + 1..] {
            let mut put_right = from.clone();
            put_right.swap(i, j);
            if let Ok(fit) = rigid::<Scan, Body>(&put_right, &to, None)
                && fit.rms_mm < mended_mm
            {
                mends.push(Tried {
                    rms_mm: fit.rms_mm,
                    worst_mm: largest(&fit.residuals_mm),
                    two: (i.min(j), i.max(j)),
                });
            }
        }
    }
    let best = mends.iter().min_by(|a, b| a.rms_mm.total_cmp(&b.rms_mm))?;
    let (rms_mm, worst_mm) = (best.rms_mm, best.worst_mm);
    let as_well_mm = (MENDS_AS_WELL * rms_mm).max(LEAST_BAD_MM);
    mends.retain(|tried| tried.rms_mm <= as_well_mm);
    mends.sort_by_key(|tried| tried.two);
    let name = |i: usize| pairs[i].0.point.name.as_str();
    let names: Vec<String> = mends
        .iter()
        .take(MOST_TOLD)
        .map(|tried| format!("{} and {}", name(tried.two.0), name(tried.two.1)))
        .collect();
    Some(Exchange {
        names: names.join(", or "),
        rms_mm,
        off_mm: largest(off),
        then_mm: (rms_mm <= noise_mm).then_some(worst_mm),
    })
}

fn largest(residuals_mm: &[f64]) -> f64 {
    residuals_mm.iter().copied().fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::named::Datum;
    use cloud::{NamedPoint, Vector};

    fn list(places: &[(&str, [f64; 3])]) -> Vec<Datum> {
        let named = |(name, at): &(&str, [f64; 3])| NamedPoint {
            name: (*name).to_string(),
            at_mm: Point::from(*at),
        };
        places.iter().map(|one| named(one).into()).collect()
    }

    /// Six places, none of whose triangles are alike.
    fn six() -> Vec<Datum> {
        list(&[
            ("A", [0.0, 0.0, 0.0]),
            ("B", [400.0, 0.0, 0.0]),
            ("C", [420.0, 310.0, 5.0]),
            ("D", [0.0, 250.0, 0.0]),
            ("E", [0.0, 0.0, 120.0]),
            ("F", [210.0, 8.0, 60.0]),
        ])
    }

    fn with_exchanged(reference: &[Datum], i: usize, j: usize) -> Vec<Datum> {
        let mut measured = reference.to_vec();
        measured[i].point.at_mm = reference[j].point.at_mm;
        measured[j].point.at_mm = reference[i].point.at_mm;
        measured
    }

    fn of(reference: &[Datum], measured: &[Datum]) -> Option<Exchange> {
        let pairs: Vec<Pair> = reference.iter().zip(measured).collect();
        exchange(&pairs)
    }

    #[test]
    fn any_two_that_are_exchanged_are_named_and_what_is_left_is_told() {
        let reference = six();
        for i in 0..6 {
            for j in i + 1..6 {
                let found = of(&reference, &with_exchanged(&reference, i, j)).unwrap();
                let names = [i, j].map(|k| reference[k].point.name.as_str());
                assert_eq!(found.names, names.join(" and "));
                assert!(found.then_mm.unwrap() < 1e-9 && found.off_mm > 5.0);
            }
        }
        assert!(of(&reference, &reference).is_none());
    }

    #[test]
    fn a_bad_point_is_no_exchange_and_two_pairs_that_do_as_well_are_both_told() {
        let reference = six();
        let mut measured = six();
        measured[3].point.at_mm += Vector::new(0.0, 60.0, 0.0);
        assert!(of(&reference, &measured).is_none());
        // A flat rectangle turned over is itself with both its ends exchanged; no rectangle is a perfect one.
        let flat = list(&[
            ("A", [0.0, 0.0, 0.0]),
            ("B", [400.0, 0.0, 0.0]),
            ("C", [400.0, 250.0, 0.0]),
            ("D", [0.3, 250.2, 0.0]),
        ]);
        let found = of(&flat, &with_exchanged(&flat, 0, 1)).unwrap();
        assert_eq!(found.names, "A and B, or C and D");
    }

    #[test]
    fn what_is_left_is_told_only_within_the_noise() {
        let reference = six();
        let mut measured = with_exchanged(&reference, 1, 2);
        for (k, datum) in measured.iter_mut().enumerate() {
            datum.point.at_mm.z += if k % 2 == 0 { 4.0 } else { -4.0 };
        }
        let found = of(&reference, &measured).unwrap();
        assert_eq!((found.names.as_str(), found.then_mm), ("B and C", None));
        let why = found.refused().to_string();
        assert!(why.starts_with("B and C look exchanged: "), "{why}");
        assert!(!why.contains("exchanged they"), "{why}");
    }
}
