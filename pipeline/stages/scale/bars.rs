//! Scale from bars: known distances in a set, which must agree before the set is scaled by them.

use cloud::statistics::percentile_of_sorted;
use cloud::{Point, Unit, Warning};

use crate::job::{Bar, Set};
use crate::stages::gates::unit::{ASKED, of_lengths};
use crate::trouble::Trouble;

/// How far a bar may be off the others: a share of itself, or mm (1/32 in), whichever is more.
const AGREE_SHARE: f64 = 0.001;
const AGREE_MM: f64 = 25.4 / 32.0;
/// The longest bar is longer than this share of the set's longest side; a short one says little of the far end.
const LEAST_LENGTH: f64 = 0.5;
/// Share of the points beyond either end of an axis that are not counted with the set's extent: strays lie there.
const STRAY_SHARE: f64 = 0.005;
/// Points that the extent is taken from.
const SAMPLES: usize = 20_000;

/// What the numbers of a file are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// The unit that was said, else the one that comes nearest to what the bars say.
    pub unit: Unit,
    /// What the bars make of the unit: 1 where there are none.
    pub over_unit: f64,
}

impl Scale {
    /// One of the file's numbers, mm.
    pub fn in_mm(&self) -> f64 {
        self.unit.in_mm() * self.over_unit
    }
}

/// The scale of a set: its unit where there are no bars, else what the bars say. `points` are in the file's own numbers.
///
/// # Errors
/// Where the bars are too short or don't agree.
pub fn scale(
    set: &Set,
    unit: Option<Unit>,
    points: &[Point],
    warnings: &mut Vec<Warning>,
) -> Result<Scale, Trouble> {
    if set.bars.is_empty() {
        // A set without bars has a unit: one that has neither is refused before.
        return Ok(Scale {
            unit: unit.unwrap_or(Unit::Millimetre),
            over_unit: 1.0,
        });
    }
    let trouble = |words: String| Trouble::new(format!("{}: {words}", set.path.display()));
    let longest = set.bars.iter().map(Bar::measured).fold(0.0, f64::max);
    let side = longest_side(points);
    if longest <= LEAST_LENGTH * side {
        return Err(trouble(format!(
            "the longest of its bars ({}) is {:.0} % of the set's longest side; a scale needs one longer than half of it",
            written(&set.bars),
            100.0 * longest / side.max(f64::MIN_POSITIVE)
        )));
    }
    // Least squares over the lengths: a long bar says more of the scale than a short one.
    let (above, below) = set.bars.iter().fold((0.0, 0.0), |(above, below), bar| {
        let measured = bar.measured();
        (above + bar.length_mm * measured, below + measured * measured)
    });
    let in_mm = above / below;
    let off = |bar: &Bar| in_mm * bar.measured() - bar.length_mm;
    let agree = |bar: &Bar| off(bar).abs() <= AGREE_MM.max(AGREE_SHARE * bar.length_mm);
    if !set.bars.iter().all(agree) {
        let each: Vec<String> = set
            .bars
            .iter()
            .map(|bar| {
                format!(
                    "{} is {:.4} of the file's numbers, {:.5} mm each",
                    bar.written,
                    bar.measured(),
                    bar.length_mm / bar.measured()
                )
            })
            .collect();
        return Err(trouble(format!(
            "its bars don't agree: {}; one of them was measured or written wrongly",
            each.join("; ")
        )));
    }
    let Some(unit) = unit else {
        let unit = nearest_unit(in_mm);
        return Ok(Scale {
            unit,
            over_unit: in_mm / unit.in_mm(),
        });
    };
    let over_unit = in_mm / unit.in_mm();
    if let Some((_, really)) = of_lengths(1.0 / over_unit) {
        warnings.push(Warning::new(
            "scale-from-bars",
            format!(
                "{}: said to be in {unit}, but its bars ({}) say that it is in {really}: {ASKED} It was scaled by the bars; mend \"units\" in its [[set]]",
                set.file,
                written(&set.bars)
            ),
        ));
    } else if (over_unit - 1.0).abs() > AGREE_SHARE {
        warnings.push(Warning::new(
            "scale-from-bars",
            format!(
                "{}: said to be in {unit}, but its bars ({}) read {:.2} % too {}; it was scaled by the bars",
                set.file,
                written(&set.bars),
                100.0 * (1.0 / over_unit - 1.0).abs(),
                if over_unit > 1.0 { "short" } else { "long" }
            ),
        ));
    }
    Ok(Scale { unit, over_unit })
}

