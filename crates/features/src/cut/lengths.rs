//! How long the metal is along a section, before and after: stretched or drawn in.

use cloud::{Body, Frame, Motion, Point, Surface};

use super::{Beyond, Line, Plane, cut};

/// Two lines of a section farther apart than this are not the same metal, mm (half an inch).
pub(super) const SAME_METAL_MM: f64 = 12.7;
/// ± of a length for each fold of a right angle, in spacings, of each set: from simulated sections with two sharp folds at
/// spacings of 1 to 2.5 mm.
const PER_FOLD: f64 = 0.43;
/// ± of a length without folds, in spacings of the coarser set.
const PLAIN: f64 = 0.2;
/// What a sharp fold of a right angle cuts off a length, in spacings: sets of unlike spacing lose unlike lengths.
const CUT_OFF: f64 = 0.75;

/// The section of both sets by one plane.
#[derive(Debug, Clone, PartialEq)]
pub struct CutPair {
    /// The reference's lines, longest first, mm.
    pub reference: Vec<Vec<Point>>,
    /// The measured set's lines in the body's frame, longest first, mm.
    pub measured: Vec<Vec<Point>>,
    /// Length of the reference along the metal, mm, over the extent that both lines have; `None` where one of them is broken
    /// there.
    pub reference_length_mm: Option<f64>,
    /// Length of the measured metal over the same extent, mm.
    pub measured_length_mm: Option<f64>,
    /// ± of the difference of the two lengths, mm; it does not depend on the setting but where metal is missing at an end.
    pub length_pm_mm: Option<f64>,
    /// Which line of the reference the lengths are of.
    pub along: Option<usize>,
    /// Where the measured set ends beside the reference; see [`CutPair::with_ends`].
    pub beyond: Vec<Beyond>,
}

/// Cuts both sets by `plane` as [`cut`] does, and measures the line of the reference that passes within half an inch of the
/// plane's place (else the longest) along with the one measured line that runs beside it.
pub fn pair<F: Frame>(
    reference: &Surface<Body>,
    measured: &Surface<F>,
    reference_from_measured: &Motion<F, Body>,
    plane: &Plane,
    half_width_mm: f64,
    reach_mm: f64,
) -> CutPair {
    let ours = cut(reference, &Motion::identity(), plane, half_width_mm, reach_mm);
    let theirs = cut(measured, reference_from_measured, plane, half_width_mm, reach_mm);
    let spacings = [coarseness(reference), coarseness(measured)];
    let asked = asked(&ours, &plane.through);
    let common = asked.and_then(|k| common(&ours[k], &theirs, spacings));
    let points = |lines: Vec<Line>| -> Vec<Vec<Point>> { lines.into_iter().map(|l| l.points).collect() };
    CutPair {
        reference: points(ours),
        measured: points(theirs),
        reference_length_mm: common.map(|c| c.lengths_mm[0]),
        measured_length_mm: common.map(|c| c.lengths_mm[1]),
        length_pm_mm: common.map(|c| c.pm_mm),
        along: asked,
        beyond: Vec::new(),
    }
}

/// The spacing that makes a set's lines unsure, mm: a mesh is cut exactly.
fn coarseness<F: Frame>(surface: &Surface<F>) -> f64 {
    if surface.cloud.faces.is_empty() {
        surface.spacing_mm
    } else {
        0.0
    }
}

/// The line that the section is about: its number.
fn asked(lines: &[Line], through: &Point) -> Option<usize> {
    lines
        .iter()
        .enumerate()
        .map(|(k, l)| (nearest(l, through).1, k))
        .filter(|(apart, _)| *apart <= SAME_METAL_MM)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, k)| k)
        .or_else(|| (!lines.is_empty()).then_some(0))
}

#[derive(Clone, Copy)]
struct Common {
    lengths_mm: [f64; 2],
    pm_mm: f64,
}

