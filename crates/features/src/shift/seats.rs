//! The metal that says how a region has moved: the seating line of a panel, all the metal of a channel.

use cloud::{Body, Bounds, Surface};
use compare::{Deviations, Region};

use super::SEATING_MM;
use crate::rigid_part::Seen;

/// The places among `which` at which a distance was found.
pub(super) fn distances(
    which: impl Iterator<Item = usize>,
    reference: &Surface<Body>,
    deviations: &Deviations,
) -> Vec<Seen> {
    let seen = |i: usize| {
        deviations.states[i].mm().map(|mm| Seen {
            at: reference.points()[i],
            normal: reference.normals()[i],
            mm,
        })
    };
    which.filter_map(seen).collect()
}

/// What of a region says how it has moved: what was `seen` of its members, and of a channel with a declared outside its walls
/// too. These face elsewhere and have no say in its figures; without them the bends alone would tell a slide square to them, and
/// where metal bends the step along the normal isn't what it has slid.
pub(super) fn what_tells(
    region: &Region,
    seen: &[Seen],
    reference: &Surface<Body>,
    deviations: &Deviations,
) -> Vec<Seen> {
    if region.outside.is_none() || !is_channel(&region.bounds) {
        return seen.to_vec();
    }
    let points = reference.points();
    let inside = (0..points.len()).filter(|&i| region.bounds.contains(&points[i]));
    distances(inside, reference, deviations)
}

/// The axis along which a box is thinnest.
fn thin(bounds: &Bounds) -> usize {
    bounds.size().imin()
}

/// Whether a box is nearly as thick as it is wide: it holds a channel or a sill, whose faces say more together than its rims.
pub(super) fn is_channel(bounds: &Bounds) -> bool {
    let (size, thin) = (bounds.size(), thin(bounds));
    let narrow = (0..3)
        .filter(|&k| k != thin)
        .map(|k| size[k])
        .fold(f64::INFINITY, f64::min);
    size[thin] > 0.3 * narrow
}

/// The places within half an inch of the region's edge; all of them in a channel, and where the band holds too few.
pub(super) fn seating_line(region: &Region, telling: &[Seen]) -> Vec<Seen> {
    if is_channel(&region.bounds) {
        return telling.to_vec();
    }
    let thin = thin(&region.bounds);
    let band: Vec<Seen> = telling
        .iter()
        .filter(|s| {
            (0..3).filter(|&axis| axis != thin).any(|axis| {
                let (a, b) = (
                    s.at[axis] - region.bounds.low[axis],
                    region.bounds.high[axis] - s.at[axis],
                );
                a.min(b) < SEATING_MM
            })
        })
        .copied()
        .collect();
    if band.len() >= 50 && band.len() * 50 > telling.len() {
        band
    } else {
        telling.to_vec()
    }
}

#[cfg(test)]
mod tests {
    use cloud::{Cloud, Frame, Motion, Point, Scan, Vector};
    use compare::{Outside, Status, against_points, region, smooth};

    use super::*;
    use crate::made::uniform;
    use crate::shift::{Shift, shift};

    const LENGTH_MM: f64 = 250.0;
    const HALF_MM: f64 = 25.0;
    const HEIGHT_MM: f64 = 30.0;
    const BEND_MM: f64 = 5.0;

    /// A channel, open below, with its normals: one point for each 2 × 2 mm, rough by 0.1.
    fn channel<F: Frame>(seed: u64, moved: Vector) -> Surface<F> {
        let (wall, top) = (HEIGHT_MM - BEND_MM, HALF_MM - BEND_MM);
        let bend = BEND_MM * std::f64::consts::FRAC_PI_2;
        let half = top + bend + wall;
        let place = |i: u64| {
            let k = 16 * (100_000 * seed + i);
            let around = half * (2.0 * uniform(k) - 1.0);
            let (side, along) = (around.signum(), LENGTH_MM * uniform(k + 1));
            let (x, z, angle) = match around.abs() {
                d if d < top => (d, HEIGHT_MM, 0.0),
                d if d < top + bend => {
                    let angle = (d - top) / BEND_MM;
                    (top + BEND_MM * angle.sin(), wall + BEND_MM * angle.cos(), angle)
                }
                d => (HALF_MM, half - d, std::f64::consts::FRAC_PI_2),
            };
            let normal = Vector::new(side * angle.sin(), 0.0, angle.cos());
            let rough = 0.1 * ((2..14).map(|j| uniform(k + j)).sum::<f64>() - 6.0);
            (Point::new(side * x, along, z) + normal * rough + moved, normal)
        };
        let count = (2.0 * half * LENGTH_MM / 4.0) as u64;
        let (points, normals): (Vec<Point>, Vec<Vector>) = (0..count).map(place).unzip();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(normals);
        Surface::new(cloud, None).unwrap().0
    }

    /// The channel's move, read by a region that declares its top as the outside.
    fn read(seed: u64, moved: Vector) -> Shift {
        let reference: Surface<Body> = channel(2 * seed, Vector::zeros());
        let measured: Surface<Scan> = channel(2 * seed + 1, moved);
        let deviations = against_points::compare(&reference, &measured, &Motion::identity(), 12.7);
        let smoothed = smooth::smoothed(&reference, &deviations);
        let region = Region {
            name: "bar".into(),
            status: Status::Worked,
            bounds: Bounds {
                low: Point::new(-HALF_MM - 2.0, -1.0, 3.0),
                high: Point::new(HALF_MM + 2.0, LENGTH_MM + 1.0, HEIGHT_MM + 2.0),
            },
            limit_mm: 1.6,
            outside: Some(Outside::Up),
            pads: Vec::new(),
        };
        let members = region::members(&region, &reference);
        shift(&region, &members, &reference, &deviations, &smoothed, &|_, _| 0.0).unwrap()
    }

    #[test]
    fn a_channel_that_slid_square_to_its_walls_is_read_from_them_and_holds_its_band() {
        for seed in 0..3 {
            let found = read(seed, Vector::new(6.0, 0.0, 0.0));
            let off_mm = found.translation_mm - Vector::new(6.0, 0.0, 0.0);
            assert!(
                off_mm.x.abs() < found.pm_mm && found.pm_mm < 0.05,
                "{off_mm} {}",
                found.pm_mm
            );
            assert!(off_mm.norm() < 0.05 && found.rotation.norm() < 2e-3, "{off_mm}");
            assert!(
                found.words.starts_with("1/4 rearward, all of it"),
                "{}",
                found.words
            );
        }
    }
}
