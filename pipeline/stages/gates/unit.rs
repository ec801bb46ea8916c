//! Lengths that differ by the ratio of two units: asked before anything is fitted to them, since no fit would be one.

use std::path::Path;

use cloud::named::Datum;
use cloud::statistics::median;
use cloud::{Matrix3, Point, Unit, Vector, Warning, eigen};

use crate::job::Comparison;
use crate::stages::scale::Scaled;
use crate::trouble::Trouble;

/// The question.
pub const ASKED: &str = "is the unit right?";

/// Distances between named points are known well: the nearest two ratios of units (10 and 12) are ten times this apart.
const POINTS_AGREE: f64 = 0.02;
/// Two takes of one part never reach equally far.
const SIZES_AGREE: f64 = 0.06;
/// … and two sets of one shape differ by one factor along each of their sides, as nearly as they reach equally far.
const SIDES_AGREE: f64 = 0.1;
/// A side under this share of the longest is the roughness of a sheet.
const THIN: f64 = 0.05;
/// Points nearer to each other than this say little of a ratio, mm.
const APART_MM: f64 = 1.0;

/// A search from any pose goes by the extent of the measured set. Of one that is so many times as large as the reference it
/// finds nothing in any time: a whole shell is about six times as large as one of its panels.
const MOST_TIMES: f64 = 8.0;
/// A thirtieth of the reference says nothing of where on it it lies: a hand's breadth of a shell.
const LEAST_TIMES: f64 = 1.0 / 30.0;

/// Refuses named points whose distances differ from those of the reference by the ratio of two units. `what` says whose they
/// are. The median over all pairs of points: a few bad points don't lead it.
///
/// # Errors
/// With the question and the two units.
pub fn refuse_points(what: &Path, reference: &[Datum], measured: &[Datum]) -> Result<(), Trouble> {
    let Some((read, really)) = times_apart(reference, measured).and_then(|times| units(times, POINTS_AGREE))
    else {
        return Ok(());
    };
    let times = read.in_mm() / really.in_mm();
    let words = if times > 1.0 {
        format!(
            "the distances between its points are {} times those",
            number(times)
        )
    } else {
        format!(
            "the distances between its points are 1/{} of those",
            number(1.0 / times)
        )
    };
    Err(Trouble::new(format!(
        "{}: {ASKED} {words} of the reference, as if {really} were read as {read}; say the unit in the heads of the table, as in \"x ({really})\"",
        what.display()
    )))
}

/// Refuses to search for the pose of a set that is so much larger or smaller than the reference that none can be found,
/// unless the owner says that he has looked at its unit.
///
/// # Errors
/// With the question and the two units, where the ratio is that of two.
pub fn refuse_sizes(comparison: &Comparison, scaled: &Scaled) -> Result<(), Trouble> {
    let looked_at = comparison.answered.iter().any(|answer| answer == "unit");
    let sizes = size_mm(scaled.measured.points()).zip(size_mm(scaled.reference.points()));
    let Some(times) = sizes.map(|(measured, reference)| measured / reference) else {
        return Ok(());
    };
    if looked_at || (LEAST_TIMES..=MOST_TIMES).contains(&times) {
        return Ok(());
    }
    let of_units = units(times, SIZES_AGREE);
    let times = of_units.map_or(times, |(read, really)| read.in_mm() / really.in_mm());
    let size = if times > 1.0 {
        format!("{} times as large as", number(times))
    } else {
        format!("1/{} of", number(1.0 / times))
    };
    let hint = of_units.map_or_else(String::new, |(read, really)| {
        format!(", as if {really} were read as {read}")
    });
    Err(Trouble::new(format!(
        "{} on {}: {ASKED} it is {size} the reference{hint}, too much to look for it there in any pose; declare the unit of each, or name points to set it by",
        comparison.measured.path.display(),
        comparison.reference.path.display()
    )))
}

