//! The figures of a region: how much of it was seen, where its metal lies, and how sure that is.

use cloud::statistics::{mean, percentile_of_sorted, rms, standard_deviation};
use cloud::{Body, Point, Surface};

use crate::state::{Deviations, State};

/// What the distances in a region amount to.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Mean, mm.
    pub mean_mm: f64,
    /// Standard deviation (n − 1), mm.
    pub sd_mm: f64,
    /// Root mean square, mm.
    pub rms_mm: f64,
    /// Median, mm.
    pub median_mm: f64,
    /// 5 % lie below, mm (Hyndman & Fan 1996, definition 7).
    pub p05_mm: f64,
    /// 5 % lie above, mm.
    pub p95_mm: f64,
    /// Smallest smoothed deviation, mm.
    pub min_mm: f64,
    /// Largest smoothed deviation, mm.
    pub max_mm: f64,
    /// Where the smallest is.
    pub min_at: Point,
    /// Where the largest is.
    pub max_at: Point,
    /// Share of the distances that lie within the limit, 0 to 1.
    pub within_share: f64,
    /// Twice the largest departure: the profile value of ISO 1101 and ASME Y14.5 for a zone about the reference, mm.
    pub profile_mm: f64,
    /// ± of the mean (half the 95 % band), the setting's share in it, mm.
    pub mean_pm_mm: f64,
    /// ± of the worst spot (half the 95 % band), the setting's share in it, mm.
    pub pm_mm: f64,
}

/// The figures of a region or of the whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// Points of the reference.
    pub points: usize,
    /// Points with a distance.
    pub measured: usize,
    /// Points beside the end of the measured set.
    pub beyond_edge: usize,
    /// Share of the points that have a distance, 0 to 1.
    pub coverage: f64,
    /// The distances; `None` where there are none, or none with others around it. Its smallest and largest are of the spots that
    /// are [`sure_enough`], or of all where hardly any is.
    pub spread: Option<Spread>,
}

/// The profile value: twice the largest departure from the reference (ISO 1101:2017; ASME Y14.5.1, from memory).
pub fn profile_mm(min_mm: f64, max_mm: f64) -> f64 {
    2.0 * min_mm.abs().max(max_mm.abs())
}

/// Whether a spot is known well enough to be pointed at: its own ± is under a third of the limit. At joints and ragged rims the
/// two sheets that meet make spots that are not, and a worst spot that means nothing helps nobody.
pub fn sure_enough(pm_mm: f64, limit_mm: f64) -> bool {
    pm_mm <= limit_mm / 3.0
}

/// Where less than this share of the spots is sure enough it is the sets that are rough, and not a joint: all of them count, and
/// the ± tells what they are good for.
const FEW_SURE: f64 = 0.1;

/// The smallest and the largest of some spots, each with its point, and how many there are.
#[derive(Clone, Copy)]
struct Ends {
    low: (f64, u32),
    high: (f64, u32),
    count: usize,
}

impl Ends {
    fn with(before: Option<Self>, mm: f64, i: u32) -> Self {
        let spot = (mm, i);
        let Some(Self { low, high, count }) = before else {
            return Self {
                low: spot,
                high: spot,
                count: 1,
            };
        };
        Self {
            low: if mm < low.0 { spot } else { low },
            high: if mm > high.0 { spot } else { high },
            count: count + 1,
        }
    }
}

/// What is known of the ± before a region is looked at.
pub struct Known<'a> {
    /// ± of the setting at a place, mm.
    pub at_mm: &'a dyn Fn(&Point) -> f64,
    /// ± of the mean over the points of the reference that were measured, mm.
    pub of_mean_mm: &'a dyn Fn(&[u32]) -> f64,
}

