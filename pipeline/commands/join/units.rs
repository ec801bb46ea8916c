//! Takes that differ in size as two units do: asked before they are laid, since nothing would be found then.

use cloud::{Point, Scan, Surface, Unit, Warning};

use crate::stages::gates::unit::{ASKED, all_apart, number, of_one_shape, size_mm};
use crate::trouble::Trouble;

/// Takes of which the one is so many times as large as the other have too little in common.
const MOST_TIMES: f64 = 8.0;
/// The smallest ratio of units that is looked for in takes of different shape: by less a view and a detail of it may differ.
const LEAST_TIMES: f64 = 9.0;
/// One scanner sets its points about as far apart in each take: their distances then differ by the ratio of the units, the
/// sizes roughly so.
const SPACINGS_AGREE: f64 = 0.15;
const SIZES_AGREE: f64 = 1.0;

/// What is asked of a take.
struct Take<'a> {
    file: &'a str,
    points: &'a [Point],
    size_mm: f64,
    spacing_mm: f64,
}

/// Warns of takes whose size speaks of another unit than that of the others, and refuses those that nothing could be laid on.
///
/// # Errors
/// Where takes are so much larger than the others that they can't be joined, and no named points say how they lie.
pub fn look_at(
    files: &[&str],
    surfaces: &[Surface<Scan>],
    has_points: bool,
    warnings: &mut Vec<Warning>,
) -> Result<(), Trouble> {
    let takes: Vec<Take<'_>> = files
        .iter()
        .zip(surfaces)
        .filter_map(|(file, surface)| {
            Some(Take {
                file,
                points: surface.points(),
                size_mm: size_mm(surface.points())?,
                spacing_mm: surface.spacing_mm,
            })
        })
        .collect();
    if !has_points && let Some(words) = far_apart(&takes) {
        return Err(Trouble::new(words));
    }
    warnings.extend(odd(&takes));
    Ok(())
}

