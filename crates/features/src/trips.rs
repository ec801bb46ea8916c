//! Trips: one figure over the sessions of a part in and out of the jig, the step it made and the trip since which it stands.
//!
//! A step is flagged where it is over 1/32 in and over twice its ±. The ± is half the 95 % band, 1.96 standard deviations,
//! and that of a step is both ± in quadrature; so the bar lies at 3.92 standard deviations of the step, which noise alone
//! passes once in 11 300 pairs of trips (8.86e-5, both tails of the normal). Forty figures over fifteen trips are 560 pairs:
//! one false flag in twenty jobs. A single ± as the bar would give 28 of them in every job. Where the ± is small, 1/32 in
//! is the higher bar and false flags are rarer still. The ± of either trip must hold what putting the part back does to
//! the figure; without it the count says nothing.

use cloud::unit::{MM_PER_INCH, fraction_of_inch, signed_32nds};
use compare::verdict::{Verdict, decide};

/// Less than this is no step, mm (1/32 in).
pub const LEAST_STEP_MM: f64 = MM_PER_INCH / 32.0;

/// A step must be over so many of its own ±.
const TIMES_PM: f64 = 2.0;

/// A reading whose ± is over so many times that of a later one is passed over where that is held against what was before: a
/// scan that hardly knows a hole would hide that the next trip finds it knocked, and the way back would be told as the step.
const HARDLY_KNOWN: f64 = 1.5;

/// One figure at one trip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The figure, mm.
    pub mm: f64,
    /// Its ±, half the 95 % band, mm.
    pub pm_mm: f64,
}

/// A figure over the trips.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Which figure.
    pub what: String,
    /// How far from nothing it may be, mm.
    pub limit_mm: f64,
    /// What each trip read, oldest first; `None` where a trip did not see it. What is no number counts as not seen.
    pub readings: Vec<Option<Reading>>,
}

/// A step between two trips that know the figure; those between them did not see it, or hardly know it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The last trip before it, counted from 0.
    pub from: usize,
    /// The first trip after it.
    pub to: usize,
    /// The figure after less the figure before, mm.
    pub by_mm: f64,
    /// Its ±, half the 95 % band, mm.
    pub pm_mm: f64,
}

/// Whether a figure is home.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Home {
    /// Within its limit, the ± counted in.
    Home,
    /// Beyond its limit, the ± counted in.
    NotHome,
    /// The limit lies inside the ±.
    TooClose,
}

/// The steps of a figure, oldest first: each between a trip that saw it and the last one before that knows it about as well,
/// no farther back than the step before. Where none does it is the one just before.
pub fn steps(series: &Series) -> Vec<Step> {
    let seen = seen(series);
    let mut steps = Vec::new();
    let mut stands_from = 0;
    for (k, now) in seen.iter().enumerate().skip(1) {
        let before = &seen[stands_from..k];
        let knows = |then: &&(usize, Reading)| then.1.pm_mm <= HARDLY_KNOWN * now.1.pm_mm;
        let Some(then) = before.iter().rev().find(knows).or(before.last()) else {
            continue;
        };
        let step = between(*then, *now);
        if shows(&step) {
            steps.push(step);
            stands_from = k;
        }
    }
    steps
}

/// The way from the first trip that saw a figure to the last, where that is over 1/32 in and over twice its ± though no two
/// trips that follow each other are a step apart; `None` where there is a step, or the figure stays.
pub fn creep(series: &Series) -> Option<Step> {
    if !steps(series).is_empty() {
        return None;
    }
    whole(series).filter(shows)
}

/// The trip since which a figure stands where it now is: the one after its last step. `None` where it made no step, or
/// where it has come back to within the ± of where it began.
pub fn since(series: &Series, steps: &[Step]) -> Option<usize> {
    let last = steps.last()?;
    let back = whole(series).is_some_and(|way| way.by_mm.abs() <= way.pm_mm);
    (!back).then_some(last.to)
}

/// Whether a reading is home: |mm| + ± ≤ limit is, |mm| − ± > limit is not, and between them it is too close to call
/// (see [`compare::verdict::decide`]).
pub fn home(reading: &Reading, limit_mm: f64) -> Home {
    match decide(reading.mm, reading.pm_mm, limit_mm) {
        Verdict::Within => Home::Home,
        Verdict::Outside => Home::NotHome,
        Verdict::TooClose | Verdict::NotMeasured => Home::TooClose,
    }
}