fn written(bars: &[Bar]) -> String {
    let written: Vec<&str> = bars.iter().map(|b| b.written.as_str()).collect();
    written.join(", ")
}

/// The unit whose size comes nearest to `in_mm`, by ratio.
fn nearest_unit(in_mm: f64) -> Unit {
    let apart = |unit: &Unit| (in_mm / unit.in_mm()).ln().abs();
    Unit::ALL
        .into_iter()
        .min_by(|a, b| apart(a).total_cmp(&apart(b)))
        .unwrap_or(Unit::Millimetre)
}

/// The longest side of the box around the points, a few strays left out.
fn longest_side(points: &[Point]) -> f64 {
    let every = points.len().div_ceil(SAMPLES).max(1);
    (0..3)
        .map(|axis| {
            let mut places: Vec<f64> = points.iter().step_by(every).map(|p| p[axis]).collect();
            places.sort_unstable_by(f64::total_cmp);
            percentile_of_sorted(&places, 1.0 - STRAY_SHARE) - percentile_of_sorted(&places, STRAY_SHARE)
        })
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn bar(length_in: f64, ends: [[f64; 3]; 2]) -> Bar {
        Bar {
            ends: ends.map(Point::from),
            length_mm: length_in * 25.4,
            written: format!("{length_in} in"),
        }
    }

    /// A set 48 in long in numbers that are 0.996 of a millimetre.
    fn scaled(unit: Option<Unit>, bars: Vec<Bar>) -> (Result<Scale, Trouble>, Vec<Warning>) {
        let points: Vec<Point> = (0..1000)
            .map(|i| Point::new(f64::from(i) * 0.996 * 48.0 * 25.4 / 999.0, f64::from(i % 7), 0.0))
            .collect();
        let set = Set {
            bars,
            ..Set::new("photos", Path::new("photos.ply"), unit)
        };
        let mut warnings = Vec::new();
        let found = scale(&set, unit, &points, &mut warnings);
        (found, warnings)
    }

    fn along(length_in: f64, axis: usize, share: f64) -> Bar {
        let mut end = [10.0, 20.0, 30.0];
        end[axis] += share * length_in * 25.4;
        bar(length_in, [[10.0, 20.0, 30.0], end])
    }

    #[test]
    fn two_bars_that_agree_scale_a_set_without_a_unit() {
        let (found, warnings) = scaled(None, vec![along(36.0, 0, 0.996), along(12.0, 1, 0.996)]);
        let found = found.unwrap();
        assert!((found.in_mm() - 1.0 / 0.996).abs() < 1e-12);
        assert_eq!(found.unit, Unit::Millimetre);
        assert!(warnings.is_empty());
    }

    #[test]
    fn a_unit_that_the_bars_contradict_is_told_with_its_percent() {
        let (found, warnings) = scaled(
            Some(Unit::Millimetre),
            vec![along(36.0, 0, 0.996), along(12.0, 1, 0.996)],
        );
        assert!((found.unwrap().over_unit - 1.0 / 0.996).abs() < 1e-12);
        assert_eq!(warnings[0].code, "scale-from-bars");
        assert!(
            warnings[0].words.contains("0.40 % too short"),
            "{}",
            warnings[0].words
        );
        let (found, warnings) = scaled(
            Some(Unit::Inch),
            vec![along(36.0, 0, 0.996), along(12.0, 1, 0.996)],
        );
        assert!((found.unwrap().in_mm() - 1.0 / 0.996).abs() < 1e-12);
        let words = &warnings[0].words;
        assert!(
            words.contains("say that it is in mm: is the unit right?"),
            "{words}"
        );
        let (found, warnings) = scaled(
            Some(Unit::Millimetre),
            vec![along(36.0, 0, 1.0005), along(12.0, 1, 1.0005)],
        );
        assert!(found.is_ok() && warnings.is_empty());
    }

    #[test]
    fn bars_that_disagree_or_are_short_are_refused_by_name() {
        let (found, _) = scaled(None, vec![along(36.0, 0, 0.996), along(30.0, 1, 1.004)]);
        let words = found.unwrap_err().to_string();
        assert!(words.contains("don't agree: 36 in is 910.7"), "{words}");
        let (found, _) = scaled(None, vec![along(20.0, 0, 0.996), along(12.0, 1, 0.996)]);
        let words = found.unwrap_err().to_string();
        assert!(words.contains("(20 in, 12 in) is 42 %"), "{words}");
        // A thirty-second over a short bar is as near as it can be laid.
        let (found, _) = scaled(None, vec![along(36.0, 0, 0.996), along(12.0, 1, 0.998)]);
        assert!(found.is_ok());
    }
}
