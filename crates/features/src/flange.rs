//! The angle of a flange to its skin, inch by inch in both sets: how far it stands open or closed, and its width.
//!
//! The angle is counted between the two sheets as they run from the fold, on the side where they face each other: nothing is
//! hemmed shut, 90° is square, 180° is flat. Open is farther from shut than on the reference. It does not depend on the
//! setting, which only says where to look.

use cloud::chance::student_t;
use cloud::statistics::{mean, median, standard_deviation};
use cloud::unit::fraction_of_inch;
use cloud::{Body, Bounds, Motion, Near, Point, Scan, Surface, Vector};

mod planes;
pub(crate) mod runs;

use planes::{Folded, folded};
use runs::{Place, Runs};

/// How far from the flange the skin is looked at, mm (an inch).
const SKIN_MM: f64 = 25.4;
/// Least width of the bend that is left out, mm; two spacings where the set is coarser.
const BEND_MM: f64 = 3.0;
/// A ± at the lip beyond this leaves nothing to be said, mm (1/16 in).
const CANT_TELL_MM: f64 = 25.4 / 16.0;

/// One inch of a flange.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunAngle {
    /// On the reference's fold, mm.
    pub at: Point,
    /// From the flange's first end (front, left or lower), mm.
    pub along_mm: f64,
    /// Between flange and skin on the reference, degrees.
    pub reference_deg: f64,
    /// As measured, degrees.
    pub measured_deg: f64,
    /// Measured less reference: positive is open, degrees.
    pub off_deg: f64,
}

/// A flange's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct FlangeAngle {
    /// As declared.
    pub name: String,
    /// Inch by inch, from the first end.
    pub runs: Vec<RunAngle>,
    /// ± of one inch (half the 95 % band), from what jumps between neighbours, degrees.
    pub run_pm_deg: f64,
    /// Mean over the inches; positive is open, degrees.
    pub off_deg: f64,
    /// ± of the mean (half the 95 % band), by how much the inches differ, degrees.
    pub pm_deg: f64,
    /// From fold to lip on the reference, mm: the median of the inches.
    pub reference_width_mm: f64,
    /// From fold to lip as measured, mm.
    pub measured_width_mm: f64,
    /// What the mean angle opens at the lip, width · tan, mm.
    pub opening_mm: f64,
    /// ± of that, mm.
    pub opening_pm_mm: f64,
    /// Share of the reference's inches that were seen, 0 to 1.
    pub seen: f64,
    /// `2-1/2° open, 1/32 at the lip`.
    pub words: String,
}

/// Reads the flange whose points are `flange_members` of the reference and whose skin is within `skin_members` (only what lies
/// within an inch of the flange counts).
///
/// `None` where the reference shows no fold between the two, or fewer than three inches were seen.
pub fn flange(
    name: &str,
    flange_members: &[u32],
    skin_members: &[u32],
    reference: &Surface<Body>,
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Body>,
) -> Option<FlangeAngle> {
    let lip: Vec<Point> = points_of(flange_members, reference);
    let skin = close_to(&lip, &points_of(skin_members, reference));
    let runs = Runs::along(&lip)?;
    let (lips, skins) = (runs.split(&lip), runs.split(&skin));
    let (mut found, mut ours, mut theirs, mut inches) = (Vec::new(), Vec::new(), Vec::new(), 0usize);
    let bend = |spacing_mm: f64| BEND_MM.max(2.0 * spacing_mm);
    for (k, (lip, skin)) in lips.iter().zip(&skins).enumerate() {
        let Some(fold) = folded(skin, lip, bend(reference.spacing_mm)) else {
            continue;
        };
        let Some(width_mm) = width(lip, &fold) else {
            continue;
        };
        inches += 1;
        let place = Place {
            runs: &runs,
            inch: k,
            fold: &fold,
            width_mm,
        };
        let (lip, skin) = place.measured(measured, reference_from_measured);
        let Some(now) = folded(&skin, &lip, bend(measured.spacing_mm)) else {
            continue;
        };
        ours.push(width_mm);
        theirs.extend(width(&lip, &now));
        found.push((
            k,
            RunAngle {
                at: fold.at,
                along_mm: (k as f64 + 0.5) * runs.length_mm / runs.count as f64,
                reference_deg: fold.angle.to_degrees(),
                measured_deg: now.angle.to_degrees(),
                off_deg: (now.angle - fold.angle).to_degrees(),
            },
        ));
    }
    let run_pm_deg = chance_of_one(&found)?;
    let offs: Vec<f64> = found.iter().map(|(_, r)| r.off_deg).collect();
    let n = offs.len() as f64;
    let (off_deg, pm_deg) = (
        mean(&offs),
        student_t(0.95, n - 1.0) * standard_deviation(&offs) / n.sqrt(),
    );
    let reference_width_mm = median(&mut ours);
    let opening_mm = reference_width_mm * off_deg.to_radians().tan();
    let opening_pm_mm = reference_width_mm * pm_deg.to_radians() / off_deg.to_radians().cos().powi(2);
    let seen = n / inches as f64;
    let words = if seen < compare::verdict::LEAST_COVERAGE {
        format!("can't tell, only {:.0} % of it was seen", 100.0 * seen)
    } else {
        in_words(off_deg, pm_deg, opening_mm, opening_pm_mm)
    };
    Some(FlangeAngle {
        name: name.to_string(),
        runs: found.into_iter().map(|(_, r)| r).collect(),
        run_pm_deg,
        off_deg,
        pm_deg,
        reference_width_mm,
        measured_width_mm: median(&mut theirs),
        opening_mm,
        opening_pm_mm,
        seen,
        words,
    })
}

