//! A circle without points in a sheet: grown and moved until it can grow no more.

use std::f64::consts::TAU;

use cloud::{Frame, Point, Vector};
use nalgebra::Vector2;

use super::LARGEST_MM;
use super::sheet::{Metal, Plane, Seen};

/// Smallest radius in spacings that is looked into.
pub const SMALLEST: f64 = 2.6;
/// Finest step of a growing circle, in spacings, and rounds at most; twenty are usual.
const FINEST: f64 = 0.05;
const MOST_ROUNDS: usize = 300;

/// A circle in a sheet without points.
#[derive(Debug, Clone, Copy)]
pub struct Void {
    /// Its middle, mm.
    pub at: Point,
    /// Unit normal of its plane.
    pub axis: Vector,
    /// Its radius, mm.
    pub radius: f64,
}

/// The circle that can grow no more, or has `enough` radius, in the sheet that lies in `plane`: begun at a place of it, no
/// wider than `begun_mm`. `None` where it grows beyond the largest hole.
pub fn widened<F: Frame>(
    metal: &Metal<'_, F>,
    plane: &Plane,
    from: &Vector2<f64>,
    begun_mm: f64,
    enough: f64,
) -> Option<Void> {
    let spacing = metal.surface.spacing_mm;
    let mut centre = *from;
    let mut around: Vec<Seen> = Vec::new();
    metal.sheet(plane, &centre, begun_mm, &mut around);
    let mut radius = room(&around, &centre).min(begun_mm);
    let mut step = spacing;
    for _ in 0..MOST_ROUNDS {
        if step <= FINEST * spacing || radius >= enough {
            break;
        }
        // What lies farther off cannot matter: with the centre moved by a step there is a step more room at the most.
        metal.sheet(plane, &centre, radius + 2.0 * step, &mut around);
        let mut best = (radius, centre);
        for k in 0..8 {
            let a = TAU * f64::from(k) / 8.0;
            let next = centre + Vector2::new(a.cos(), a.sin()) * step;
            let free = room(&around, &next).min(radius + step);
            if free > best.0 {
                best = (free, next);
            }
        }
        if best.0 > LARGEST_MM {
            return None;
        }
        if best.0 > radius {
            (radius, centre) = best;
            step *= 1.3;
        } else {
            step /= 2.0;
        }
    }
    Some(Void {
        at: plane.place(&centre),
        axis: plane.axis,
        radius,
    })
}

/// Distance to the nearest point; infinite where there is none.
fn room(around: &[Seen], centre: &Vector2<f64>) -> f64 {
    around
        .iter()
        .map(|s| (s.flat - centre).norm_squared())
        .fold(f64::INFINITY, f64::min)
        .sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::plate;
    use cloud::{Body, Surface};

    // Wherever it is begun, the circle ends where three points hold it: within a third of the spacing of the hole's own.
    #[test]
    fn a_circle_begun_anywhere_in_a_hole_ends_on_its_rim() {
        let sheet: Surface<Body> = plate(1, |x, y| (x - 50.0).hypot(y - 40.0) > 12.0, |_, _| 0.0);
        let metal = Metal::of(&sheet);
        let plane = Plane::new(Point::new(50.0, 40.0, 0.0), Vector::z());
        for (x, y) in [(0.0, 0.0), (8.0, 0.0), (-3.0, 5.0), (0.0, -10.0)] {
            let from = plane.flat(&Vector::new(x, y, 0.0));
            let void = widened(&metal, &plane, &from, 2.0, f64::INFINITY).unwrap();
            assert!((void.radius - 12.0).abs() < 0.3, "{void:?}");
            assert!((void.at - plane.origin).norm() < 0.3, "{void:?}");
            let enough = widened(&metal, &plane, &from, 2.0, 4.0).unwrap();
            assert!((4.0..9.0).contains(&enough.radius), "{enough:?}");
        }
    }
}
