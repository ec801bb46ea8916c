//! Figures of form alone: how round a hole or a round edge is, how straight an edge or a line along the metal.

use ::compare::verdict::decide;
use ::compare::{State, Verdict};
use ::features::edge::Run;
use ::features::holes::{Hole, round_rim};
use ::features::minimum_zone::in_space::{round, straight};
use cloud::statistics::mean;
use cloud::unit::fraction_of_inch;
use cloud::{NamedPoint, Point, Vector};

use super::sheets::mean_place;
use super::{CheckResult, Reader};
use crate::job::CheckAsked;

/// An edge is meant where its middle, or a run of it, lies this near to the place or to the line, mm (half an inch).
const NEAR_MM: f64 = 12.7;
/// Fewest places of which a line is called straight or not, and an edge round or not.
const FEWEST_STRAIGHT: usize = 5;
const FEWEST_ROUND: usize = 12;

/// The places of an edge as it was and as it is, where both were seen.
struct EdgePlaces {
    was: Vec<Point>,
    is: Vec<Point>,
    /// The mean direction off the metal, and the mean normal.
    outward: Vector,
    normal: Vector,
    /// ± of one place, mm; the setting's share is not in it, since a form goes with the set.
    pm_mm: f64,
}

impl EdgePlaces {
    /// `short_of` is how short a run is, with its own ±, mm.
    fn of<'a>(runs: impl Iterator<Item = &'a Run>, short_of: &dyn Fn(&Run) -> Option<(f64, f64)>) -> Self {
        let mut places = Self {
            was: Vec::new(),
            is: Vec::new(),
            outward: Vector::zeros(),
            normal: Vector::zeros(),
            pm_mm: 0.0,
        };
        let mut pms = Vec::new();
        for run in runs {
            let Some((mm, pm_mm)) = short_of(run) else {
                continue;
            };
            places.was.push(run.middle);
            places.is.push(run.middle - run.outward * mm);
            places.outward += run.outward;
            places.normal += run.normal;
            pms.push(pm_mm);
        }
        if !pms.is_empty() {
            places.pm_mm = mean(&pms);
        }
        places
    }
}

/// A form of both sets: widths of the zones that hold them, the ± of the measured one and that of the difference, mm.
pub(super) struct Form {
    pub was_mm: f64,
    pub is_mm: f64,
    pub pm_mm: f64,
    pub off_pm_mm: f64,
}

