//! The figures of a region: how much of it was seen, where its metal lies, and how sure that is.

use cloud::chance::student_t;
use cloud::statistics::{mean, percentile_of_sorted, rms, standard_deviation};
use cloud::{Body, Point, Surface};

use crate::state::{Deviations, State};
use crate::verdict::{Verdict, decide};

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
    /// ± of the worst spot (half the 95 % band), the setting's share in it, mm; where it lies beyond the limit, as the worst of many.
    pub pm_mm: f64,
    /// The place by which the region is judged.
    pub judged: Judged,
}

/// The place by which a region is judged: its worst spot, unless another says more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// What is said of it, and by it of the region.
    pub verdict: Verdict,
    /// Where.
    pub at: Point,
    /// Its smoothed deviation, mm.
    pub mm: f64,
    /// ± of it (half the 95 % band), the setting's share in it, mm; where it lies beyond the limit, as the worst of many.
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

/// By what the ± of one place is multiplied for it to be surely beyond though it was picked as the worst of `places`: so wide that
/// of as many independent discs as fill their area, all at the limit, none lies beyond by chance in 95 of 100 cases (Šidák 1967,
/// Journal of the American Statistical Association 62, 626-633).
///
/// On 60 × 60 to 250 × 250 mm of random points, 200 discs, the worst place of a sheet that has not moved reads, 95 of 100 times, less
/// than 0.8 (1 mm apart), 1.4 (2 mm) and 1.6 (4 mm) times its own ±, since each is the median over its neighbours; this gives 1.9.
fn as_worst_of(places: usize, spacing_mm: f64, disc_mm: f64) -> f64 {
    let discs = places as f64 * spacing_mm.powi(2) / (std::f64::consts::PI * disc_mm.powi(2));
    student_t(0.95f64.powf(1.0 / discs.max(1.0)), f64::INFINITY) / student_t(0.95, f64::INFINITY)
}

impl Judged {
    /// By one place, (where, its deviation, its own ±), to which `setting_mm` adds the setting's: in with its ±, out with what that is
    /// as the worst of many. The setting's share, which all have in common, errs but once and is not widened.
    fn by((at, mm, local_mm): (Point, f64, f64), setting_mm: f64, limit_mm: f64, as_worst: f64) -> Self {
        let [alone_mm, worst_mm] = [1.0, as_worst].map(|times| (times * local_mm).hypot(setting_mm));
        let verdict = match decide(mm, alone_mm, limit_mm) {
            Verdict::Outside => decide(mm, worst_mm, limit_mm),
            other => other,
        };
        Self {
            verdict,
            at,
            mm,
            pm_mm: if mm.abs() > limit_mm { worst_mm } else { alone_mm },
        }
    }

