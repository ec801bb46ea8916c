//! Spots that are left proud or shy when a region's move is taken away: where, how far, how long and how wide.

use cloud::unit::fraction_of_inch;
use cloud::{Body, Matrix3, Near, Point, Surface, Vector};
use compare::figures::sure_enough;

use super::HOME_MM;

/// A spot that is left proud or shy by more than a 32nd when the move is taken away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Greatest height over the moved reference, mm; negative is shy.
    pub mm: f64,
    /// Where that is, mm.
    pub at: Point,
    /// How much metal is off by more than a 32nd there, mm².
    pub area_mm2: f64,
    /// How long that metal is: its extent along its own first principal axis in the sheet, mm.
    pub length_mm: f64,
    /// How wide: its extent along the second, mm; no more than the length.
    pub width_mm: f64,
}

/// Smallest spot that a hammer is taken to, mm² (half an inch square), and the fewest points that show it.
const LEAST_MM2: f64 = 161.0;
const LEAST_POINTS: usize = 40;
/// Least length that is said of a spot, mm (a quarter of an inch).
const LEAST_SAID_MM: f64 = 25.4 / 4.0;

impl Spot {
    /// How far it goes, in quarters of an inch: `2 × 3/4 in`.
    pub fn extent_in_words(&self) -> String {
        let size = |mm: f64| fraction_of_inch(mm.max(LEAST_SAID_MM), 4);
        format!("{} × {} in", size(self.length_mm), size(self.width_mm))
    }
}

