//! Figures that were asked for by name: a width between two regions, a drop to the table.

use ::compare::verdict::{self, LEAST_COVERAGE};
use ::compare::{State, Verdict};
use cloud::held::{SmallMotion, pm_of_row, row};
use cloud::statistics::{mean, median};
use cloud::unit::fraction_of_inch;
use cloud::{Point, Vector};

use super::compare::{Compared, RegionResult};
use super::features::Found;
use super::register::Setting;
use super::scale::Scaled;
use crate::job::{CheckAsked, CheckKind, Comparison};

/// A figure, as it was and as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckResult {
    /// What the job calls it.
    pub name: String,
    /// `width` or `drop`.
    pub kind: &'static str,
    /// On the reference, mm.
    pub reference_mm: f64,
    /// On the measured set, mm; `None` where it was not seen.
    pub measured_mm: Option<f64>,
    /// The one less the other, mm.
    pub off_mm: Option<f64>,
    /// ± of it (half the 95 % band), the setting's share in it, mm.
    pub pm_mm: Option<f64>,
    /// Against its limit.
    pub verdict: Verdict,
    /// In the shop's words.
    pub words: String,
}

/// A hole this near to the place of a drop is the one that was meant, mm.
const HOLE_MM: f64 = 10.0;
/// Metal this near to the place of a drop carries it, mm; the rim of a datum hole lies within.
const AROUND_MM: f64 = 15.0;
/// Fewest places that carry a figure.
const FEWEST: usize = 4;
/// Metal that faces the direction asked for by less than this says little of it.
const FACING: f64 = 0.5;
/// A figure that changes by more than this share of a motion that nothing holds leans on it.
const LEANS: f64 = 0.2;

/// Reads every check of the comparison, in its order.
pub fn checks(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
    found: &Found,
) -> Vec<CheckResult> {
    let reader = Reader {
        scaled,
        setting,
        compared,
        found,
    };
    comparison
        .checks
        .iter()
        .map(|asked| match &asked.kind {
            CheckKind::Width { between } => reader.width(asked, between),
            CheckKind::Drop { at_mm } => reader.height(asked, at_mm),
        })
        .collect()
}

/// What a figure has come to before it is judged.
struct Reading {
    off_mm: f64,
    /// ± without the setting's share, mm.
    pm_mm: f64,
    /// How the figure follows a small motion of the measured set.
    follows: SmallMotion,
}

/// How the metal of a region has moved along its declared outside.
struct Side {
    /// The middle of what was seen.
    at: Point,
    outside: Vector,
    reading: Reading,
}

struct Reader<'a> {
    scaled: &'a Scaled,
    setting: &'a Setting,
    compared: &'a Compared,
    found: &'a Found,
}

