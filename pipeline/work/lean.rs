//! Whether a flange only leans: then its angle says all that its face shows, and nobody takes a hammer to it.

use ::compare::figures::sure_enough;
use cloud::{Body, Matrix3, Point, Surface, Vector};

/// What a lean leaves of a face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lean {
    /// Whether all of the face is within the limit once the lean is taken away.
    pub alone: bool,
    /// Whether the end about which it leans is within the limit: it is the angle that is off, and not the flange's place.
    pub hinge_home: bool,
}

/// Fewest places that show a lean.
const FEWEST: usize = 50;
/// Less metal than this is no spot that a hammer is taken to, mm² (half an inch square).
const LEAST_SPOT_MM2: f64 = 161.0;

/// A place of a face: the arm from its middle, its normal, how far it is off, mm.
type Off = (Vector, Vector, f64);

/// Takes the lean about its long axis, and a shift along its normal, out of a face by least squares; `smoothed` is how far the
/// points of the reference are off with their ±. `None` where too little was seen well enough.
pub fn lean(
    reference: &Surface<Body>,
    members: &[u32],
    smoothed: &[Option<(f64, f64)>],
    limit_mm: f64,
) -> Option<Lean> {
    let seen: Vec<(Point, Vector, f64)> = members
        .iter()
        .filter_map(|&i| {
            let (mm, pm) = smoothed[i as usize]?;
            let place = (
                reference.points()[i as usize],
                reference.normals()[i as usize],
                mm,
            );
            sure_enough(pm, limit_mm).then_some(place)
        })
        .collect();
    if seen.len() < FEWEST {
        return None;
    }
    let middle = seen.iter().map(|s| s.0.coords).sum::<Vector>() / seen.len() as f64;
    let face: Vec<Off> = seen
        .into_iter()
        .map(|(at, normal, mm)| (at.coords - middle, normal, mm))
        .collect();
    let axis = long_axis(&face);
    let normal = face.iter().map(|f| f.1).sum::<Vector>();
    let normal = (normal - axis * normal.dot(&axis)).try_normalize(1e-9)?;
    // What a turn about the axis, and a shift along the normal, do to a place along its own normal.
    let share = |(arm, own, _): &Off| (own.dot(&axis.cross(arm)), own.dot(&normal));
    let (mut tt, mut ts, mut ss, mut td, mut sd) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for place in &face {
        let (turn, shift) = share(place);
        tt += turn * turn;
        ts += turn * shift;
        ss += shift * shift;
        td += turn * place.2;
        sd += shift * place.2;
    }
    let determinant = tt * ss - ts * ts;
    if determinant <= 1e-9 * tt * ss {
        return None;
    }
    let turned = (td * ss - sd * ts) / determinant;
    let shifted_mm = (sd * tt - td * ts) / determinant;
    let out = face.iter().filter(|place| {
        let (turn, shift) = share(place);
        (place.2 - turned * turn - shifted_mm * shift).abs() > limit_mm
    });
    let out_mm2 = out.count() as f64 * reference.spacing_mm.powi(2);
    // The two long sides of the face: it leans about the one that is off less.
    let across = normal.cross(&axis);
    let sides = face.iter().map(|(arm, ..)| arm.dot(&across));
    let (low, high) = sides.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), mm| {
        (low.min(mm), high.max(mm))
    });
    let off_mm = |side: f64| (turned * side + shifted_mm).abs();
    Some(Lean {
        alone: out_mm2 < LEAST_SPOT_MM2,
        hinge_home: off_mm(low).min(off_mm(high)) <= limit_mm,
    })
}

/// The way along which a face reaches farthest.
fn long_axis(face: &[Off]) -> Vector {
    let spread: Matrix3 = face.iter().map(|(arm, ..)| arm * arm.transpose()).sum();
    let eigen = spread.symmetric_eigen();
    eigen.eigenvectors.column(eigen.eigenvalues.imax()).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Cloud;

    const LIMIT_MM: f64 = 0.8;

    /// A flange of 300 × 20 that hangs from a fold at z 0, off as `off` says.
    fn read(off: impl Fn(&Point) -> f64) -> Lean {
        let points: Vec<Point> = (0..1661)
            .map(|i| Point::new(2.0 * f64::from(i % 151), 0.0, -2.0 * f64::from(i / 151)))
            .collect();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::y(); 1661]);
        let (reference, _) = Surface::<Body>::new(cloud, None).unwrap();
        let smoothed: Vec<Option<(f64, f64)>> =
            reference.points().iter().map(|p| Some((off(p), 0.05))).collect();
        let members: Vec<u32> = (0..1661).collect();
        lean(&reference, &members, &smoothed, LIMIT_MM).unwrap()
    }

    #[test]
    fn a_lean_alone_is_told_from_a_dent_and_from_a_fold_in_the_wrong_place() {
        let leaning = |p: &Point| 6f64.to_radians().tan() * -p.z;
        let told = |alone, hinge_home| Lean { alone, hinge_home };
        assert_eq!(read(leaning), told(true, true));
        assert_eq!(read(|p| leaning(p) + 1.5), told(true, false));
        let dent = |p: &Point| {
            if (p.x - 150.0).abs() < 12.0 { -3.0 } else { 0.0 }
        };
        assert_eq!(read(|p| leaning(p) + dent(p)), told(false, true));
    }
}
