//! Units at the door: what a set is in, and what speaks against it.

use cloud::{Bounds, Cloud, Scan, Unit, Warning};
use formats::RawPoints;

use crate::job::{Comparison, Set};
use crate::stages::gates::unit::{number, of_one_shape, size_mm};
use crate::trouble::Trouble;

/// Smallest and largest extent of what is compared here: a bracket, and a shell with room to spare, mm.
const PLAUSIBLE_MM: (f64, f64) = (40.0, 8_000.0);

/// The unit of a set: what the file itself says, else what was declared; `None` where bars alone say it.
pub fn unit_of(set: &Set, raw: &RawPoints, warnings: &mut Vec<Warning>) -> Result<Option<Unit>, Trouble> {
    match (raw.unit, set.unit) {
        (Some(said), Some(declared)) if said != declared => {
            warnings.push(Warning::new(
                "unit-differs",
                format!(
                    "{}: declared in {declared}, but the file itself says {said}; it was read in {said}",
                    set.file
                ),
            ));
            Ok(Some(said))
        }
        (Some(said), _) => Ok(Some(said)),
        (None, Some(declared)) => Ok(Some(declared)),
        (None, None) if !set.bars.is_empty() => Ok(None),
        (None, None) => Err(Trouble::new(format!(
            "{}: the file does not say its unit; declare it (--units mm, cm, m, in or ft; in a job file units = \"mm\" in the [[set]], or two bars of known length)",
            set.path.display()
        ))),
    }
}

/// Warns where the extent would fit another unit better than the declared one, by name of the ratio.
pub fn warn_of_extent(file: &str, unit: Unit, bounds: &Bounds, warnings: &mut Vec<Warning>) {
    let extent = bounds.diagonal();
    let plausible = |mm: f64| (PLAUSIBLE_MM.0..=PLAUSIBLE_MM.1).contains(&mm);
    if plausible(extent) {
        return;
    }
    let fitting: Vec<String> = Unit::ALL
        .into_iter()
        .filter(|other| plausible(extent / unit.in_mm() * other.in_mm()))
        .map(|other| {
            let mm = extent / unit.in_mm() * other.in_mm();
            format!(
                "{} it would be {} (ratio {})",
                plural(other),
                size(mm),
                ratio_name(other.in_mm() / unit.in_mm())
            )
        })
        .collect();
    let hint = if fitting.is_empty() {
        "no usual unit fits a car's part".to_string()
    } else {
        format!("if they are {}", fitting.join(", if "))
    };
    warnings.push(Warning::new(
        "unit-doubtful",
        format!(
            "{file}, if its numbers are {}, is {} across, which no car's part is; {hint}. Check the unit",
            plural(unit),
            size(extent)
        ),
    ));
}

/// What is put behind a doubt about the reference's unit: `--units` alone speaks of both sets.
const OF_REFERENCE: &str = " of the reference: say it with --reference-units beside --units, in a job file with units in its [[set]]";

/// Tells of doubts about the reference's unit where that unit is said.
pub fn name_the_reference(warnings: &mut [Warning]) {
    for doubt in warnings.iter_mut().filter(|w| w.code == "unit-doubtful") {
        doubt.words.push_str(OF_REFERENCE);
    }
}

fn plural(unit: Unit) -> &'static str {
    match unit {
        Unit::Millimetre => "millimetres",
        Unit::Centimetre => "centimetres",
        Unit::Metre => "metres",
        Unit::Inch => "inches",
        Unit::Foot => "feet",
    }
}

/// `33 m (108 ft)`, `1301 mm (51 in)`, `0.0400 mm`.
pub fn size(mm: f64) -> String {
    if mm >= 10_000.0 {
        let feet = mm / Unit::Foot.in_mm();
        format!("{:.0} m ({feet:.0} ft)", mm / 1000.0)
    } else if mm >= 10.0 {
        let inches = mm / Unit::Inch.in_mm();
        format!("{mm:.0} mm ({inches:.0} in)")
    } else if mm >= 1.0 {
        format!("{mm:.1} mm")
    } else {
        format!("{mm:.4} mm")
    }
}

/// Ratios of two units by which no part is larger than another that it is held against. Of the others (2.54 and the like) a
/// panel and its piece may well be apart: they speak of units only where the two sets are of one shape.
const TOLD_APART: [f64; 6] = [25.4, 1000.0, 39.37, 304.8, 10.0, 12.0];

