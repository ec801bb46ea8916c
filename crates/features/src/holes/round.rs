//! How round the rim of a hole is: twelve sectors of it between two circles about one centre.

use std::f64::consts::{SQRT_2, TAU};

use cloud::survey::tangents;
use cloud::{Frame, Surface};
use nalgebra::Vector2;

use super::Hole;
use crate::minimum_zone::roundness;

/// The rim is read in so many sectors: lobes show up to six of them.
const SECTORS: usize = 12;
/// A sector narrower than this many spacings says nothing.
const NARROWEST: f64 = 3.0;
/// The sheet around is read from one to this many spacings off the rim, and how much farther out a rim is looked for.
const RING: [f64; 2] = [1.0, 4.0];
const FARTHER: f64 = 0.25;
/// Fewest points of the ring.
const FEWEST_RING: usize = 8;
/// Metal of the sheet stands within this many spacings of its plane, and within this share of its distance besides.
const OFF_PLANE: f64 = 2.0;
const OFF_SHARE: f64 = 0.15;
/// Cosine of the angle between a normal of the sheet and the axis: 60°.
const SAME_WAY: f64 = 0.5;
/// In so many standard deviations of a sector lie the zones of 95 of 100 true circles read in twelve (2 000 simulated with
/// the gamma distribution of the second nearest point: their mean is 2.6, their 95th percentile 4.4).
const BAND: f64 = 4.4;

/// How round a rim is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundRim {
    /// Least difference of radius of two circles about one centre that hold the rim between them, mm.
    pub zone_mm: f64,
    /// What a true circle's would reach through the scatter of the points alone in 95 of 100 cases, mm.
    pub pm_mm: f64,
}

/// How round the rim of a hole is, in its sheet's plane, by minimum zone (ISO 1101, ISO 12181). `None` for a slot, and
/// where the points lie too far apart or are missing in a sector.
///
/// In each sector the rim lies where the area out to the second nearest point holds two points of the sheet's density,
/// which it does on the average: 2/λ of area inside of that point. The nearest itself may be dirt. A sector tells the mean
/// of its 30°, so that an oval reads by a fifth less than it is, and a nick less still.
pub fn round_rim<F: Frame>(hole: &Hole, surface: &Surface<F>) -> Option<RoundRim> {
    let spacing = surface.spacing_mm;
    let radius = hole.diameter_mm / 2.0;
    let sector = TAU / SECTORS as f64;
    if hole.slot.is_some() || radius * sector < NARROWEST * spacing {
        return None;
    }
    let around = around(hole, surface, radius * (1.0 + FARTHER) + RING[1] * spacing);
    let [inner, outer] = RING.map(|r| radius + r * spacing);
    let in_ring = around
        .iter()
        .filter(|place| (inner..outer).contains(&place.norm()))
        .count();
    if in_ring < FEWEST_RING {
        return None;
    }
    let density = in_ring as f64 / (TAU / 2.0 * (outer * outer - inner * inner));
    let mut nearest = [[f64::INFINITY; 2]; SECTORS];
    for place in &around {
        let bearing = place.y.atan2(place.x).rem_euclid(TAU);
        let two = &mut nearest[((bearing / sector) as usize).min(SECTORS - 1)];
        let off = place.norm();
        if off < two[0] {
            *two = [off, two[0]];
        } else if off < two[1] {
            two[1] = off;
        }
    }
    let mut rim = Vec::with_capacity(SECTORS);
    for (k, two) in nearest.iter().enumerate() {
        let square = two[1] * two[1] - 2.0 * 2.0 / (density * sector);
        if !square.is_finite() || square <= 0.0 {
            return None;
        }
        let middle = (k as f64 + 0.5) * sector;
        rim.push(Vector2::new(middle.cos(), middle.sin()) * square.sqrt());
    }
    let one_mm = SQRT_2 / (density * radius * sector);
    Some(RoundRim {
        zone_mm: roundness(&rim)?.zone_mm,
        pm_mm: BAND * one_mm.hypot(surface.noise_mm / SQRT_2),
    })
}

/// The metal of the sheet within `reach_mm` of a hole, as it is seen along its axis from its middle.
fn around<F: Frame>(hole: &Hole, surface: &Surface<F>, reach_mm: f64) -> Vec<Vector2<f64>> {
    let (u, v) = tangents(&hole.axis);
    let (points, normals) = (surface.points(), surface.normals());
    let mut found = Vec::new();
    surface.near.visit_within(&hole.at, reach_mm, |n| {
        let off = points[n.index as usize] - hole.at;
        let flat = Vector2::new(off.dot(&u), off.dot(&v));
        let within = OFF_PLANE * surface.spacing_mm + OFF_SHARE * flat.norm();
        if off.dot(&hole.axis).abs() < within && normals[n.index as usize].dot(&hole.axis).abs() > SAME_WAY {
            found.push(flat);
        }
    });
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::{hole, plate};
    use cloud::{Point, Scan};

    /// An opening as long as 2 a and as wide as 2 b, read.
    fn read(seed: u64, a: f64, b: f64) -> RoundRim {
        let sheet: Surface<Scan> = plate(
            seed,
            |x, y| ((x - 50.0) / a).hypot((y - 40.0) / b) > 1.0,
            |_, _| 0.0,
        );
        round_rim(&hole(Point::new(50.0, 40.0, 0.0), a + b, None), &sheet).unwrap()
    }

    #[test]
    fn a_true_circle_reads_round_within_its_pm_and_an_oval_by_four_fifths_of_what_it_is() {
        let seeds = 1..9u64;
        let round: Vec<RoundRim> = seeds.clone().map(|seed| read(seed, 15.0, 15.0)).collect();
        let within = round.iter().filter(|r| r.zone_mm <= r.pm_mm).count();
        assert!(within >= 7, "{round:?}");
        // The circle within an ellipse and the one about it differ by a − b = 4.
        let oval: Vec<RoundRim> = seeds.map(|seed| read(seed, 17.0, 13.0)).collect();
        assert!(oval.iter().all(|r| (2.8..4.2).contains(&r.zone_mm)), "{oval:?}");
        assert!(oval.iter().all(|r| r.zone_mm > 1.5 * r.pm_mm), "{oval:?}");
    }

    #[test]
    fn what_is_no_circle_or_too_coarse_is_not_read() {
        let sheet: Surface<Scan> = plate(1, |x, y| (x - 50.0).hypot(y - 40.0) > 5.0, |_, _| 0.0);
        let at = Point::new(50.0, 40.0, 0.0);
        assert_eq!(round_rim(&hole(at, 10.0, None), &sheet), None);
        assert_eq!(round_rim(&hole(at, 30.0, Some(40.0)), &sheet), None);
    }
}
