//! Figures between named places, as a tape, a tram bar, a plumb line or a bolt would say them.

use ::compare::Verdict;
use ::compare::verdict::NOT_HELD_MM;
use ::features::holes::{Missing, found_from_mm, surely_found_from_mm};
use ::features::words::NOT_HELD;
use cloud::unit::fraction_of_inch;
use cloud::{NamedPoint, Vector};

use super::place::SeenPlace;
use super::{CheckResult, Reader, Reading, called};
use crate::job::CheckAsked;
use crate::say;
use crate::stages::features::coarser_spacing_mm;

impl Reader<'_> {
    pub(super) fn drop(&self, asked: &CheckAsked, at: &NamedPoint) -> CheckResult {
        let called = called("drop", &asked.name);
        let seen = self.places.seen(at);
        let reading = seen
            .as_ref()
            .map(|place| self.height_of(place))
            .or_else(|| self.height_of_metal(&at.at_mm));
        let Some(reading) = reading else {
            return CheckResult {
                words: format!("{called}: not seen"),
                ..CheckResult::unseen(asked)
            };
        };
        let was_mm = seen.map_or(at.at_mm.z, |place| place.reference.z);
        let result = CheckResult {
            words: format!("{called} reads {}", now_and_was(was_mm + reading.off_mm, was_mm)),
            ..CheckResult::unseen(asked)
        };
        self.judged(result, was_mm, &reading, asked.limit)
    }

    /// The rise from the first place to the second.
    pub(super) fn height(&self, asked: &CheckAsked, between: &[NamedPoint; 2]) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let places = between.each_ref().map(|place| {
            let seen = self.places.seen(place);
            let reading = seen.as_ref().map(|seen| self.height_of(seen));
            let was_mm = seen.map_or(place.at_mm.z, |seen| seen.reference.z);
            reading
                .or_else(|| self.height_of_metal(&place.at_mm))
                .map(|reading| (was_mm, reading))
        });
        let [Some((from_mm, from)), Some((to_mm, to))] = places else {
            return result;
        };
        let was_mm = to_mm - from_mm;
        let reading = Reading {
            off_mm: to.off_mm - from.off_mm,
            pm_mm: to.pm_mm.hypot(from.pm_mm),
            follows: to.follows - from.follows,
        };
        let result = CheckResult {
            words: format!(
                "{} above {} by {}",
                between[1].name,
                between[0].name,
                now_and_was(was_mm + reading.off_mm, was_mm)
            ),
            ..result
        };
        self.judged(result, was_mm, &reading, asked.limit)
    }

    /// Point to point: no setting has a share in it.
    pub(super) fn tram(&self, asked: &CheckAsked, between: &[NamedPoint; 2]) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let (Some(a), Some(b)) = (self.places.seen(&between[0]), self.places.seen(&between[1])) else {
            let unseen: Vec<&str> = between
                .iter()
                .filter(|place| self.places.seen(place).is_none())
                .map(|place| place.name.as_str())
                .collect();
            return CheckResult {
                words: format!("{} not seen as a hole or a probed point", unseen.join(" and ")),
                ..result
            };
        };
        let (was_mm, now_mm) = (
            (a.reference - b.reference).norm(),
            (a.measured - b.measured).norm(),
        );
        let result = CheckResult {
            words: format!(
                "{} to {} reads {}",
                between[0].name,
                between[1].name,
                now_and_was(now_mm, was_mm)
            ),
            ..result
        };
        let along = (b.reference - a.reference) / was_mm.max(f64::MIN_POSITIVE);
        let pm_mm = a.known.along_mm(&along).hypot(b.known.along_mm(&along));
        result.read(was_mm, now_mm - was_mm, pm_mm, asked.limit)
    }

    pub(super) fn bolt(&self, asked: &CheckAsked, at: &NamedPoint, size_mm: f64) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let Some(pair) = self.places.hole(&at.at_mm) else {
            return CheckResult {
                words: self.no_hole_there(),
                ..result
            };
        };
        let (Some(ours), Some(bolt)) = (&pair.reference, pair.bolt_goes(size_mm)) else {
            let slides = pair
                .reference
                .as_ref()
                .is_some_and(|hole| self.setting.pm_across_mm(&hole.at, &hole.axis) > NOT_HELD_MM);
            // Metal where the hole should be is an answer, unless the hole may have slid; a place that was not seen is none.
            return match pair.missing {
                Some(_) if slides => CheckResult {
                    words: NOT_HELD.to_string(),
                    ..result
                },
                Some(Missing::TooSmall) => CheckResult {
                    words: format!(
                        "only the reference shows a hole there; at this spacing none under {} is surely found",
                        say::plain_64ths(surely_found_from_mm(coarser_spacing_mm(self.scaled)))
                    ),
                    ..result
                },
                Some(_) => CheckResult {
                    words: "there is no hole: the bolt does not go".to_string(),
                    verdict: Verdict::Outside,
                    ..result
                },
                None => CheckResult {
                    words: "no hole seen there".to_string(),
                    ..result
                },
            };
        };
        let was_mm = ours.diameter_mm - size_mm;
        CheckResult {
            reference: Some(was_mm),
            measured: Some(bolt.spare_mm),
            off: Some(bolt.spare_mm - was_mm),
            pm: Some(bolt.pm_mm),
            verdict: bolt.verdict,
            words: bolt.words,
            ..result
        }
    }

    /// What is said of a place where no hole was found: there may be one that the points don't show.
    pub(super) fn no_hole_there(&self) -> String {
        format!(
            "no hole was found there; at this spacing nothing under {} is",
            say::plain_64ths(found_from_mm(coarser_spacing_mm(self.scaled)))
        )
    }

    fn height_of(&self, place: &SeenPlace) -> Reading {
        Reading {
            off_mm: place.measured.z - place.reference.z,
            pm_mm: place.known.along_mm(&Vector::z()),
            follows: self.setting.row_along(&place.reference, &Vector::z()),
        }
    }
}

/// `20-3/16 (20 as it was)`.
fn now_and_was(now_mm: f64, was_mm: f64) -> String {
    format!(
        "{} ({} as it was)",
        fraction_of_inch(now_mm, 32),
        fraction_of_inch(was_mm, 32)
    )
}