/// Takes that all are so much smaller or larger than the rest that no two of both kinds can be laid on each other.
fn far_apart(takes: &[Take<'_>]) -> Option<String> {
    let mut by_size: Vec<&Take<'_>> = takes.iter().collect();
    by_size.sort_by(|a, b| a.size_mm.total_cmp(&b.size_mm));
    let gap = |k: usize| by_size[k].size_mm / by_size[k - 1].size_mm;
    let widest = (1..by_size.len()).max_by(|&a, &b| gap(a).total_cmp(&gap(b)))?;
    if gap(widest) <= MOST_TIMES {
        return None;
    }
    let (small, large) = by_size.split_at(widest);
    // The fewer are told; each kind by the one that comes nearest to the other.
    let (few, few_one, other) = if large.len() < small.len() {
        (large, large.first()?, small.last()?)
    } else {
        (small, small.last()?, large.first()?)
    };
    let names: Vec<&str> = few.iter().map(|take| take.file).collect();
    let hint = units(few_one, other).map_or_else(String::new, |(read, really)| {
        format!(", as if {really} were read as {read}")
    });
    Some(format!(
        "{}: {ASKED} {} {} the size of {}{hint}, too much to lay the one on the other; bring all takes into one unit, or name points in both (--points)",
        names.join(", "),
        few_one.file,
        times_words(few_one.size_mm / other.size_mm),
        other.file
    ))
}

/// `is 1/25.4 of`, `is 25.4 times`.
fn times_words(times: f64) -> String {
    if times > 1.0 {
        format!("is {} times", number(times))
    } else {
        format!("is 1/{} of", number(1.0 / times))
    }
}

/// A warning for each take that speaks of another unit than most of the others.
fn odd(takes: &[Take<'_>]) -> Vec<Warning> {
    // Of two neither is the odd one; the later is named, with the other.
    let first = usize::from(takes.len() == 2);
    let mut warnings = Vec::new();
    for (k, take) in takes.iter().enumerate().skip(first) {
        let others = takes.iter().enumerate().filter(|(other, _)| *other != k);
        let speaking: Vec<(&Take<'_>, (Unit, Unit))> = others
            .filter_map(|(_, other)| Some((other, units(take, other)?)))
            .collect();
        if 2 * speaking.len() < takes.len() {
            continue;
        }
        if let Some((other, (read, really))) = speaking.first() {
            warnings.push(Warning::new(
                "unit-ratio",
                format!(
                    "{} {} the size of {}, as if {really} were read as {read}: one of the two is in another unit; bring all takes into one unit, since --units speaks of all of them",
                    take.file,
                    times_words(take.size_mm / other.size_mm),
                    other.file
                ),
            ));
        }
    }
    warnings
}

/// The units that two takes speak of: the one that the first was read in, and the one that it really is in. By their shape, or by
/// the distances of their points.
fn units(take: &Take<'_>, other: &Take<'_>) -> Option<(Unit, Unit)> {
    let by_spacing = || {
        let size = take.size_mm / other.size_mm;
        let spacing = take.spacing_mm / other.spacing_mm;
        let off =
            |(read, really): &(Unit, Unit), times: f64| (times * really.in_mm() / read.in_mm()).ln().abs();
        let told = |pair: &(Unit, Unit)| {
            let times = pair.0.in_mm() / pair.1.in_mm();
            times.max(1.0 / times) > LEAST_TIMES
                && off(pair, spacing) < SPACINGS_AGREE
                && off(pair, size) < SIZES_AGREE
        };
        all_apart()
            .filter(told)
            .min_by(|a, b| off(a, spacing).total_cmp(&off(b, spacing)))
    };
    of_one_shape(other.points, take.points).or_else(by_spacing)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sheet with a wall, of this length, so many times as large.
    fn sheet(length: f64, times: f64) -> Vec<Point> {
        (0..3_000)
            .map(|i| {
                let along = length * f64::from(i % 60) / 60.0;
                let across = 10.0 * f64::from(i / 60);
                if across < 400.0 {
                    Point::new(along, across, 0.0) * times
                } else {
                    Point::new(along, 400.0, across - 400.0) * times
                }
            })
            .collect()
    }

    fn take<'a>(file: &'a str, points: &'a [Point], spacing_mm: f64) -> Take<'a> {
        Take {
            file,
            points,
            size_mm: size_mm(points).unwrap(),
            spacing_mm,
        }
    }

    #[test]
    fn a_take_in_another_unit_is_named_with_both_units() {
        let (a, b, c) = (sheet(600.0, 1.0), sheet(700.0, 1.0), sheet(650.0, 1.0 / 25.4));
        let takes = [
            take("a.ply", &a, 10.0),
            take("b.ply", &b, 10.5),
            take("c.ply", &c, 10.0 / 25.4),
        ];
        let words = far_apart(&takes).unwrap();
        assert!(
            words.starts_with("c.ply: is the unit right? c.ply is 1/")
                && words.contains("as if in were read as mm, too much"),
            "{words}"
        );
        let told = odd(&takes);
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(told[0].words.starts_with("c.ply is 1/"), "{told:?}");
        assert_eq!(far_apart(&takes[..2]), None);
        assert!(odd(&takes[..2]).is_empty());
    }

    #[test]
    fn a_detail_is_no_take_in_another_unit() {
        let (whole, detail) = (sheet(600.0, 1.0), sheet(600.0, 1.0 / 4.0));
        let takes = [take("whole.ply", &whole, 2.0), take("detail.ply", &detail, 0.5)];
        assert_eq!(far_apart(&takes), None);
        assert!(odd(&takes).is_empty());
        // Of one shape and 2.54 times as large: centimetres and inches.
        let inches = sheet(600.0, 2.54);
        let takes = [take("whole.ply", &whole, 2.0), take("inches.ply", &inches, 5.08)];
        assert!(
            odd(&takes)[0]
                .words
                .starts_with("inches.ply is 2.54 times the size of whole.ply")
        );
    }
}