/// Warns where the two sets differ in size by the ratio of two units.
pub fn warn_of_ratio(
    comparison: &Comparison,
    reference: &Cloud<Scan>,
    measured: &Cloud<Scan>,
    warnings: &mut Vec<Warning>,
) {
    let (Some(a), Some(b)) = (size_mm(&reference.points_mm), size_mm(&measured.points_mm)) else {
        return;
    };
    let found = (a / b).max(b / a);
    let told = TOLD_APART
        .into_iter()
        .find(|ratio| (found / ratio - 1.0).abs() < 0.06);
    let of_shape = || {
        let (read, really) = of_one_shape(&reference.points_mm, &measured.points_mm)?;
        let times = read.in_mm() / really.in_mm();
        Some(times.max(1.0 / times))
    };
    let Some(ratio) = told.or_else(of_shape) else {
        return;
    };
    let (reference, measured) = (&comparison.reference.name, &comparison.measured.name);
    let (larger, smaller) = if a > b {
        (reference, measured)
    } else {
        (measured, reference)
    };
    warnings.push(Warning::new(
        "unit-ratio",
        format!(
            "{larger} is about {} times as large as {smaller} (ratio {}): one of them is in another unit; say the unit of each (--units, and --reference-units for the reference; in a job file units in each [[set]])",
            number(ratio),
            ratio_name(ratio)
        ),
    ));
}

/// A ratio of units with its name: `25.4, inches to millimetres`.
fn ratio_name(ratio: f64) -> String {
    let ratio = if ratio < 1.0 { 1.0 / ratio } else { ratio };
    let names = [
        (25.4, "inch and millimetre"),
        (1000.0, "metre and millimetre"),
        (39.37, "metre and inch"),
        (304.8, "foot and millimetre"),
        (10.0, "centimetre and millimetre"),
        (12.0, "foot and inch"),
        (100.0, "metre and centimetre"),
        (2.54, "inch and centimetre"),
        (30.48, "foot and centimetre"),
        (3.281, "metre and foot"),
    ];
    names
        .iter()
        .find(|(r, _)| (ratio / r - 1.0).abs() < 0.01)
        .map_or_else(|| format!("{ratio:.1}"), |(r, name)| format!("{r}, {name}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Point;

    /// A bracket of two sheets, so many times as large.
    fn bracket(times: f64) -> Vec<Point> {
        let floor = (0..1200).map(|i| [f64::from(i % 40) * 10.0, f64::from(i / 40) * 10.0, 0.0]);
        let wall = (0..480).map(|i| [f64::from(i % 40) * 10.0, 0.0, f64::from(i / 40) * 10.0]);
        floor.chain(wall).map(|p| Point::from(p) * times).collect()
    }

    #[test]
    fn a_set_of_one_shape_in_another_unit_is_told_and_a_piece_is_not() {
        for read in Unit::ALL {
            for really in Unit::ALL {
                let times = read.in_mm() / really.in_mm();
                let found = of_one_shape(&bracket(1.0), &bracket(times));
                assert_eq!(found, (read != really).then_some((read, really)), "{times}");
            }
        }
        // Strips along the bend, of any length.
        for length in 1..40 {
            let in_strip = |p: &Point| p.x <= 10.0 * f64::from(length) && p.y.max(p.z) <= 60.0;
            let strip: Vec<Point> = bracket(1.0).into_iter().filter(in_strip).collect();
            assert_eq!(of_one_shape(&bracket(1.0), &strip), None, "{length}");
        }
    }

    // A part of 1301 mm, its numbers taken for inches: 1301 × 25.4 mm = 33 045 mm = 108.4 ft.
    #[test]
    fn a_doubtful_unit_is_told_in_sizes_that_can_be_pictured() {
        let bounds = Bounds {
            low: Point::origin(),
            high: Point::new(1301.0 * 25.4, 0.0, 0.0),
        };
        let mut warnings = Vec::new();
        warn_of_extent("good.ply", Unit::Inch, &bounds, &mut warnings);
        let words = &warnings[0].words;
        assert!(
            words.starts_with(
                "good.ply, if its numbers are inches, is 33 m (108 ft) across, which no car's part is; "
            ),
            "{words}"
        );
        assert!(
            words.contains(
                "if they are millimetres it would be 1301 mm (51 in) (ratio 25.4, inch and millimetre)"
            ),
            "{words}"
        );
        assert!(words.ends_with(". Check the unit"), "{words}");
        name_the_reference(&mut warnings);
        assert!(
            warnings[0].words.contains("--reference-units"),
            "{:?}",
            warnings[0]
        );
    }

    #[test]
    fn every_ratio_of_units_has_its_name() {
        for read in Unit::ALL {
            for really in Unit::ALL.into_iter().filter(|really| *really != read) {
                let name = ratio_name(read.in_mm() / really.in_mm());
                assert!(name.contains(" and "), "{name}");
            }
        }
    }
}