/// The lengths of `line` and of the only one of `others` that runs beside it, over what both have.
fn common(line: &Line, others: &[Line], spacings_mm: [f64; 2]) -> Option<Common> {
    let coarser = spacings_mm[0].max(spacings_mm[1]);
    let mut beside = others
        .iter()
        .filter_map(|other| overlap(line, other).map(|o| (other, o)))
        .filter(|(_, o)| o.1 - o.0 > 3.5 * coarser.max(1.0));
    let (other, (from, to)) = beside.next()?;
    if beside.next().is_some() {
        return None;
    }
    let lengths_mm = match (is_closed(line), is_closed(other)) {
        (true, true) => [line.length_mm, other.length_mm],
        (false, false) => {
            let (a, b) = ends_on(other, line)?;
            [to - from, b - a]
        }
        _ => return None,
    };
    let folds = folds(line, (5.0 * coarser).max(5.0));
    let per_fold = PER_FOLD * spacings_mm[0].hypot(spacings_mm[1]) * folds.sqrt();
    let unlike = CUT_OFF * (spacings_mm[0] - spacings_mm[1]).abs() * folds;
    Some(Common {
        lengths_mm,
        pm_mm: per_fold.hypot(PLAIN * coarser) + unlike,
    })
}

fn is_closed(line: &Line) -> bool {
    line.points.first() == line.points.last()
}

/// Where along `line` it has `other` beside it, from and to, mm; `None` where they are not the same metal.
fn overlap(line: &Line, other: &Line) -> Option<(f64, f64)> {
    if is_closed(line) || is_closed(other) {
        let near = line.points.iter().step_by(line.points.len().div_ceil(50));
        let apart = near.map(|p| nearest(other, p).1).fold(f64::INFINITY, f64::min);
        return (apart <= SAME_METAL_MM).then_some((0.0, line.length_mm));
    }
    let (from, to) = ends_on(line, other)?;
    let middle = place(line, (from + to) / 2.0)?;
    (nearest(other, &middle).1 <= SAME_METAL_MM).then_some((from, to))
}

/// Where along `line` the ends of `other` lie, the lower first, mm.
fn ends_on(line: &Line, other: &Line) -> Option<(f64, f64)> {
    let (a, _) = nearest(line, other.points.first()?);
    let (b, _) = nearest(line, other.points.last()?);
    Some((a.min(b), a.max(b)))
}

/// How far along `line` it passes `point` most closely, and how closely, mm.
pub(super) fn nearest(line: &Line, point: &Point) -> (f64, f64) {
    let mut best = (0.0, f64::INFINITY);
    let mut passed = 0.0;
    for pair in line.points.windows(2) {
        let step = pair[1] - pair[0];
        let length = step.norm();
        let share = ((point - pair[0]).dot(&step) / (length * length).max(1e-300)).clamp(0.0, 1.0);
        let apart = (pair[0] + step * share - point).norm();
        if apart < best.1 {
            best = (passed + share * length, apart);
        }
        passed += length;
    }
    best
}

/// The place `along_mm` from the line's beginning.
pub(super) fn place(line: &Line, along_mm: f64) -> Option<Point> {
    let mut left = along_mm;
    for pair in line.points.windows(2) {
        let step = pair[1] - pair[0];
        let length = step.norm();
        if left <= length {
            return Some(pair[0] + step * (left / length.max(1e-300)));
        }
        left -= length;
    }
    line.points.last().copied()
}