/// The figures over the points `members`. `smoothed` is that of [`crate::smooth`].
pub fn figures(
    reference: &Surface<Body>,
    deviations: &Deviations,
    smoothed: &[Option<(f64, f64)>],
    members: &[u32],
    limit_mm: f64,
    known: &Known<'_>,
) -> Figures {
    let mut distances: Vec<f64> = Vec::with_capacity(members.len());
    let mut seen: Vec<u32> = Vec::with_capacity(members.len());
    let mut beyond_edge = 0;
    let (mut all, mut sure): (Option<Ends>, Option<Ends>) = (None, None);
    for &i in members {
        match deviations.states[i as usize] {
            State::Distance { mm, .. } => {
                distances.push(mm);
                seen.push(i);
            }
            State::BeyondEdge => beyond_edge += 1,
            State::NotMeasured => {}
        }
        if let Some((mm, pm)) = smoothed[i as usize] {
            all = Some(Ends::with(all, mm, i));
            if sure_enough(pm, limit_mm) {
                sure = Some(Ends::with(sure, mm, i));
            }
        }
    }
    let measured = distances.len();
    let enough = FEW_SURE * all.map_or(0.0, |all| all.count as f64);
    let spots = sure.filter(|sure| sure.count as f64 >= enough).or(all);
    let spread = spots.map(|spots| {
        let ((min_mm, min_i), (max_mm, max_i)) = (spots.low, spots.high);
        let within = distances.iter().filter(|d| d.abs() <= limit_mm).count();
        let (mean_mm, sd_mm, rms_mm) = (mean(&distances), standard_deviation(&distances), rms(&distances));
        distances.sort_unstable_by(f64::total_cmp);
        let worst = if max_mm.abs() >= min_mm.abs() {
            max_i
        } else {
            min_i
        };
        let local = smoothed[worst as usize].map_or(0.0, |(_, pm)| pm);
        let at = |i: u32| reference.points()[i as usize];
        Spread {
            mean_mm,
            sd_mm,
            rms_mm,
            median_mm: percentile_of_sorted(&distances, 0.5),
            p05_mm: percentile_of_sorted(&distances, 0.05),
            p95_mm: percentile_of_sorted(&distances, 0.95),
            min_mm,
            max_mm,
            min_at: at(min_i),
            max_at: at(max_i),
            within_share: within as f64 / measured.max(1) as f64,
            profile_mm: profile_mm(min_mm, max_mm),
            mean_pm_mm: (known.of_mean_mm)(&seen),
            pm_mm: local.hypot((known.at_mm)(&at(worst))),
        }
    });
    Figures {
        points: members.len(),
        measured,
        beyond_edge,
        coverage: measured as f64 / members.len().max(1) as f64,
        spread,
    }
}

#[cfg(test)]
mod tests {
    // ISO 1101 profile of a surface: a symmetrical zone must be twice as wide as the largest departure.
    #[test]
    fn the_profile_value_doubles_the_largest_departure() {
        assert!((super::profile_mm(-0.2, 0.6) - 1.2).abs() < 1e-15);
        assert!((super::profile_mm(-0.6, 0.2) - 1.2).abs() < 1e-15);
    }

    /// Rough sets: no spot is known to a third of the limit, and yet all of the metal is out by far more than its ±.
    #[test]
    fn metal_that_is_out_beyond_doubt_is_out_though_no_spot_is_sure() {
        use super::*;
        use crate::verdict::{Verdict, of_region};
        let sheet = (0..900).map(|i| Point::new(f64::from(i % 30) * 2.0, f64::from(i / 30) * 2.0, 0.0));
        let (reference, _) = Surface::<Body>::new(cloud::Cloud::from_points(sheet.collect()), None).unwrap();
        let members: Vec<u32> = (0..900).collect();
        let known = Known {
            at_mm: &|_| 0.0,
            of_mean_mm: &|_| 0.0,
        };
        let with_sure = |count: usize| {
            let spot = |i: usize| if i < count { (0.0, 0.1) } else { (4.0, 1.0) };
            let (mm, pm): (Vec<f64>, Vec<f64>) = (0..900).map(spot).unzip();
            let both = || mm.iter().zip(&pm);
            let states = both()
                .map(|(&mm, &pm_mm)| State::Distance { mm, pm_mm })
                .collect();
            let deviations = Deviations { states, disc_mm: 5.0 };
            let smoothed: Vec<Option<(f64, f64)>> = both().map(|(mm, pm)| Some((*mm, *pm))).collect();
            figures(&reference, &deviations, &smoothed, &members, 1.6, &known)
        };
        for few in [0, 80] {
            assert_eq!(of_region(&with_sure(few), 1.6), Verdict::Outside, "{few}");
        }
        // A joint is left out.
        assert_eq!(of_region(&with_sure(800), 1.6), Verdict::Within);
    }
}