impl Reader<'_> {
    fn width(&self, asked: &CheckAsked, between: &[String; 2]) -> CheckResult {
        let region = |name: &String| self.compared.regions.iter().find(|r| r.region.name == *name);
        let mut result = CheckResult {
            name: asked.name.clone(),
            kind: "width",
            reference_mm: 0.0,
            measured_mm: None,
            off_mm: None,
            pm_mm: None,
            verdict: Verdict::NotMeasured,
            words: "not seen well enough".to_string(),
        };
        let (Some(a), Some(b)) = (region(&between[0]), region(&between[1])) else {
            return result;
        };
        result.reference_mm = self.width_as_it_was(a, b);
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
        let size = fraction_of_inch(reading.off_mm, 32);
        let whole = match (size.as_str(), reading.off_mm > 0.0) {
            ("0", _) => "as wide as it was".to_string(),
            (_, true) => format!("{size} wide"),
            (_, false) => format!("{size} narrow"),
        };
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
        result.words = format!("{whole}: {}", each.join(", "));
        self.judged(result, &reading, asked.limit_mm)
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

    /// How a region has moved along its declared outside, on the average; `None` where too little of it was seen.
    fn side(&self, result: &RegionResult) -> Option<Side> {
        let outside = result.region.outside?.direction();
        if result.figures.coverage < LEAST_COVERAGE {
            return None;
        }
        let (at, reading) = self.moved_along(&outside, result.members.iter().copied())?;
        Some(Side { at, outside, reading })
    }

    /// How the metal at these points of the reference has moved along `direction`, on the average, and where.
    fn moved_along(
        &self,
        direction: &Vector,
        members: impl Iterator<Item = u32>,
    ) -> Option<(Point, Reading)> {
        let reference = &self.scaled.reference;
        let centre = self
            .setting
            .motions
            .as_ref()
            .map_or(Point::origin(), |m| m.centre_mm);
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
            follows += row(&(at - centre), &normal) / lean;
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

    fn height(&self, asked: &CheckAsked, at: &Point) -> CheckResult {
        let result = CheckResult {
            name: asked.name.clone(),
            kind: "drop",
            reference_mm: at.z,
            measured_mm: None,
            off_mm: None,
            pm_mm: None,
            verdict: Verdict::NotMeasured,
            words: format!("{}: not seen", called("drop", &asked.name)),
        };
        let Some(reading) = self.hole_at(at).or_else(|| self.metal_at(at)) else {
            return result;
        };
        let result = CheckResult {
            words: format!(
                "{} reads {} ({} as it was)",
                called("drop", &asked.name),
                fraction_of_inch(at.z + reading.off_mm, 32),
                fraction_of_inch(at.z, 32)
            ),
            ..result
        };
        self.judged(result, &reading, asked.limit_mm)
    }

    /// The height of the matched hole that lies at a place.
    fn hole_at(&self, at: &Point) -> Option<Reading> {
        let apart = |p: &Point| (p - at).norm();
        let (pair, ours, theirs) = self
            .found
            .holes
            .iter()
            .filter_map(|h| Some((&h.pair, h.pair.reference?, h.pair.measured?)))
            .filter(|(_, ours, _)| apart(&ours.at) < HOLE_MM)
            .min_by(|a, b| apart(&a.1.at).total_cmp(&apart(&b.1.at)))?;
        let centre = self
            .setting
            .motions
            .as_ref()
            .map_or(Point::origin(), |m| m.centre_mm);
        Some(Reading {
            off_mm: theirs.at.z - ours.at.z,
            pm_mm: pair.pm_mm,
            follows: row(&(ours.at - centre), &Vector::z()),
        })
    }

    /// The height of the metal around a place.
    fn metal_at(&self, at: &Point) -> Option<Reading> {
        let mut around = Vec::new();
        self.scaled
            .reference
            .near
            .visit_within(at, AROUND_MM, |n| around.push(n.index));
        Some(self.moved_along(&Vector::z(), around.into_iter())?.1)
    }

    /// The figure with its ± and its verdict; none where it leans on a motion that nothing holds.
    fn judged(&self, mut result: CheckResult, reading: &Reading, limit_mm: f64) -> CheckResult {
        let motions = self.setting.motions.as_ref();
        let follows = &reading.follows;
        let setting_mm = motions.map_or(0.0, |m| pm_of_row(&m.covariance(), follows));
        let pm_mm = reading.pm_mm.hypot(setting_mm);
        result.measured_mm = Some(result.reference_mm + reading.off_mm);
        result.off_mm = Some(reading.off_mm);
        result.pm_mm = Some(pm_mm);
        let leans_on = motions.and_then(|m| {
            m.held().free.into_iter().find(|free| {
                let v = &free.vector;
                let turn = Vector::new(v[3], v[4], v[5]) / m.radius_mm;
                let motion = SmallMotion::new(turn.x, turn.y, turn.z, v[0], v[1], v[2]);
                follows.dot(&motion).abs() > LEANS
            })
        });
        match leans_on {
            Some(free) => {
                result.words = format!("{}; nothing holds the setting {}", result.words, free.words);
            }
            None => result.verdict = verdict::decide(reading.off_mm, pm_mm, limit_mm),
        }
        result
    }
}

/// `drop H1`, and `drop at the post` where the name says its kind itself.
fn called(kind: &str, name: &str) -> String {
    if name.starts_with(kind) {
        name.to_string()
    } else {
        format!("{kind} {name}")
    }
}
