//! Points that hold a set, but loosely: what they hold least, and where another one would help.

use ::register::named::NamedResidual;
use cloud::Warning;

use super::Setting;
use crate::cli::SetBy;
use crate::say;

/// Points that all lie within this share of their length of one line hold hardly anything about it.
const NEARLY_ON_A_LINE: f64 = 0.1;

/// A setting by points that leaves the far corner of the part unknown by more than the limit, as a warning; what nothing holds
/// at all is told elsewhere.
pub fn too_loose(setting: &Setting, limit_mm: f64) -> Option<Warning> {
    let by_points = matches!(setting.method, SetBy::Points | SetBy::Order | SetBy::Holes);
    if !by_points || !setting.free().is_empty() {
        return None;
    }
    let corners = setting.landmarks.bounds.as_ref()?.corners();
    let pm_mm = corners.iter().map(|at| setting.pm_at_mm(at)).fold(0.0, f64::max);
    if pm_mm <= limit_mm {
        return None;
    }
    let used: Vec<&NamedResidual> = setting.points.iter().filter(|point| point.used).collect();
    let why = match line_of(&used) {
        Some(line) => format!(
            "the points lie nearly on one line, from {} to {}: nothing but that {} lies {} aside of it holds the set against turning about that line. Name a point farther aside",
            line.from,
            line.to,
            line.aside,
            say::plain_64ths(line.aside_mm)
        ),
        None => format!(
            "what the points hold least is {}. Name more points, or points that lie wider apart",
            setting.motions.as_ref()?.held().words[5]
        ),
    };
    Some(Warning::new(
        "points-hold-loosely",
        format!(
            "how it was set is {} at the far corner, more than the limit of {}, and figures there can't be told: {why}",
            say::pm(pm_mm),
            say::plain_64ths(limit_mm)
        ),
    ))
}

/// A line that points nearly lie on: those at its ends, and the one that lies farthest aside.
struct Line<'a> {
    from: &'a str,
    to: &'a str,
    aside: &'a str,
    aside_mm: f64,
}

fn line_of<'a>(points: &[&'a NamedResidual]) -> Option<Line<'a>> {
    let pairs = points
        .iter()
        .enumerate()
        .flat_map(|(i, from)| points[i + 1..].iter().map(move |to| (*from, *to)));
    let apart_mm = |(from, to): &(&NamedResidual, &NamedResidual)| (to.at_mm - from.at_mm).norm();
    let (from, to) = pairs.max_by(|a, b| apart_mm(a).total_cmp(&apart_mm(b)))?;
    let length_mm = apart_mm(&(from, to));
    let along = (to.at_mm - from.at_mm).try_normalize(0.0)?;
    let (aside_mm, aside) = points
        .iter()
        .map(|point| (along.cross(&(point.at_mm - from.at_mm)).norm(), *point))
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    (aside_mm < NEARLY_ON_A_LINE * length_mm).then(|| Line {
        from: &from.name,
        to: &to.name,
        aside: &aside.name,
        aside_mm,
    })
}

#[cfg(test)]
mod tests {
    use super::super::by_points::set_by_datums;
    use super::*;
    use cloud::named::Datum;
    use cloud::{Bounds, NamedPoint, Point};

    /// What is told of a part of 600 × 450 that was set by points in its plane, each off by 0.1 mm one way or another.
    fn told(places: &[(f64, f64)]) -> Option<Warning> {
        let table = |off_mm: f64| -> Vec<Datum> {
            let by = |other: bool| if other { -off_mm } else { off_mm };
            let points = places.iter().enumerate().map(|(i, (x, y))| NamedPoint {
                name: format!("P{}", i + 1),
                at_mm: Point::new(x + by(i % 2 == 1), y + by(i / 2 % 2 == 1), 0.0),
            });
            points.map(Datum::from).collect()
        };
        let mut setting = set_by_datums(&table(0.0), &table(0.1)).unwrap();
        let corners = [Point::origin(), Point::new(600.0, 450.0, 0.0)];
        setting.landmarks.bounds = Bounds::of(&corners);
        too_loose(&setting, 25.4 / 16.0)
    }

    #[test]
    fn points_nearly_on_a_line_are_said_to_leave_the_turn_about_it_loose() {
        let words = told(&[(60.0, 60.0), (200.0, 75.0), (400.0, 58.0), (550.0, 72.0)])
            .unwrap()
            .words;
        for expected in ["from P1 to P4", "that P2 lies", "aside", "limit of 1/16 in"] {
            assert!(words.contains(expected), "{words}");
        }
    }

    #[test]
    fn points_near_one_end_are_said_to_want_others_and_points_all_over_are_not() {
        let near = told(&[(20.0, 20.0), (110.0, 20.0), (110.0, 80.0), (20.0, 80.0)]);
        let words = near.unwrap().words;
        assert!(
            words.contains("turning about") && words.contains("wider apart"),
            "{words}"
        );
        let all_over = [
            (10.0, 10.0),
            (590.0, 10.0),
            (590.0, 440.0),
            (10.0, 440.0),
            (300.0, 20.0),
            (300.0, 430.0),
            (20.0, 220.0),
            (580.0, 230.0),
        ];
        assert!(told(&all_over).is_none());
    }
}
