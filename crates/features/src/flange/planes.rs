//! Two sheets that meet at a fold: a robust plane each, the fold's line, the angle between them.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::eigen::flattest_direction;
use cloud::statistics::median;
use cloud::{Matrix3, Point, Vector};

/// Fewest points that carry a plane.
pub(super) const FEWEST: usize = 12;
/// Sheets that meet at less than 17° (this is the sine) make no fold whose line could be told.
const LEAST_SINE: f64 = 0.3;

/// One sheet at a fold.
#[derive(Clone, Copy)]
pub(super) struct Sheet {
    /// Unit normal, of either sign.
    pub normal: Vector,
    /// In the sheet, square to the fold, away from it; of unit length.
    pub away: Vector,
}

/// Two sheets and their fold.
#[derive(Clone, Copy)]
pub(super) struct Folded {
    /// On the fold's line (where the planes meet, outside the bend's radius), abreast of the points' middle.
    pub at: Point,
    pub skin: Sheet,
    pub flange: Sheet,
    /// Between the two sheets as they run from the fold, rad: nothing where hemmed shut, π where flat.
    pub angle: f64,
}

/// The fold between the points of the skin and those of the flange; what lies within `bend_mm` of it is left out, since it
/// is the bend. `None` where too few points are left or the sheets hardly meet.
pub(super) fn folded(skin: &[Point], flange: &[Point], bend_mm: f64) -> Option<Folded> {
    let first = meeting(skin, flange)?;
    let clear = |points: &[Point], sheet: &Sheet| -> Vec<Point> {
        points
            .iter()
            .filter(|p| (*p - first.at).dot(&sheet.away) > bend_mm)
            .copied()
            .collect()
    };
    meeting(&clear(skin, &first.skin), &clear(flange, &first.flange))
}

fn meeting(skin: &[Point], flange: &[Point]) -> Option<Folded> {
    let (skin_middle, skin_normal) = plane(skin)?;
    let (flange_middle, flange_normal) = plane(flange)?;
    let line = skin_normal.cross(&flange_normal).try_normalize(LEAST_SINE)?;
    let middle = nalgebra::center(&skin_middle, &flange_middle);
    let heights = Vector::new(
        skin_normal.dot(&skin_middle.coords),
        flange_normal.dot(&flange_middle.coords),
        line.dot(&middle.coords),
    );
    let planes = Matrix3::from_rows(&[
        skin_normal.transpose(),
        flange_normal.transpose(),
        line.transpose(),
    ]);
    let at = Point::from(planes.try_inverse()? * heights);
    let sheet = |normal: Vector, middle: Point| {
        let away = line.cross(&normal);
        Sheet {
            normal,
            away: away * (middle - at).dot(&away).signum(),
        }
    };
    let (skin, flange) = (
        sheet(skin_normal, skin_middle),
        sheet(flange_normal, flange_middle),
    );
    Some(Folded {
        at,
        angle: skin.away.angle(&flange.away),
        skin,
        flange,
    })
}

/// The plane through points by total least squares with bisquare weights (Beaton & Tukey 1974): its middle, its normal.
fn plane(points: &[Point]) -> Option<(Point, Vector)> {
    if points.len() < FEWEST {
        return None;
    }
    let mut weights = vec![1.0; points.len()];
    let mut found = None;
    for _ in 0..20 {
        let whole: f64 = weights.iter().sum();
        if whole < FEWEST as f64 / 2.0 {
            return None;
        }
        // From the first point, so that nothing is lost far from the origin.
        let from = points[0];
        let middle = from
            + points
                .iter()
                .zip(&weights)
                .map(|(p, w)| (p - from) * *w)
                .sum::<Vector>()
                / whole;
        let spread: Matrix3 = points
            .iter()
            .zip(&weights)
            .map(|(p, w)| (p - middle) * (p - middle).transpose() * *w)
            .sum();
        let normal = flattest_direction(&spread);
        found = Some((middle, normal));
        let mut sizes: Vec<f64> = points.iter().map(|p| (p - middle).dot(&normal).abs()).collect();
        let scale = (TUKEY * 1.4826 * median(&mut sizes)).max(1e-6);
        let mut step = 0.0f64;
        for (p, weight) in points.iter().zip(&mut weights) {
            let next = bisquare((p - middle).dot(&normal), scale);
            step = step.max((next - *weight).abs());
            *weight = next;
        }
        if step < 1e-4 {
            break;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A skin along −Y and a flange that stands at `angle` to it, with a tenth of the skin's points 3 mm off.
    fn angle_of(angle: f64) -> f64 {
        let skin: Vec<Point> = (0..400)
            .map(|i| {
                let off = if i % 10 == 0 { 3.0 } else { 0.0 };
                Point::new(f64::from(i % 20), -f64::from(i / 20), off)
            })
            .collect();
        let flange: Vec<Point> = (0..240)
            .map(|i| {
                let u = f64::from(i / 20);
                Point::new(f64::from(i % 20), -u * angle.cos(), -u * angle.sin())
            })
            .collect();
        let found = folded(&skin, &flange, 2.5).unwrap();
        assert!(found.at.y.abs() < 1e-6 && found.at.z.abs() < 1e-6, "{}", found.at);
        assert!((found.skin.away + Vector::y()).norm() < 1e-6);
        found.angle
    }

    #[test]
    fn the_angle_is_that_between_the_sheets_and_strays_do_not_lead() {
        for degrees in [30.0f64, 90.0, 92.5, 135.0] {
            let found = angle_of(degrees.to_radians()).to_degrees();
            assert!((found - degrees).abs() < 1e-5, "{found} for {degrees}");
        }
        let flat: Vec<Point> = (0..100)
            .map(|i| Point::new(f64::from(i % 10), f64::from(i / 10), 0.0))
            .collect();
        assert!(folded(&flat, &flat, 0.0).is_none());
    }
}