    /// Judged by all of `spots` as well: out where one of them is surely beyond, in only where each is in with its ±.
    ///
    /// That every place is in needs no wider band though there are thousands: such a claim is as sure as that of the least sure of
    /// them (intersection-union test, Berger 1982, Technometrics 24(4) 295). That one of them is out errs the more often the more
    /// are asked: [`as_worst_of`].
    fn with_all(
        mut self,
        spots: impl Iterator<Item = (Point, f64, f64)>,
        limit_mm: f64,
        as_worst: f64,
        setting_mm: &dyn Fn(&Point) -> f64,
    ) -> Self {
        for spot in spots {
            // The setting's share is asked for only where the place can say more than the ones before.
            let (at, mm, local_mm) = spot;
            let may_be_out = mm.abs() - as_worst * local_mm > limit_mm;
            let says_more = match self.verdict {
                Verdict::Outside => false,
                Verdict::Within => true,
                Verdict::TooClose | Verdict::NotMeasured => may_be_out,
            };
            if !says_more {
                continue;
            }
            let other = Self::by(spot, setting_mm(&at), limit_mm, as_worst);
            if Verdict::of_all([self.verdict, other.verdict]) != self.verdict {
                self = other;
            }
        }
        self
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
    let only_sure = sure.filter(|sure| sure.count as f64 >= enough);
    let spread = only_sure.or(all).map(|spots| {
        let ((min_mm, min_i), (max_mm, max_i)) = (spots.low, spots.high);
        let within = distances.iter().filter(|d| d.abs() <= limit_mm).count();
        let (mean_mm, sd_mm, rms_mm) = (mean(&distances), standard_deviation(&distances), rms(&distances));
        distances.sort_unstable_by(f64::total_cmp);
        let worst = if max_mm.abs() >= min_mm.abs() {
            max_i
        } else {
            min_i
        };
        let at = |i: u32| reference.points()[i as usize];
        let spot = |i: u32| {
            let (mm, pm_mm) = smoothed[i as usize]?;
            let counts = only_sure.is_none() || sure_enough(pm_mm, limit_mm);
            counts.then_some((at(i), mm, pm_mm))
        };
        let as_worst = as_worst_of(spots.count, reference.spacing_mm, deviations.disc_mm);
        let worst_spot = spot(worst).unwrap_or((at(worst), 0.0, 0.0));
        let by_worst = Judged::by(worst_spot, (known.at_mm)(&at(worst)), limit_mm, as_worst);
        let others = members.iter().filter_map(|&i| spot(i));
        let judged = by_worst.with_all(others, limit_mm, as_worst, known.at_mm);
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
            pm_mm: by_worst.pm_mm,
            judged,
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
    use super::*;
    use crate::made::uniform;
    use crate::verdict::of_region;

    // ISO 1101 profile of a surface: a symmetrical zone must be twice as wide as the largest departure.
    #[test]
    fn the_profile_value_doubles_the_largest_departure() {
        assert!((profile_mm(-0.2, 0.6) - 1.2).abs() < 1e-15);
        assert!((profile_mm(-0.6, 0.2) - 1.2).abs() < 1e-15);
    }

    /// The figures of a sheet of 900 points, of which each is off and known as `spot` has it, against a limit of 1.6 mm.
    fn figures_of(spot: impl Fn(usize) -> (f64, f64), setting_mm: &dyn Fn(&Point) -> f64) -> Figures {
        let sheet = (0..900).map(|i| Point::new(f64::from(i % 30) * 2.0, f64::from(i / 30) * 2.0, 0.0));
        let (reference, _) = Surface::<Body>::new(cloud::Cloud::from_points(sheet.collect()), None).unwrap();
        let members: Vec<u32> = (0..900).collect();
        let known = Known {
            at_mm: setting_mm,
            of_mean_mm: &|_| 0.0,
        };
        let states = (0..900).map(|i| State::Distance {
            mm: spot(i).0,
            pm_mm: spot(i).1,
        });
        let deviations = Deviations {
            states: states.collect(),
            disc_mm: 5.0,
        };
        let smoothed: Vec<Option<(f64, f64)>> = (0..900).map(|i| Some(spot(i))).collect();
        figures(&reference, &deviations, &smoothed, &members, 1.6, &known)
    }

    /// Rough sets: no spot is known to a third of the limit, and yet all of the metal is out by far more than its ±.
    #[test]
    fn metal_that_is_out_beyond_doubt_is_out_though_no_spot_is_sure() {
        let with_sure = |count: usize| {
            let spot = move |i: usize| if i < count { (0.0, 0.1) } else { (4.0, 1.0) };
            of_region(&figures_of(spot, &|_| 0.0))
        };
        for few in [0, 80] {
            assert_eq!(with_sure(few), Verdict::Outside, "{few}");
        }
        // A joint is left out.
        assert_eq!(with_sure(800), Verdict::Within);
    }

    #[test]
    fn every_place_counts_with_its_own_band() {
        let verdict = |worst: (f64, f64), other: (f64, f64)| {
            let spot = move |i: usize| match i {
                0..100 => worst,
                200..220 => other,
                _ => (0.1, 0.1),
            };
            let figures = figures_of(spot, &|_| 0.0);
            let spread = figures.spread.clone().unwrap();
            assert_eq!(spread.max_mm, worst.0);
            assert_eq!(spread.pm_mm == worst.1, worst.0 <= 1.6);
            (of_region(&figures), spread.judged.mm)
        };
        assert_eq!(verdict((1.4, 0.1), (0.9, 0.5)), (Verdict::Within, 1.4));
        assert_eq!(verdict((1.4, 0.1), (-1.2, 0.5)), (Verdict::TooClose, -1.2));
        // The largest is not sure, a smaller one is.
        assert_eq!(verdict((1.9, 0.5), (1.8, 0.1)), (Verdict::Outside, 1.8));
        assert_eq!(verdict((1.9, 0.5), (1.5, 0.5)), (Verdict::TooClose, 1.9));
    }

    /// Metal that lies at the limit all over, or beyond it by three times the standard deviation of a place; what lies within 8 mm
    /// errs together, about as a disc does.
    #[test]
    fn metal_at_the_limit_is_not_out_because_the_worst_of_many_places_is_asked() {
        let sd = 0.1;
        let sheet = (0..900).map(|i| Point::new(f64::from(i % 30) * 2.0, f64::from(i / 30) * 2.0, 0.0));
        let (ordered, _) = Surface::<Body>::new(cloud::Cloud::from_points(sheet.collect()), None).unwrap();
        let out = |beyond_sd: f64| {
            let is_out = |seed: u64| {
                let spot = |i: usize| {
                    let at = ordered.points()[i];
                    let patch = (at.x / 8.0).floor() as u64 + 8 * (at.y / 8.0).floor() as u64;
                    let first = 12 * (patch + 64 * seed);
                    let deviate = (first..first + 12).map(uniform).sum::<f64>() - 6.0;
                    (1.6 + sd * (beyond_sd + deviate), 1.96 * sd)
                };
                of_region(&figures_of(spot, &|_| 0.0)) == Verdict::Outside
            };
            (0..40).filter(|seed| is_out(*seed)).count()
        };
        assert!(out(0.0) <= 6, "{}", out(0.0));
        assert_eq!(out(3.0), 40);
    }

    /// The setting is known worse to the right: the largest spot is in with its ±, and a smaller one far out is not.
    #[test]
    fn the_settings_share_is_that_of_each_place() {
        // The first along the curve lies in the left corner.
        let spot = |i: usize| (if i == 0 { 1.3 } else { 1.2 }, 0.1);
        let figures = figures_of(spot, &|at| if at.x > 50.0 { 0.6 } else { 0.0 });
        let judged = figures.spread.unwrap().judged;
        assert_eq!((judged.verdict, judged.mm), (Verdict::TooClose, 1.2));
        assert!(judged.at.x > 50.0);
    }
}