/// Puts the question before the reason why a set could not be set, where something speaks against a unit and the owner has not
/// said that he has looked: any other reason follows from it.
pub fn asked_first(comparison: &Comparison, warnings: &[Warning], trouble: Trouble) -> Trouble {
    let of_code = |code: &str| warnings.iter().find(|warning| warning.code == code);
    let looked_at = comparison.answered.iter().any(|answer| answer == "unit");
    let already = trouble.to_string().contains(ASKED);
    let of_reference = format!("{}, if its numbers are ", comparison.reference.file);
    match of_code("unit-ratio").or_else(|| of_code("unit-doubtful")) {
        Some(doubt) if !looked_at && !already => {
            let whose = if doubt.words.starts_with(&of_reference) {
                &comparison.reference
            } else {
                &comparison.measured
            };
            Trouble::new(format!(
                "{}: {ASKED} {}. As it was read: {trouble}",
                whose.path.display(),
                doubt.words
            ))
        }
        _ => trouble,
    }
}

/// The units that two sets of one shape speak of, where they differ in size by the ratio of two: the one that the measured set
/// was read in, and the one it is in.
pub fn of_one_shape(reference: &[Point], measured: &[Point]) -> Option<(Unit, Unit)> {
    let (ours, theirs) = (sides_mm(reference)?, sides_mm(measured)?);
    let times = theirs[2] / ours[2];
    let found = units(times, SIZES_AGREE)?;
    let thin = |k: usize| ours[k] < THIN * ours[2] && theirs[k] < THIN * theirs[2];
    let alike = |k: usize| (theirs[k] / (ours[k] * times) - 1.0).abs() < SIDES_AGREE;
    (0..2).all(|k| thin(k) || alike(k)).then_some(found)
}

/// The rms distances from the middle along the three main directions, ascending.
fn sides_mm(points: &[Point]) -> Option<[f64; 3]> {
    let n = points.len().max(1) as f64;
    let middle = points.iter().map(|p| p.coords).sum::<Vector>() / n;
    let mut spread = Matrix3::zeros();
    for point in points {
        let arm = point.coords - middle;
        spread += arm * arm.transpose();
    }
    let sides = eigen::eigenvalues(&(spread / n)).map(|square| square.max(0.0).sqrt());
    (sides[2] > 0.0).then_some(sides)
}

/// Every ratio of two units, each with the one that was read and the one that it really is in; none with itself.
pub fn all_apart() -> impl Iterator<Item = (Unit, Unit)> {
    let pairs = Unit::ALL
        .into_iter()
        .flat_map(|read| Unit::ALL.map(|really| (read, really)));
    pairs.filter(|(read, really)| read != really)
}

/// The units that lengths speak of which read `times` what they should: the one they were read in, and the one they are in.
pub fn of_lengths(times: f64) -> Option<(Unit, Unit)> {
    units(times, POINTS_AGREE)
}

/// How many times as far apart the measured points are as those of the same names in the reference.
fn times_apart(reference: &[Datum], measured: &[Datum]) -> Option<f64> {
    let pairs: Vec<(Point, Point)> = reference
        .iter()
        .filter_map(|r| {
            let m = measured.iter().find(|m| m.point.name == r.point.name)?;
            Some((r.point.at_mm, m.point.at_mm))
        })
        .collect();
    let mut times = Vec::new();
    for (i, (a, b)) in pairs.iter().enumerate() {
        for (c, d) in &pairs[i + 1..] {
            let (ours, theirs) = ((a - c).norm(), (b - d).norm());
            if ours > APART_MM && theirs.is_finite() {
                times.push(theirs / ours);
            }
        }
    }
    (!times.is_empty()).then(|| median(&mut times))
}

/// The units that a ratio of lengths speaks of: the one they were read in, and the one they are in.
fn units(times: f64, agree: f64) -> Option<(Unit, Unit)> {
    all_apart().find(|(read, really)| (times * really.in_mm() / read.in_mm() - 1.0).abs() < agree)
}

/// The rms distance from the middle: unlike the extent it follows neither a few strays nor how the set lies to the axes.
pub fn size_mm(points: &[Point]) -> Option<f64> {
    sides_mm(points).map(|sides| Vector::from(sides).norm())
}

/// From corner to corner, however a set lies, mm: what a strip, a sheet or a box that is filled evenly has at that size.
pub fn across_mm(points: &[Point]) -> Option<f64> {
    size_mm(points).map(|mm| 12.0_f64.sqrt() * mm)
}