/// The spots of a whole set that nobody has parted into regions, as it lies: what it has moved by is not taken away, and what
/// the ± of the setting hides, or a motion that nothing holds brings, is left out. `smoothed` is how far each point of the
/// reference is off, with its ±; `setting_pm_mm` is the ± of the setting at a place along a direction.
pub fn spots_of_whole(
    reference: &Surface<Body>,
    smoothed: &[Option<(f64, f64)>],
    limit_mm: f64,
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Vec<Spot> {
    let off: Vec<(Point, f64)> = reference
        .points()
        .iter()
        .zip(smoothed)
        .filter_map(|(at, smoothed)| {
            let (mm, pm) = (*smoothed)?;
            (mm.abs() > HOME_MM && sure_enough(pm, limit_mm)).then_some((*at, mm))
        })
        .collect();
    let mut found = spots(&off, reference.spacing_mm);
    found.retain(|spot| spot.mm.abs() > setting_pm_at(spot, reference, setting_pm_mm));
    found
}

/// The ± of the setting where a spot is, along the way in which the metal faces there, mm.
pub(super) fn setting_pm_at(
    spot: &Spot,
    reference: &Surface<Body>,
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> f64 {
    let nearest = reference.near.nearest(&spot.at);
    nearest.map_or(0.0, |n| {
        setting_pm_mm(&spot.at, &reference.normals()[n.index as usize])
    })
}

/// Gathers places that are off into spots of one sign that hang together, drops the specks, worst first.
pub(super) fn spots(rest: &[(Point, f64)], spacing_mm: f64) -> Vec<Spot> {
    let places: Vec<Point> = rest.iter().map(|r| r.0).collect();
    let near = Near::new(&places);
    let mut taken = vec![false; rest.len()];
    let mut spots: Vec<Spot> = Vec::new();
    for start in 0..rest.len() {
        if taken[start] {
            continue;
        }
        taken[start] = true;
        let mut group = vec![start as u32];
        let mut next = 0;
        while next < group.len() {
            near.visit_within(&places[group[next] as usize], 2.0 * spacing_mm, |n| {
                let i = n.index as usize;
                if !taken[i] && rest[i].1 * rest[start].1 > 0.0 {
                    taken[i] = true;
                    group.push(n.index);
                }
            });
            next += 1;
        }
        let area_mm2 = group.len() as f64 * spacing_mm.powi(2);
        let worst = group
            .iter()
            .map(|&i| rest[i as usize])
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        if let Some((at, mm)) = worst
            && area_mm2 >= LEAST_MM2
            && group.len() >= LEAST_POINTS
        {
            let of_it: Vec<Point> = group.iter().map(|&i| places[i as usize]).collect();
            let [length_mm, width_mm] = extents_mm(&of_it, spacing_mm);
            spots.push(Spot {
                mm,
                at,
                area_mm2,
                length_mm,
                width_mm,
            });
        }
    }
    spots.sort_by(|a, b| b.mm.abs().total_cmp(&a.mm.abs()));
    spots
}

/// Length and width of the metal that `places` stand for, mm: their extents along the two principal axes (those of their
/// covariance) in which they spread most, each place standing for a spacing.
fn extents_mm(places: &[Point], spacing_mm: f64) -> [f64; 2] {
    let middle = places.iter().map(|p| p.coords).sum::<Vector>() / places.len().max(1) as f64;
    let mut spread = Matrix3::zeros();
    for place in places {
        let off = place.coords - middle;
        spread += off * off.transpose();
    }
    let eigen = spread.symmetric_eigen();
    let mut order = [0usize, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    let extent = |k: usize| {
        let axis: Vector = eigen.eigenvectors.column(order[k]).into_owned();
        let (low, high) = places
            .iter()
            .map(|p| axis.dot(&(p.coords - middle)))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), along| {
                (low.min(along), high.max(along))
            });
        high - low + spacing_mm
    };
    let (first, second) = (extent(0), extent(1));
    [first.max(second), first.min(second)]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A patch of 51 × 19 mm that lies askew in a leaning sheet is as long and as wide as it is, whichever way it lies.
    #[test]
    fn a_spot_is_as_long_and_as_wide_as_it_is() {
        let (along, across) = (Vector::new(0.6, 0.64, 0.48), Vector::new(-0.8, 0.48, 0.36));
        assert!((along.norm() - 1.0).abs() < 1e-12 && along.dot(&across).abs() < 1e-12);
        let rest: Vec<(Point, f64)> = (0..51 * 19)
            .map(|i| {
                let (a, b) = (f64::from(i % 51), f64::from(i / 51));
                (Point::from(along * a + across * b), 2.0 + 0.01 * a)
            })
            .collect();
        let found = spots(&rest, 1.0);
        assert_eq!(found.len(), 1);
        assert!((found[0].length_mm - 51.0).abs() < 1e-6, "{}", found[0].length_mm);
        assert!((found[0].width_mm - 19.0).abs() < 1e-6, "{}", found[0].width_mm);
        assert!((found[0].area_mm2 - 51.0 * 19.0).abs() < 1e-9 && (found[0].mm - 2.5).abs() < 1e-9);
        assert_eq!(found[0].extent_in_words(), "2 × 3/4 in");
    }

    /// A sheet of 200 × 200 mm with a dent of 60 × 40, 3 deep, and a swelling of 30 × 30, 2 high, which a ± may hide.
    #[test]
    fn a_whole_set_has_its_spots_as_it_lies() {
        let points: Vec<Point> = (0..10_000)
            .map(|i| Point::new(2.0 * f64::from(i % 100), 2.0 * f64::from(i / 100), 0.0))
            .collect();
        let mut cloud = cloud::Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::z(); 10_000]);
        let (reference, _) = Surface::<Body>::new(cloud, None).unwrap();
        let within = |p: &Point, at: [f64; 2], half: [f64; 2]| {
            (p.x - at[0]).abs() < half[0] && (p.y - at[1]).abs() < half[1]
        };
        let smoothed: Vec<Option<(f64, f64)>> = reference
            .points()
            .iter()
            .map(|p| {
                let dent = within(p, [60.0, 60.0], [30.0, 20.0]);
                let swelling = within(p, [150.0, 150.0], [15.0, 15.0]);
                Some((
                    if dent {
                        -3.0
                    } else if swelling {
                        2.0
                    } else {
                        0.1
                    },
                    0.1,
                ))
            })
            .collect();
        let found = spots_of_whole(&reference, &smoothed, 1.6, &|_, _| 0.2);
        assert_eq!(found.len(), 2);
        assert!(found[0].mm == -3.0 && found[1].mm == 2.0);
        assert!((found[0].length_mm - 60.0).abs() < 2.5 && (found[0].width_mm - 40.0).abs() < 2.5);
        assert!((found[1].at - Point::new(150.0, 150.0, 0.0)).norm() < 25.0);
        let unsure = spots_of_whole(&reference, &smoothed, 1.6, &|_, _| 2.5);
        assert!(unsure.len() == 1 && unsure[0].mm == -3.0);
        // A set that slides in its sheet shows its dents, and one that nothing holds square to it shows none.
        let free_along = |free: Vector| move |_: &Point, way: &Vector| 1_000.0 * way.dot(&free).abs();
        let slides = spots_of_whole(&reference, &smoothed, 1.6, &free_along(Vector::x()));
        assert_eq!(slides.len(), 2);
        assert!(spots_of_whole(&reference, &smoothed, 1.6, &free_along(Vector::z())).is_empty());
    }
}
