//! Points that agree with each other and put the measured set nowhere near the reference: one of their two tables was written
//! for another set, or before the set was moved.

use cloud::{Body, Frame, Motion, Point, Scan, Surface, statistics};

use super::Setting;
use crate::job::PointTables;
use crate::stages::scale::Scaled;
use crate::stages::scale::units::size;
use crate::trouble::Trouble;

/// Metal that lies this near to the other set may be brought home, mm (4 in).
const BESIDE_MM: f64 = 101.6;
/// Where less than this share of either set lies so near, nothing of it can.
const LEAST_BESIDE: f64 = 0.02;
/// So many places of each set are asked.
const ASKED: usize = 2_000;

/// Refuses points that put the measured set nowhere near the reference, before its metal is looked for there in vain.
///
/// # Errors
/// Where they do, with how far the points of either table lie from the metal of their own set.
pub fn refuse(tables: &PointTables, scaled: &Scaled, setting: &Setting) -> Result<(), Trouble> {
    let there = &setting.reference_from_measured;
    let here: Motion<Body, Scan> = there.inverse();
    let (reference, measured) = (&scaled.reference, &scaled.measured);
    let share = beside(measured, reference, there).max(beside(reference, measured, &here));
    if share >= LEAST_BESIDE {
        return Ok(());
    }
    let at: Vec<Point> = setting.points.iter().map(|p| p.at_mm).collect();
    let back: Vec<Point> = at.iter().map(|place| here.apply(place)).collect();
    Err(Trouble::new(format!(
        "{}: its points agree with those of {} and put the measured set nowhere near the reference: in the middle they lie {} from the metal of their own set, and those of the reference {}; one of the two tables belongs to another set, or was written before a set was moved: give the tables of these two",
        tables.measured.display(),
        tables.reference.display(),
        size(off_metal_mm(&back, measured)),
        size(off_metal_mm(&at, reference)),
    )))
}

/// The share of one set that lies near the other, as it is set.
fn beside<F: Frame, G: Frame>(from: &Surface<F>, onto: &Surface<G>, onto_from: &Motion<F, G>) -> f64 {
    let step = from.points().len().div_ceil(ASKED).max(1);
    let asked: Vec<Point> = from
        .points()
        .iter()
        .step_by(step)
        .map(|p| onto_from.apply(p))
        .collect();
    let near = |p: &&Point| onto.near.nearest_within(p, BESIDE_MM).is_some();
    asked.iter().filter(near).count() as f64 / asked.len().max(1) as f64
}

/// How far places lie from the metal of a set, the median, mm.
fn off_metal_mm<F: Frame>(places: &[Point], set: &Surface<F>) -> f64 {
    let nearest = places.iter().filter_map(|place| set.near.nearest(place));
    let mut off: Vec<f64> = nearest.map(|found| found.squared_mm2.sqrt()).collect();
    statistics::median(&mut off)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Cloud, Vector};

    fn sheet<F: Frame>(corner: Vector) -> Surface<F> {
        let place = |i: u32| Point::new(f64::from(i % 60) * 5.0, f64::from(i / 60) * 5.0, 0.0) + corner;
        let mut cloud = Cloud::from_points((0..3600).map(place).collect());
        cloud.normals = Some(vec![Vector::z(); 3600]);
        Surface::new(cloud, None).unwrap().0
    }

    #[test]
    fn a_set_that_lies_by_the_other_is_told_from_one_that_lies_nowhere_near() {
        let reference: Surface<Body> = sheet(Vector::zeros());
        let share = |corner: Vector| beside(&sheet::<Scan>(corner), &reference, &Motion::identity());
        assert_eq!(share(Vector::new(0.0, 0.0, 90.0)), 1.0);
        assert_eq!(share(Vector::new(0.0, 0.0, 110.0)), 0.0);
        // A third of it lies over the other.
        assert!((share(Vector::new(300.0, 0.0, 0.0)) - 1.0 / 3.0).abs() < 0.05);
        let places = [40.0, 50.0, 700.0].map(|z| Point::new(100.0, 100.0, z));
        assert!((off_metal_mm(&places, &reference) - 50.0).abs() < 0.01);
    }
}