/// A step or a creep in words, with the names of the trips: `by +3/32 (±1/64) from trip 6 to trip 7`. A trip without a
/// name is given its number, counted from 1.
pub fn step_words(step: &Step, names: &[String]) -> String {
    let name = |trip: usize| {
        let known = names.get(trip).cloned();
        known.unwrap_or_else(|| format!("trip {}", trip + 1))
    };
    format!(
        "by {} (±{}) from {} to {}",
        signed_32nds(step.by_mm),
        // A ± is never printed as nothing.
        fraction_of_inch(step.pm_mm.max(MM_PER_INCH / 64.0), 64),
        name(step.from),
        name(step.to)
    )
}

/// The trips that saw a figure, with what they read.
fn seen(series: &Series) -> Vec<(usize, Reading)> {
    let all = series.readings.iter().enumerate();
    all.filter_map(|(trip, reading)| reading.map(|r| (trip, r)))
        .filter(|(_, r)| r.mm.is_finite() && r.pm_mm.is_finite())
        .collect()
}

/// From the first trip that saw a figure to the last.
fn whole(series: &Series) -> Option<Step> {
    let seen = seen(series);
    let (first, rest) = seen.split_first()?;
    rest.last().map(|last| between(*first, *last))
}

fn between(before: (usize, Reading), after: (usize, Reading)) -> Step {
    Step {
        from: before.0,
        to: after.0,
        by_mm: after.1.mm - before.1.mm,
        pm_mm: before.1.pm_mm.hypot(after.1.pm_mm),
    }
}