/// How many right angles a line turns at its folds, looked at in steps of `step_mm`; what turns slowly is no fold.
fn folds(line: &Line, step_mm: f64) -> f64 {
    let count = (line.length_mm / step_mm) as usize;
    let stops: Vec<Point> = (0..=count)
        .filter_map(|k| place(line, k as f64 * step_mm))
        .collect();
    let turned: f64 = stops
        .windows(3)
        .map(|three| (three[1] - three[0]).angle(&(three[2] - three[1])))
        .filter(|angle| *angle > 20f64.to_radians())
        .sum();
    turned / std::f64::consts::FRAC_PI_2
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::{Cloud, Scan, Vector};

    /// A sheet 60 wide about X 0, its section the curve `shape` gives over its length: place and normal.
    fn swept<F: Frame>(seed: u64, length_mm: f64, shape: impl Fn(f64) -> (f64, f64, Vector)) -> Surface<F> {
        let count = (60.0 * length_mm) as u64;
        let (points, normals): (Vec<Point>, Vec<Vector>) = (0..count)
            .map(|i| {
                let k = 4 * (i + seed * 1_000_000);
                let (y, z, normal) = shape(length_mm * uniform(k));
                let noise = 0.2 * (uniform(k + 1) + uniform(k + 2) - 1.0);
                (
                    Point::new(60.0 * uniform(k + 3) - 30.0, y, z) + normal * noise,
                    normal,
                )
            })
            .unzip();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(normals);
        Surface::new(cloud, None).unwrap().0
    }

    fn flat(u: f64) -> (f64, f64, Vector) {
        (u - 120.0, 0.0, Vector::z())
    }

    /// An arc of 700 radius over the chord from −120 to 120: its length is 2 · 700 · asin(120/700).
    fn crowned(u: f64) -> (f64, f64, Vector) {
        let half = (120.0f64 / 700.0).asin();
        let a = u / 700.0 - half;
        let normal = Vector::new(0.0, a.sin(), a.cos());
        (700.0 * a.sin(), 700.0 * (a.cos() - half.cos()), normal)
    }

    /// A Z of 100, 50 and 100 with sharp folds.
    fn folded(u: f64) -> (f64, f64, Vector) {
        if u < 100.0 {
            (u - 100.0, 0.0, Vector::z())
        } else if u < 150.0 {
            (0.0, 100.0 - u, Vector::y())
        } else {
            (u - 150.0, -50.0, Vector::z())
        }
    }

    const SQUARE: Plane = Plane {
        through: Point::new(0.0, 0.0, 0.0),
        facing: Vector::new(1.0, 0.0, 0.0),
    };

    /// Both sets cut across, as they lie.
    fn cut_square(reference: &Surface<Body>, measured: &Surface<Scan>) -> CutPair {
        pair(
            reference,
            measured,
            &Motion::identity(),
            &SQUARE,
            1.5,
            f64::INFINITY,
        )
    }

    #[test]
    fn a_crown_makes_the_metal_longer_by_its_closed_form() {
        let arc = 1400.0 * (120.0f64 / 700.0).asin();
        let reference: Surface<Body> = swept(1, 240.0, flat);
        let measured: Surface<Scan> = swept(2, arc, crowned);
        let found = cut_square(&reference, &measured);
        let longer = found.measured_length_mm.unwrap() - found.reference_length_mm.unwrap();
        let pm = found.length_pm_mm.unwrap();
        assert!(
            (longer - (arc - 240.0)).abs() < pm,
            "{longer} for {}",
            arc - 240.0
        );
        assert!(pm < 0.4);
        let again: Surface<Scan> = swept(3, 240.0, flat);
        let same = cut_square(&reference, &again);
        let longer = same.measured_length_mm.unwrap() - same.reference_length_mm.unwrap();
        assert!(longer.abs() < same.length_pm_mm.unwrap(), "{longer}");
    }

    #[test]
    fn a_shorter_set_is_measured_over_what_both_have_and_a_broken_one_not_at_all() {
        let reference: Surface<Body> = swept(1, 240.0, flat);
        let short: Surface<Scan> = swept(2, 150.0, |u| (u - 60.0, 2.0, Vector::z()));
        let found = cut_square(&reference, &short);
        let (ours, theirs) = (
            found.reference_length_mm.unwrap(),
            found.measured_length_mm.unwrap(),
        );
        assert!((ours - 150.0).abs() < 3.0 && (ours - theirs).abs() < found.length_pm_mm.unwrap());
        let broken: Surface<Scan> = swept(2, 200.0, |u| {
            (if u < 100.0 { u - 120.0 } else { u - 80.0 }, 0.0, Vector::z())
        });
        let found = cut_square(&reference, &broken);
        assert_eq!(found.measured.len(), 2);
        assert_eq!((found.reference_length_mm, found.length_pm_mm), (None, None));
    }

    #[test]
    fn sharp_folds_widen_the_band_enough() {
        let reference: Surface<Body> = swept(1, 250.0, folded);
        for seed in 2..6 {
            let measured: Surface<Scan> = swept(seed, 250.0, folded);
            let found = cut_square(&reference, &measured);
            let longer = found.measured_length_mm.unwrap() - found.reference_length_mm.unwrap();
            let pm = found.length_pm_mm.unwrap();
            assert!(longer.abs() < 2.0 * pm, "{longer} ± {pm}");
            assert!((0.4..1.5).contains(&pm), "{pm}");
        }
    }

    #[test]
    fn folds_are_counted_in_right_angles() {
        let line = super::super::line(vec![
            Point::origin(),
            Point::new(0.0, 50.0, 0.0),
            Point::new(0.0, 50.0, 30.0),
            Point::new(0.0, 90.0, 30.0),
        ])
        .unwrap();
        assert!((folds(&line, 5.0) - 2.0).abs() < 1e-9);
        assert!((nearest(&line, &Point::new(0.0, 55.0, 10.0)).0 - 60.0).abs() < 1e-9);
    }
}