impl Reader<'_> {
    /// How round the hole at a place is, or the round edge about it: minimum zone (ISO 1101, ISO 12181).
    pub(super) fn round(&self, asked: &CheckAsked, at: &NamedPoint) -> CheckResult {
        let form = self.round_hole(at).or_else(|| self.round_edge(at));
        let nothing = form.is_none() && self.places.hole(&at.at_mm).is_none();
        let result = formed(asked, "round", form);
        if nothing {
            return CheckResult {
                words: self.no_hole_there(),
                ..result
            };
        }
        result
    }

    fn round_hole(&self, at: &NamedPoint) -> Option<Form> {
        let pair = self.places.hole(&at.at_mm)?;
        let (ours, theirs) = pair.reference.as_ref().zip(pair.measured.as_ref())?;
        let back = self.setting.reference_from_measured.inverse();
        let theirs = Hole {
            at: back.apply(&theirs.at),
            axis: back.turn(&theirs.axis),
            ..*theirs
        };
        let was = round_rim(ours, &self.scaled.reference)?;
        let is = round_rim(&theirs, &self.scaled.measured)?;
        Some(Form {
            was_mm: was.zone_mm,
            is_mm: is.zone_mm,
            pm_mm: is.pm_mm,
            off_pm_mm: is.pm_mm.hypot(was.pm_mm),
        })
    }

    fn round_edge(&self, at: &NamedPoint) -> Option<Form> {
        let off = |places: &EdgePlaces| {
            let middle = places.was.iter().map(|p| p.coords).sum::<Vector>() / places.was.len() as f64;
            (Point::from(middle) - at.at_mm).norm()
        };
        let places = self
            .found
            .edges
            .iter()
            .filter(|edge| edge.closed)
            .map(|edge| EdgePlaces::of(edge.runs.iter(), &|run| self.short_of(run)))
            .filter(|places| places.was.len() >= FEWEST_ROUND && off(places) < NEAR_MM)
            .min_by(|a, b| off(a).total_cmp(&off(b)))?;
        Some(Form::by_difference(
            round(&places.was, &places.normal)?.zone_mm,
            round(&places.is, &places.normal)?.zone_mm,
            places.pm_mm,
        ))
    }

    /// How straight the edge along the line between two places is, in its sheet: minimum zone (ISO 1101, ISO 12780).
    pub(super) fn straight_edge_of(&self, asked: &CheckAsked, between: &[NamedPoint; 2]) -> CheckResult {
        let ends = between.each_ref().map(|place| place.at_mm);
        let runs = self.found.edges.iter().flat_map(|edge| &edge.runs);
        let runs = runs.filter(|run| is_beside(&run.middle, &ends));
        let places = EdgePlaces::of(runs, &|run| self.short_of(run));
        let form = (places.was.len() >= FEWEST_STRAIGHT)
            .then(|| {
                Some(Form::by_difference(
                    straight(&places.was, &ends, &places.outward)?.zone_mm,
                    straight(&places.is, &ends, &places.outward)?.zone_mm,
                    places.pm_mm,
                ))
            })
            .flatten();
        formed(asked, "straight", form)
    }

    /// How straight the metal is along the line between two places, square to the sheet: minimum zone (ISO 1101, ISO
    /// 12780), over places that are means of a disc, a disc's width from each other.
    pub(super) fn straight_sheet(&self, asked: &CheckAsked, between: &[NamedPoint; 2]) -> CheckResult {
        formed(asked, "straight", self.straight_metal(between))
    }

    fn straight_metal(&self, between: &[NamedPoint; 2]) -> Option<Form> {
        let reference = &self.scaled.reference;
        let deviations = &self.compared.deviations;
        let disc_mm = deviations.disc_mm;
        let ends = between.each_ref().map(|place| place.at_mm);
        let line = ends[1] - ends[0];
        let steps = (line.norm() / (2.0 * disc_mm)).floor() as usize;
        let (mut was, mut is, mut pms) = (Vec::new(), Vec::new(), Vec::new());
        let mut high = Vector::zeros();
        for k in 0..=steps {
            let on_line = ends[0] + line * (k as f64 / steps.max(1) as f64);
            let Some(near) = reference.near.nearest_within(&on_line, NEAR_MM.max(disc_mm)) else {
                continue;
            };
            let i = near.index as usize;
            let normal = reference.normals()[i];
            // The foot of the place on the sheet, so that all stand on one line.
            let at = on_line + normal * (reference.points()[i] - on_line).dot(&normal);
            if let State::Distance { mm, pm_mm } = deviations.states[i]
                && let Some(ours) = mean_place(reference, &at, &normal, disc_mm)
            {
                was.push(ours);
                is.push(ours + normal * mm);
                pms.push(pm_mm);
                high += normal;
            }
        }
        if was.len() < FEWEST_STRAIGHT || 2 * was.len() < steps {
            return None;
        }
        Some(Form::by_difference(
            straight(&was, &ends, &high)?.zone_mm,
            straight(&is, &ends, &high)?.zone_mm,
            mean(&pms),
        ))
    }
}

impl Form {
    /// Of places that were read as so far from the reference's, each with this ±: both sides of the zone rest on one place each.
    fn by_difference(was_mm: f64, is_mm: f64, place_pm_mm: f64) -> Self {
        let pm_mm = std::f64::consts::SQRT_2 * place_pm_mm;
        Self {
            was_mm,
            is_mm,
            pm_mm,
            off_pm_mm: pm_mm,
        }
    }

    /// How much worse than the reference, with its ±; `None` where the figure stands by itself, since it or the reference's is
    /// within the limit. What was made as little flat as that (a swage in it, a bow) is no fault of the part.
    fn worse_mm(&self, limit_mm: f64) -> Option<f64> {
        let is_within = |mm: f64| decide(mm, self.pm_mm, limit_mm) == Verdict::Within;
        (!is_within(self.is_mm) && !is_within(self.was_mm)).then_some(self.is_mm - self.was_mm)
    }

    /// The figure against its limit: by itself, or by how much worse it is than a reference that is not within it either.
    pub(super) fn judged(&self, result: CheckResult, [word, more]: [&str; 2], limit_mm: f64) -> CheckResult {
        let size = |mm: f64| fraction_of_inch(mm, 32);
        let words = format!("{word}; the reference is within {}", size(self.was_mm));
        let (verdict, pm_mm, words) = match self.worse_mm(limit_mm) {
            None => (decide(self.is_mm, self.pm_mm, limit_mm), self.pm_mm, words),
            Some(worse_mm) => {
                let verdict = decide(worse_mm.max(0.0), self.off_pm_mm, limit_mm);
                let against = match worse_mm <= self.off_pm_mm || size(worse_mm) == "0" {
                    true => format!("the reference is no {more}"),
                    false => format!(
                        "not within the limit itself: held against it, {} worse",
                        size(worse_mm)
                    ),
                };
                (verdict, self.off_pm_mm, format!("{words}; {against}"))
            }
        };
        CheckResult {
            reference: Some(self.was_mm),
            measured: Some(self.is_mm),
            off: Some(self.is_mm - self.was_mm),
            pm: Some(pm_mm),
            verdict,
            words,
            ..result
        }
    }
}