fn in_words(off_deg: f64, pm_deg: f64, opening_mm: f64, opening_pm_mm: f64) -> String {
    if opening_pm_mm > CANT_TELL_MM {
        return format!("can't tell, ± {}°", half_degrees(pm_deg));
    }
    let size = half_degrees(off_deg);
    if size == "0" || off_deg.abs() <= pm_deg {
        return "angle home".to_string();
    }
    let way = if off_deg > 0.0 { "open" } else { "closed" };
    match fraction_of_inch(opening_mm, 32).as_str() {
        "0" => format!("{size}° {way}"),
        lip => format!("{size}° {way}, {lip} at the lip"),
    }
}

/// An angle to the nearest half degree, without its sign: `2-1/2`, `1/2`, `3`, `0`.
fn half_degrees(deg: f64) -> String {
    let halves = (2.0 * deg.abs()).round() as u64;
    match (halves / 2, halves % 2) {
        (whole, 0) => whole.to_string(),
        (0, _) => "1/2".to_string(),
        (whole, _) => format!("{whole}-1/2"),
    }
}

/// ± of one inch: the spread of the steps between neighbours, so that an even run-out along the flange is not taken for
/// chance (von Neumann, Kent, Bellinson & Hart 1941, Ann. Math. Statist. 12, 153-162; n steps that share their ends are
/// worth about two thirds of n that don't). `None` below three inches, or where hardly two follow each other.
fn chance_of_one(found: &[(usize, RunAngle)]) -> Option<f64> {
    let squares: Vec<f64> = found
        .windows(2)
        .filter(|pair| pair[1].0 == pair[0].0 + 1)
        .map(|pair| (pair[1].1.off_deg - pair[0].1.off_deg).powi(2) / 2.0)
        .collect();
    if found.len() < 3 || squares.len() < 2 {
        return None;
    }
    Some(student_t(0.95, squares.len() as f64 * 2.0 / 3.0) * mean(&squares).sqrt())
}

fn points_of(members: &[u32], reference: &Surface<Body>) -> Vec<Point> {
    members.iter().map(|&i| reference.points()[i as usize]).collect()
}

/// The points of `skin` within an inch of the flange.
fn close_to(lip: &[Point], skin: &[Point]) -> Vec<Point> {
    let Some(mut around) = Bounds::of(lip) else {
        return Vec::new();
    };
    around.low -= Vector::repeat(SKIN_MM);
    around.high += Vector::repeat(SKIN_MM);
    let near = Near::new(lip);
    skin.iter()
        .filter(|p| around.contains(p) && near.nearest_within(p, SKIN_MM).is_some())
        .copied()
        .collect()
}

