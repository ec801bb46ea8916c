//! Another set of the same part, taken through the same stages against the same reference: held on its pads, or an original.

use ::features::bead;
use ::features::edge::{EdgeResult, Seen};
use ::features::holes;
use cloud::Point;
use cloud::statistics::mean;

use super::checks::place::Places;
use super::compare::{self, Compared};
use super::features::{self, BeadResult, Found, HoleResult};
use super::register::{self, Setting};
use super::scale::{self, Scaled};
use super::{checks, load};
use crate::job::{Comparison, Set};
use crate::trouble::Trouble;

/// What came of the other set.
pub struct Again {
    /// What was compared.
    pub compared: Compared,
    /// What was found.
    pub found: Found,
}

/// Takes `other` through the stages as `comparison` asks for its measured set, by its own points where it is set by points,
/// and by its own holes where it is set by datum holes.
/// What would warn of it is not said: its own comparison says it.
///
/// # Errors
/// Where it can't be read or set.
pub fn again(comparison: &Comparison, other: &Set) -> Result<Again, Trouble> {
    let asked = Comparison {
        name: other.name.clone(),
        measured: other.clone(),
        points: comparison.points_of(other),
        repeat: None,
        held: None,
        originals: Vec::new(),
        ..comparison.clone()
    };
    let mut scaled = scale::scale(&asked, load::load(&asked)?)?;
    let setting = register::register(&asked, &mut scaled)?;
    let compared = compare::compare(&asked, &mut scaled, &setting, &[]);
    let found = found(&asked, &scaled, &setting, &compared)?;
    Ok(Again { compared, found })
}

/// Everything that a comparison asks for: features first, then the checks that lean on them.
///
/// # Errors
/// Where a table of points can't be read.
pub fn found(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
) -> Result<Found, Trouble> {
    let mut found = features::features(comparison, scaled, setting, compared);
    let holes = found.holes.iter().map(|hole| hole.pair.clone());
    let places = Places::new(comparison, scaled, setting, holes)?;
    features::call_by_places(&mut found.holes, places.named(&comparison.asked.places));
    found.places = comparison
        .asked
        .places
        .iter()
        .filter_map(|place| places.seen(place))
        .collect();
    found.shell = features::shell::shell(comparison, setting, &found.places, &mut found.warnings);
    found.checks = checks::checks(comparison, scaled, setting, compared, &found, &places);
    // What was found only on the way to a check is no answer to a question that nobody asked.
    if !comparison.asked.edges {
        found.edges.clear();
    }
    if !comparison.asked.holes {
        found.holes.clear();
    }
    Ok(found)
}

/// The same hole or bead of the reference, read again, lies within this of itself, mm.
const SAME_MM: f64 = 1.0;

/// The hole of another comparison with the same reference that is the same hole of that reference.
pub fn alike_hole<'a>(pair: &holes::Pair, others: &'a [HoleResult]) -> Option<&'a HoleResult> {
    let at = pair.reference.as_ref()?.at;
    let same = |other: &&HoleResult| other.pair.reference.is_some_and(|hole| near(&hole.at, &at));
    others.iter().find(same)
}

/// The bead of another comparison with the same reference that is the same bead of that reference.
pub fn alike_bead<'a>(pair: &bead::Pair, others: &'a [BeadResult]) -> Option<&'a BeadResult> {
    let at = pair.reference.as_ref()?.at;
    let same = |other: &&BeadResult| {
        other
            .pair
            .reference
            .as_ref()
            .is_some_and(|bead| near(&bead.at, &at))
    };
    others.iter().find(same)
}

fn near(a: &Point, b: &Point) -> bool {
    (a - b).norm() < SAME_MM
}

/// How short an edge is in another comparison with the same reference, along the `runs` that it has in this one, with its
/// ±, mm; `None` where less than half of them was seen there. Runs are as long as the coarser set wants them, so that
/// their numbers say nothing.
pub fn shortness(edge: &EdgeResult, runs: &[usize], same: &EdgeResult) -> Option<(f64, f64)> {
    let mut seen: Vec<(f64, f64)> = Vec::new();
    for run in runs.iter().filter_map(|&k| edge.runs.get(k)) {
        let apart = |middle: &Point| (middle - run.middle).norm();
        let nearest = same
            .runs
            .iter()
            .min_by(|a, b| apart(&a.middle).total_cmp(&apart(&b.middle)));
        if let Some(nearest) = nearest
            && let Seen::Short { mm, pm_mm } = nearest.seen
        {
            seen.push((mm, pm_mm));
        }
    }
    // The setting and the spacing are shared by all runs, so that their ± is not divided down.
    (!seen.is_empty() && 2 * seen.len() >= runs.len()).then(|| {
        let of = |figure: fn(&(f64, f64)) -> f64| mean(&seen.iter().map(figure).collect::<Vec<f64>>());
        (of(|s| s.0), of(|s| s.1))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::compare::Verdict;
    use ::features::edge::Run;
    use cloud::Vector;

    /// An edge along X with `count` runs of `length_mm`, short as `short` says by its place.
    fn edge(count: usize, length_mm: f64, short: impl Fn(f64) -> Option<f64>) -> EdgeResult {
        let at = |x: f64| Point::new(x, 0.0, 0.0);
        let run = |k: usize| {
            let from = k as f64 * length_mm;
            let middle = from + length_mm / 2.0;
            Run {
                from: at(from),
                to: at(from + length_mm),
                middle: at(middle),
                outward: Vector::y(),
                normal: Vector::z(),
                seen: short(middle).map_or(Seen::NotSeen, |mm| Seen::Short { mm, pm_mm: 0.2 }),
            }
        };
        EdgeResult {
            name: "rear edge".to_string(),
            region: None,
            length_mm: count as f64 * length_mm,
            runs: (0..count).map(run).collect(),
            closed: false,
            straightness_mm: None,
            stretches: Vec::new(),
            verdict: Verdict::Within,
            words: Vec::new(),
        }
    }

    #[test]
    fn a_stretch_is_read_on_the_other_set_where_it_lies_and_not_by_its_number() {
        let ours = edge(10, 20.0, |_| Some(0.0));
        let theirs = edge(20, 10.0, |x| Some(if x > 100.0 { 5.0 } else { 0.0 }));
        let (mm, pm_mm) = shortness(&ours, &[6, 7, 8], &theirs).unwrap();
        assert!((mm - 5.0).abs() < 1e-12 && (pm_mm - 0.2).abs() < 1e-12);
        assert!(shortness(&ours, &[1, 2, 3], &theirs).unwrap().0.abs() < 1e-12);
        let hidden = edge(20, 10.0, |x| (x < 100.0).then_some(0.0));
        assert_eq!(shortness(&ours, &[6, 7, 8], &hidden), None);
    }
}