/// The figure of a form, `round` or `straight`, with its verdict.
fn formed(asked: &CheckAsked, word: &str, form: Option<Form>) -> CheckResult {
    let result = CheckResult::unseen(asked);
    let Some(form) = form else {
        return result;
    };
    let within = format!("{word} within {}", fraction_of_inch(form.is_mm, 32));
    form.judged(result, [&within, &format!("{word}er")], asked.limit)
}

/// Whether a place lies beside the line between two ends.
fn is_beside(place: &Point, ends: &[Point; 2]) -> bool {
    let line = ends[1] - ends[0];
    let share = (place - ends[0]).dot(&line) / line.norm_squared();
    (0.0..=1.0).contains(&share) && (place - (ends[0] + line * share)).norm() < NEAR_MM
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::CheckKind;
    use ::features::edge::Seen;

    fn run(x: f64, y: f64, seen: Seen) -> Run {
        let middle = Point::new(x, y, 0.0);
        Run {
            from: middle - Vector::x(),
            to: middle + Vector::x(),
            middle,
            outward: Vector::y(),
            normal: Vector::z(),
            seen,
        }
    }

    #[test]
    fn the_places_of_an_edge_are_where_its_metal_ends_now() {
        let short = |mm| Seen::Short { mm, pm_mm: 0.2 };
        let runs = [
            run(0.0, 5.0, short(1.0)),
            run(20.0, 5.0, Seen::NotSeen),
            run(40.0, 5.0, short(-0.5)),
        ];
        let short_of = |run: &Run| match run.seen {
            Seen::Short { mm, pm_mm } => Some((mm, pm_mm)),
            Seen::NotSeen => None,
        };
        let places = EdgePlaces::of(runs.iter(), &short_of);
        assert_eq!(places.was, [runs[0].middle, runs[2].middle]);
        assert_eq!(places.is, [Point::new(0.0, 4.0, 0.0), Point::new(40.0, 5.5, 0.0)]);
        assert!((places.pm_mm - 0.2).abs() < 1e-12);
    }

    #[test]
    fn a_run_belongs_to_the_line_that_it_lies_beside() {
        let ends = [Point::new(0.0, 0.0, 0.0), Point::new(100.0, 0.0, 0.0)];
        assert!(is_beside(&Point::new(50.0, 10.0, 5.0), &ends));
        assert!(!is_beside(&Point::new(50.0, 10.0, 10.0), &ends));
        assert!(!is_beside(&Point::new(-1.0, 0.0, 0.0), &ends));
        assert!(!is_beside(&Point::new(101.0, 0.0, 0.0), &ends));
    }

    /// A flat figure against 1.6 mm.
    fn flat(was_mm: f64, is_mm: f64) -> CheckResult {
        let asked = CheckAsked {
            name: "rear flat".to_string(),
            kind: CheckKind::Flat {
                region: "rear".to_string(),
            },
            limit: 1.6,
        };
        let form = Form {
            was_mm,
            is_mm,
            pm_mm: 0.1,
            off_pm_mm: 0.15,
        };
        form.judged(
            CheckResult::unseen(&asked),
            ["flat within so much", "flatter"],
            asked.limit,
        )
    }

    #[test]
    fn what_is_no_worse_than_its_reference_is_not_condemned_for_its_form() {
        // Flat by itself against a flat reference, and bent against it: the figure stands by itself.
        assert_eq!(flat(0.2, 0.8).verdict, Verdict::Within);
        let bent = flat(0.2, 2.4);
        assert_eq!((bent.verdict, bent.pm), (Verdict::Outside, Some(0.1)));
        assert!(
            bent.words.ends_with("the reference is within 0"),
            "{}",
            bent.words
        );
        // A swage was pressed into the reference too.
        let swage = flat(2.4, 2.45);
        assert_eq!((swage.verdict, swage.pm), (Verdict::Within, Some(0.15)));
        assert!(
            swage.words.ends_with("; the reference is no flatter"),
            "{}",
            swage.words
        );
        // Flatter than a reference that is bowed, if not flat.
        assert_eq!(flat(4.8, 2.4).verdict, Verdict::Within);
        let worse = flat(2.4, 4.8);
        assert_eq!(worse.verdict, Verdict::Outside);
        assert!(
            worse.words.ends_with("held against it, 3/32 worse"),
            "{}",
            worse.words
        );
        assert_eq!(flat(2.4, 4.05).verdict, Verdict::TooClose);
    }
}