/// From fold to lip: the second outermost point, since one stray must not set it. At a random spacing the outermost of an
/// inch reads the edge to a few thousandths.
fn width(lip: &[Point], fold: &Folded) -> Option<f64> {
    let mut out: Vec<f64> = lip.iter().map(|p| (p - fold.at).dot(&fold.flange.away)).collect();
    out.sort_unstable_by(f64::total_cmp);
    out.get(out.len().checked_sub(2)?).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::{Cloud, Frame};

    /// A skin along −Y, 200 long and 40 wide, and a flange 14 wide that stands down from it at `angle_deg`, given in the
    /// frame that `pose` leads to.
    fn folded_sheet<F: Frame>(angle_deg: f64, seed: u64, pose: &Motion<Body, F>) -> Surface<F> {
        let angle = angle_deg.to_radians();
        let (points, normals): (Vec<Point>, Vec<Vector>) = (0..10_800u64)
            .map(|i| {
                let k = 4 * (i + 100_000 * seed);
                let (x, u) = (200.0 * uniform(k), 54.0 * uniform(k + 1) - 40.0);
                let noise = 0.06 * (uniform(k + 2) + uniform(k + 3) - 1.0);
                let (at, normal) = if u < 0.0 {
                    (Point::new(x, u, 0.0), Vector::z())
                } else {
                    (
                        Point::new(x, -u * angle.cos(), -u * angle.sin()),
                        Vector::new(0.0, angle.sin(), -angle.cos()),
                    )
                };
                (pose.apply(&(at + normal * noise)), pose.turn(&normal))
            })
            .unzip();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(normals);
        Surface::new(cloud, None).unwrap().0
    }

    /// The flange opened by as much as `opened_deg` against one at 90°.
    fn read(opened_deg: f64) -> FlangeAngle {
        let pose: Motion<Body, Scan> = Motion::turn_about(
            Vector::new(0.5, 0.2, -0.9),
            Point::new(10.0, 20.0, 0.0),
            Vector::new(100.0, 0.0, -40.0),
        );
        let reference: Surface<Body> = folded_sheet(90.0, 1, &Motion::identity());
        let measured: Surface<Scan> = folded_sheet(90.0 + opened_deg, 2, &pose);
        let (lip, skin): (Vec<u32>, Vec<u32>) =
            (0..reference.points().len() as u32).partition(|&i| reference.points()[i as usize].z < -0.5);
        flange("rear flange", &lip, &skin, &reference, &measured, &pose.inverse()).unwrap()
    }

    #[test]
    fn an_opened_flange_reads_its_angle_and_its_lip() {
        let found = read(2.5);
        assert!((found.off_deg - 2.5).abs() < 0.15, "{found:?}");
        assert!(found.pm_deg < 0.3 && found.run_pm_deg > found.pm_deg);
        assert_eq!(found.words, "2-1/2° open, 1/32 at the lip");
        assert!(
            (found.reference_width_mm - 14.0).abs() < 0.6 && (found.measured_width_mm - 14.0).abs() < 0.6
        );
        assert!((found.opening_mm - 14.0 * 2.5f64.to_radians().tan()).abs() < 0.06);
        assert!(found.runs.len() == 8 && found.seen == 1.0);
        assert!(found.runs.iter().all(|r| (r.reference_deg - 90.0).abs() < 1.5));
        let closed = read(-3.0);
        assert!(closed.words.starts_with("3° closed"), "{}", closed.words);
    }

    #[test]
    fn a_flange_that_did_not_move_is_home() {
        let found = read(0.0);
        assert!(found.off_deg.abs() < 0.15);
        assert_eq!(found.words, "angle home");
    }

    #[test]
    fn without_a_fold_there_is_no_angle() {
        let flat: Surface<Body> = folded_sheet(180.0, 1, &Motion::identity());
        let measured: Surface<Scan> = folded_sheet(90.0, 2, &Motion::identity());
        let (skin, lip): (Vec<u32>, Vec<u32>) =
            (0..flat.points().len() as u32).partition(|&i| flat.points()[i as usize].y < 0.0);
        assert!(flange("f", &lip, &skin, &flat, &measured, &Motion::identity()).is_none());
    }

    #[test]
    fn angles_are_said_in_half_degrees() {
        for (deg, said) in [
            (2.4, "2-1/2"),
            (-0.6, "1/2"),
            (3.1, "3"),
            (0.2, "0"),
            (89.8, "90"),
        ] {
            assert_eq!(half_degrees(deg), said);
        }
    }
}