/// A ratio with no more digits than it needs: `25.4`, `12`, `39.37`.
pub fn number(ratio: f64) -> String {
    let digits = format!("{ratio:.2}");
    digits.trim_end_matches('0').trim_end_matches('.').to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Body, Motion, NamedPoint, Scan};

    fn datums(times: f64, bad: Option<usize>) -> Vec<Datum> {
        let places = [
            [0.0, 0.0, 0.0],
            [400.0, 0.0, 3.0],
            [400.0, 300.0, 0.0],
            [0.0, 300.0, 90.0],
            [200.0, 150.0, 40.0],
            [100.0, 50.0, 7.0],
        ];
        let named = |(k, at): (usize, &[f64; 3])| {
            let off = if bad == Some(k) { 5_000.0 } else { 0.0 };
            let at_mm = Point::new(at[0] * times + off, at[1] * times, at[2] * times + 20.0);
            let name = format!("P{k}");
            Datum::from(NamedPoint { name, at_mm })
        };
        places.iter().enumerate().map(named).collect()
    }

    #[test]
    fn points_in_another_unit_are_asked_about_and_a_bad_one_does_not_lead() {
        let table = Path::new("trip-2.csv");
        for read in Unit::ALL {
            for really in Unit::ALL {
                let times = read.in_mm() / really.in_mm();
                for bad in [None, Some(2)] {
                    let refused = refuse_points(table, &datums(1.0, None), &datums(times, bad));
                    assert_eq!(refused.is_err(), read != really, "{really} as {read}, {bad:?}");
                    if let Err(trouble) = refused {
                        let words = trouble.to_string();
                        let said = format!("as if {really} were read as {read};");
                        assert!(
                            words.contains("is the unit right?") && words.contains(&said),
                            "{words}"
                        );
                    }
                }
            }
        }
        let words = refuse_points(table, &datums(1.0, None), &datums(25.4, None)).unwrap_err();
        assert!(words.to_string().contains("are 25.4 times those"), "{words}");
        // Metal that was pulled by a hundredth, and sets that share no two points, raise no question.
        assert_eq!(
            refuse_points(table, &datums(1.0, None), &datums(1.01, None)),
            Ok(())
        );
        assert_eq!(
            refuse_points(table, &datums(1.0, None)[..1], &datums(25.4, None)),
            Ok(())
        );
    }

    #[test]
    fn a_ratio_is_written_short() {
        for (ratio, expected) in [(25.4, "25.4"), (12.0, "12"), (39.3701, "39.37"), (1000.0, "1000")] {
            assert_eq!(number(ratio), expected);
        }
    }

    /// A sheet of 600 × 400 mm: 721.1 mm from corner to corner, which an axis-parallel box around it has in one pose only.
    #[test]
    fn a_size_is_that_of_the_set_however_it_is_tilted() {
        let cells = (0..2400).map(|i| [f64::from(i % 60) + 0.5, f64::from(i / 60) + 0.5]);
        let flat: Vec<Point> = cells.map(|[x, y]| Point::new(10.0 * x, 10.0 * y, 0.0)).collect();
        for turn in [
            Vector::zeros(),
            Vector::new(0.3, -0.6, 0.9),
            Vector::new(1.4, 0.2, -2.0),
        ] {
            let pose = Motion::<Scan, Body>::turn_about(turn, Point::new(5.0, 900.0, 7.0), Vector::x());
            let tilted: Vec<Point> = flat.iter().map(|p| pose.apply(p)).collect();
            let across = across_mm(&tilted).unwrap();
            assert!((across - 721.11).abs() < 0.5, "{across}");
        }
    }

    // Points all over a cube of edge a: the rms distance from its middle is a/2.
    #[test]
    fn the_size_is_the_rms_distance_from_the_middle() {
        let at = |k: i32| (f64::from(k) + 0.5) / 20.0;
        let cube: Vec<Point> = (0..8000)
            .map(|i| Point::new(at(i % 20), at(i / 20 % 20), at(i / 400)))
            .collect();
        assert!((size_mm(&cube).unwrap() - 0.5).abs() < 1e-3);
        assert_eq!(size_mm(&cube[..1]), None);
        assert_eq!(size_mm(&[]), None);
    }
}
