//! Figures of the metal of regions: the width between two of them, how flush they lie.

use ::compare::State;
use ::compare::verdict::LEAST_COVERAGE;
use ::features::shift::{Along, HOME_MM};
use cloud::held::SmallMotion;
use cloud::statistics::{mean, median};
use cloud::unit::fraction_of_inch;
use cloud::{Point, Vector};

use super::{CheckResult, Detail, Reader, Reading};
use crate::job::CheckAsked;
use crate::stages::compare::RegionResult;

/// Fewest places that carry a figure.
const FEWEST: usize = 4;
/// Metal that faces the direction asked for by less than this says little of it.
const FACING: f64 = 0.5;
/// Metal this near to the place of a drop carries it, mm; the rim of a datum hole lies within.
const AROUND_MM: f64 = 15.0;

/// How the metal of a region has moved along its declared outside.
struct Side {
    /// The middle of what was seen.
    at: Point,
    outside: Vector,
    reading: Reading,
    /// How that is along its box.
    along: Option<Along>,
}

/// Three places along a box by its longest axis, each with how far along it lies.
fn places_along(long: usize) -> [(&'static str, f64); 3] {
    let [first, last] = [
        ["at the front (mm)", "at the rear (mm)"],
        ["at the left (mm)", "at the right (mm)"],
        ["at the lower end (mm)", "at the upper end (mm)"],
    ][long];
    [("in the middle (mm)", 0.0), (first, -1.0), (last, 1.0)]
}

/// How much wider two sides are in the middle and at their ends, where they are bowed; `sign` is that of metal that is proud.
fn bowed(first: &Side, second: &Side, sign: f64, long: usize) -> Vec<Detail> {
    let (Some(one), Some(other)) = (first.along, second.along) else {
        return Vec::new();
    };
    if (one.bow_mm() + other.bow_mm()).abs() < HOME_MM {
        return Vec::new();
    }
    let wider = |(what, along): (&'static str, f64)| Detail {
        what,
        value: sign * (one.at(along) + other.at(along)),
        pm: None,
    };
    places_along(long).map(wider).to_vec()
}

/// `1/8 narrow in the middle, home at the front, home at the rear`.
fn along_in_words(details: &[Detail]) -> String {
    let each = details.iter().map(|detail| {
        let place = detail.what.trim_end_matches(" (mm)");
        format!("{} {place}", wide(detail.value, "home"))
    });
    each.collect::<Vec<_>>().join(", ")
}

/// `1/8 narrow`, and `home` as it is said.
fn wide(mm: f64, home: &str) -> String {
    match (fraction_of_inch(mm, 32).as_str(), mm > 0.0) {
        ("0", _) => home.to_string(),
        (size, true) => format!("{size} wide"),
        (size, false) => format!("{size} narrow"),
    }
}

impl Reader<'_> {
    pub(super) fn width(&self, asked: &CheckAsked, between: &[String; 2]) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let (Some(a), Some(b)) = (self.region(&between[0]), self.region(&between[1])) else {
            return result;
        };
        let (Some(first), Some(second)) = (self.side(a), self.side(b)) else {
            return result;
        };
        // Walls that look away from each other are as wide as the metal between them, those that look at each other as
        // the gap is: metal that is proud makes the one wider and the other narrower.
        let away = (first.at - second.at).dot(&first.outside).signum();
        let reading = Reading {
            off_mm: away * (first.reading.off_mm + second.reading.off_mm),
            pm_mm: first.reading.pm_mm.hypot(second.reading.pm_mm),
            follows: (first.reading.follows + second.reading.follows) * away,
        };
        let details = bowed(&first, &second, away, a.region.bounds.size().imax());
        let mut whole = wide(reading.off_mm, "as wide as it was");
        if !details.is_empty() {
            whole = format!("{whole} on the average, bowed ({})", along_in_words(&details));
        }
        let each: Vec<String> = [(a, &first), (b, &second)]
            .iter()
            .map(|(region, side)| {
                let out_mm = away * side.reading.off_mm;
                let place = match (fraction_of_inch(out_mm, 32).as_str(), out_mm > 0.0) {
                    ("0", _) => "home".to_string(),
                    (size, true) => format!("{size} out"),
                    (size, false) => format!("{size} in"),
                };
                format!("{} {place}", region.region.name)
            })
            .collect();
        let result = CheckResult {
            words: format!("{whole}: {}", each.join(", ")),
            details,
            ..result
        };
        self.judged(result, self.width_as_it_was(a, b), &reading, asked.limit)
    }

    /// The distance between two regions along the outside of the first, over all of their metal on the reference.
    fn width_as_it_was(&self, a: &RegionResult, b: &RegionResult) -> f64 {
        let points = self.scaled.reference.points();
        let outside = a.region.outside.map_or(Vector::zeros(), |o| o.direction());
        let middle = |region: &RegionResult| {
            let along: Vec<f64> = region
                .members
                .iter()
                .map(|&i| points[i as usize].coords.dot(&outside))
                .collect();
            mean(&along)
        };
        (middle(a) - middle(b)).abs()
    }

    /// How far the first region stands proud of the second beyond what it did on the reference, each along its own outside.
    pub(super) fn flush(&self, asked: &CheckAsked, between: &[String; 2]) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let (Some(a), Some(b)) = (self.region(&between[0]), self.region(&between[1])) else {
            return result;
        };
        let Some((normal, [first, second], was_mm)) = self.beside(a, b) else {
            return result;
        };
        let (Some((_, first)), Some((_, second))) = (
            self.moved_along(&normal, first.into_iter()),
            self.moved_along(&normal, second.into_iter()),
        ) else {
            return result;
        };
        let reading = Reading {
            off_mm: first.off_mm - second.off_mm,
            pm_mm: first.pm_mm.hypot(second.pm_mm),
            follows: first.follows - second.follows,
        };
        let now_mm = was_mm + reading.off_mm;
        let stands = match (fraction_of_inch(now_mm, 32).as_str(), now_mm > 0.0) {
            ("0", _) => "flush".to_string(),
            (size, true) => format!("{} stands {size} proud", a.region.name),
            (size, false) => format!("{} stands {size} shy", a.region.name),
        };
        let was = match fraction_of_inch(was_mm, 32).as_str() {
            "0" => "flush as it was".to_string(),
            size => format!("{size} {} as it was", if was_mm > 0.0 { "proud" } else { "shy" }),
        };
        let result = CheckResult {
            words: format!("{stands} ({was})"),
            ..result
        };
        self.judged(result, was_mm, &reading, asked.limit)
    }

    /// How a region has moved along its declared outside, on the average; `None` where too little of it was seen.
    fn side(&self, result: &RegionResult) -> Option<Side> {
        let outside = result.region.outside?.direction();
        if result.figures.coverage < LEAST_COVERAGE {
            return None;
        }
        let (at, reading) = self.moved_along(&outside, result.members.iter().copied())?;
        let (points, bounds) = (self.scaled.reference.points(), &result.region.bounds);
        let long = bounds.size().imax();
        let (middle, half) = (bounds.centre()[long], bounds.size()[long] / 2.0);
        let places = result.members.iter().filter_map(|&i| {
            let along = (points[i as usize][long] - middle) / half;
            Some((along, self.moved_at(i, &outside)?))
        });
        Some(Side {
            at,
            outside,
            reading,
            along: Along::of(places),
        })
    }

    /// How the metal at a point of the reference has moved along `direction`, mm; `None` where it says little of that.
    fn moved_at(&self, i: u32, direction: &Vector) -> Option<f64> {
        let lean = self.scaled.reference.normals()[i as usize].dot(direction);
        let mm = self.compared.deviations.states[i as usize].mm()?;
        // A leaning wall is met farther along the direction than along its own normal.
        (lean.abs() >= FACING).then_some(mm / lean)
    }

    /// How the metal at these points of the reference has moved along `direction`, on the average, and where.
    pub(super) fn moved_along(
        &self,
        direction: &Vector,
        members: impl Iterator<Item = u32>,
    ) -> Option<(Point, Reading)> {
        let reference = &self.scaled.reference;
        let (mut moved, mut pms) = (Vec::new(), Vec::new());
        let mut follows = SmallMotion::zeros();
        let mut middle = Vector::zeros();
        for i in members {
            let (at, normal) = (reference.points()[i as usize], reference.normals()[i as usize]);
            let lean = normal.dot(direction);
            let State::Distance { mm, pm_mm } = self.compared.deviations.states[i as usize] else {
                continue;
            };
            if lean.abs() < FACING {
                continue;
            }
            // A leaning wall is met farther along the direction than along its own normal.
            moved.push(mm / lean);
            pms.push(pm_mm / lean.abs());
            follows += self.setting.row_along(&at, &normal) / lean;
            middle += at.coords;
        }
        if moved.len() < FEWEST {
            return None;
        }
        let count = moved.len() as f64;
        // Neighbours share their points over the disc of the comparison: only as many are their own evidence as there are
        // discs in the area.
        let disc_mm2 = std::f64::consts::PI * self.compared.deviations.disc_mm.powi(2);
        let discs = (count * reference.spacing_mm.powi(2) / disc_mm2).max(1.0);
        Some((
            Point::from(middle / count),
            Reading {
                off_mm: mean(&moved),
                pm_mm: median(&mut pms) / discs.sqrt(),
                follows: follows / count,
            },
        ))
    }

    /// The height of the metal around a place.
    pub(super) fn height_of_metal(&self, at: &Point) -> Option<Reading> {
        let mut around = Vec::new();
        self.scaled
            .reference
            .near
            .visit_within(at, AROUND_MM, |n| around.push(n.index));
        Some(self.moved_along(&Vector::z(), around.into_iter())?.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A side that is off by as much as `off` has it along its box.
    fn side(off: impl Fn(f64) -> f64) -> Side {
        let places = (-100..=100).map(|k| f64::from(k) / 100.0);
        Side {
            at: Point::origin(),
            outside: Vector::y(),
            reading: Reading {
                off_mm: 0.0,
                pm_mm: 0.1,
                follows: SmallMotion::zeros(),
            },
            along: Along::of(places.map(|along| (along, off(along)))),
        }
    }

    /// Pulled in by an eighth in the middle, as half a sine: 5/64 narrow on the average, and home at both ends.
    #[test]
    fn a_width_between_bowed_sides_is_told_where_it_is_off() {
        let home = side(|_| 0.0);
        let pulled = side(|along| -3.175 * (std::f64::consts::FRAC_PI_2 * along).cos());
        let details = bowed(&home, &pulled, 1.0, 0);
        assert_eq!(
            along_in_words(&details),
            "1/8 narrow in the middle, home at the front, home at the rear"
        );
        assert!(bowed(&home, &side(|along| 2.0 + along), 1.0, 0).is_empty());
    }
}