fn shows(step: &Step) -> bool {
    step.by_mm.abs() > LEAST_STEP_MM.max(TIMES_PM * step.pm_mm)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    fn series(mm: &[Option<f64>], pm_mm: f64) -> Series {
        Series {
            what: "LF pad".to_string(),
            limit_mm: 1.5875,
            readings: mm.iter().map(|m| m.map(|mm| Reading { mm, pm_mm })).collect(),
        }
    }

    /// A normal deviate of standard deviation 1 (Box & Muller 1958).
    fn deviate(i: u64) -> f64 {
        let radius = (-2.0 * uniform(2 * i + 1).ln()).sqrt();
        radius * (std::f64::consts::TAU * uniform(2 * i + 2)).cos()
    }

    /// So many trips with a ± of 0.6 mm that is what it says, from a place in the row of deviates.
    fn noisy(trips: u64, start: u64, by_mm: impl Fn(u64) -> f64) -> Series {
        let mm: Vec<Option<f64>> = (0..trips)
            .map(|t| Some(by_mm(t) + 0.6 / 1.96 * deviate(start + t)))
            .collect();
        series(&mm, 0.6)
    }

    #[test]
    fn a_planted_step_is_found_and_hardly_any_other() {
        let (mut found, mut others) = (0, 0);
        for k in 0..500 {
            let series = noisy(15, 15 * k, |t| if t < 7 { 0.0 } else { 4.0 });
            for step in steps(&series) {
                if step.to == 7 {
                    assert!(step.from == 6 && (step.by_mm - 4.0).abs() < 2.0);
                    found += 1;
                } else {
                    others += 1;
                }
            }
        }
        assert_eq!(found, 500);
        assert!(others <= 3, "{others} in 6 500 pairs, 0.6 awaited");
    }

    #[test]
    fn noise_alone_is_flagged_as_rarely_as_is_said() {
        let pairs = 200_000;
        let flagged = steps(&noisy(pairs + 1, 10_000, |_| 0.0)).len();
        // 17.7 awaited; three standard deviations and the tie between neighbours allowed.
        assert!((4..=36).contains(&flagged), "{flagged}");
    }

    #[test]
    fn a_step_must_be_over_a_32nd_and_over_twice_its_pm() {
        let made = |by: f64, pm: f64| !steps(&series(&[Some(0.1), Some(0.1 + by)], pm)).is_empty();
        assert!(!made(0.78, 0.01) && made(0.81, 0.01) && made(-0.81, 0.01));
        // Two ± of 1 mm are one of √2.
        assert!(!made(2.82, 1.0) && made(2.84, 1.0));
    }

    #[test]
    fn what_no_trip_between_saw_is_held_against_the_last_that_did() {
        let gone = f64::NAN;
        let readings = [None, Some(0.0), Some(0.1), None, Some(gone), Some(2.4), None];
        let series = series(&readings, 0.2);
        let found = steps(&series);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].from, found[0].to), (2, 5));
        assert!((found[0].by_mm - 2.3).abs() < 1e-12 && (found[0].pm_mm - 0.08_f64.sqrt()).abs() < 1e-12);
        assert_eq!(since(&series, &found), Some(5));
    }

    /// A pin that was knocked before trip 6 and is back at trip 7; trip 5 is a scan that hardly sees it.
    #[test]
    fn what_hardly_knows_it_does_not_hide_that_it_went_and_came_back() {
        let read = [
            (-0.1, 0.4),
            (0.2, 1.1),
            (2.6, 0.4),
            (0.1, 0.4),
            (0.3, 1.2),
            (0.0, 0.4),
        ];
        let mut series = series(&[], 0.0);
        series.readings = read.map(|(mm, pm_mm)| Some(Reading { mm, pm_mm })).to_vec();
        let found = steps(&series);
        let trips: Vec<_> = found.iter().map(|step| (step.from, step.to)).collect();
        assert_eq!(trips, [(0, 2), (2, 3)]);
        assert!((found[0].by_mm - 2.7).abs() < 1e-12);
        assert_eq!(since(&series, &found), None);
        // What steps by more than it hardly knows has stepped once, and not again at the next that knows it well.
        series.readings[1] = Some(Reading { mm: 6.0, pm_mm: 1.1 });
        series.readings[2] = Some(Reading { mm: 6.2, pm_mm: 0.4 });
        assert_eq!(steps(&series)[0].to, 1);
        assert_eq!(steps(&series)[1].to, 3);
    }

    #[test]
    fn a_creep_shows_though_no_step_does() {
        let slow: Vec<Option<f64>> = (0..8).map(|t| Some(0.3 * f64::from(t))).collect();
        let slow = series(&slow, 0.2);
        assert!(steps(&slow).is_empty());
        let way = creep(&slow).unwrap();
        assert_eq!((way.from, way.to), (0, 7));
        assert!((way.by_mm - 2.1).abs() < 1e-12);
        // A step is no creep, and what stays or was seen once is neither.
        for other in [
            &[Some(0.0), Some(2.1)][..],
            &[Some(0.0), Some(0.3)],
            &[Some(2.1)],
            &[],
        ] {
            assert_eq!(creep(&series(other, 0.2)), None, "{other:?}");
        }
    }

    #[test]
    fn it_stands_since_its_last_step_unless_it_came_back() {
        let stands = |mm: &[f64]| {
            let mm: Vec<Option<f64>> = mm.iter().copied().map(Some).collect();
            let series = series(&mm, 0.2);
            since(&series, &steps(&series))
        };
        assert_eq!(stands(&[0.0, 0.1, 2.4, 2.3]), Some(2));
        assert_eq!(stands(&[0.0, 2.4, 2.3, 4.6, 4.7]), Some(3));
        assert_eq!(stands(&[0.0, 2.4, 2.3, 0.2, 0.1]), None);
        assert_eq!(stands(&[0.0, 2.4, 0.5]), Some(2));
        assert_eq!(stands(&[0.0, 0.3, 0.1]), None);
        assert_eq!(stands(&[]), None);
    }

    #[test]
    fn home_is_decided_with_its_pm() {
        let of = |mm, pm_mm| home(&Reading { mm, pm_mm }, 1.5875);
        assert_eq!(of(-1.0, 0.5), Home::Home);
        assert_eq!(of(1.2, 0.5), Home::TooClose);
        assert_eq!(of(-2.2, 0.5), Home::NotHome);
        assert_eq!(of(f64::NAN, 0.5), Home::TooClose);
    }

    #[test]
    fn a_step_is_said_in_32nds_between_its_trips() {
        let names: Vec<String> = (1..=7).map(|n| format!("trip {n}")).collect();
        let mut step = Step {
            from: 5,
            to: 6,
            by_mm: 2.4,
            pm_mm: 0.4,
        };
        assert_eq!(
            step_words(&step, &names),
            "by +3/32 (±1/64) from trip 6 to trip 7"
        );
        step.pm_mm = 0.01;
        step.to = 8;
        assert_eq!(
            step_words(&step, &names),
            "by +3/32 (±1/64) from trip 6 to trip 9"
        );
    }
}
