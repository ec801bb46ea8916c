//! What places with normals hold: which of the six rigid motions they fix, and how well.
//!
//! Eigen-analysis of Σ [(c × n)/ℓ, n]ᵀ [(c × n)/ℓ, n] over the pairs, with ℓ the rms distance from the centre
//! (Gelfand, Ikemoto, Rusinkiewicz & Levoy 2003, 3DIM; Gelfand & Guibas 2004, SGP).

pub mod follows;
mod otherwise;
pub mod ways;

use crate::{Matrix3, Point, Vector};
use ways::words;

/// A symmetric 6 × 6 matrix over (rotation about the centre, translation).
pub type Matrix6x6 = nalgebra::Matrix6<f64>;
/// A small motion: rotation vector (rad), then translation (mm).
pub type SmallMotion = nalgebra::Vector6<f64>;

/// A motion whose eigenvalue is under this share of the largest is not held, unless enough places hold it firmly, or it
/// shows wherever it acts.
pub const LEAST_HELD: f64 = 0.02;
/// A motion shows where it acts when this share of what it moves, in the mean of the squares, is along the normals. The lean
/// of a narrow strip is a small thing beside its length, but all of it shows; what a bare skin slides does not.
pub const SHOWS: f64 = 0.5;
/// Under this share of the largest a strip is so narrow, a fourteenth of its length, that its own waviness turns it.
const NARROWEST: f64 = 5e-3;
/// A place holds a motion firmly when the motion carries it mostly along its own normal.
const FIRM: f64 = 0.5;
/// Share of the places, and their number, that hold a motion firmly however small their share of the sum is: a half-inch
/// flange holds a panel, the slight slopes of a bare skin don't.
const FIRM_SHARE: f64 = 0.005;
const FIRM_COUNT: usize = 100;
/// Of named points nothing but rounding lies under this share of the largest eigenvalue.
const ROUNDING: f64 = 1e-6;

/// A motion that nothing holds.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeMotion {
    /// In the shop's words: `fore and aft`.
    pub words: String,
    /// Translation (per unit), then rotation times the set's radius: a unit vector of six.
    pub vector: [f64; 6],
}

/// How well each motion is held.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Largest eigenvalue over the smallest.
    pub condition: f64,
    /// The motions that are not held, least held first.
    pub free: Vec<FreeMotion>,
    /// Predicted standard deviation along each of the six eigen-motions, mm at the set's rms radius, best held first.
    pub sd_mm: [f64; 6],
    /// Those motions in the shop's words.
    pub words: [String; 6],
}

impl FreeMotion {
    /// How a place moves with it: by a unit where the motion is a slide, by a unit at the rms radius where it is a turn.
    pub fn at(&self, motions: &Motions, place: &Point) -> Vector {
        let v = &self.vector;
        let slide = Vector::new(v[0], v[1], v[2]);
        let turn = Vector::new(v[3], v[4], v[5]) / motions.radius_mm;
        slide + turn.cross(&(place - motions.centre_mm))
    }
}

/// The information that pairs carry about a small motion about `centre_mm`, and the noise of one pair.
#[derive(Debug, Clone)]
pub struct Motions {
    /// Σ w rowᵀ row over the pairs, rotation in radians first, then translation in mm.
    pub information: Matrix6x6,
    /// The centre about which rotations are counted.
    pub centre_mm: Point,
    /// Rms distance of the pairs from the centre, mm.
    pub radius_mm: f64,
    /// Standard deviation of one pair along its normal, mm.
    pub sigma_mm: f64,
    /// A motion under this share of the largest eigenvalue is not held.
    least: f64,
    /// The eigen-motions that enough places hold firmly, or that show wherever they act: Σ direction directionᵀ, all six alike.
    firm: Matrix6x6,
    /// What relief that holds a motion leaves unknown beyond the noise of all places: its variance, all six motions alike, mm².
    scatter_mm2: Matrix6x6,
}

/// One row of the Jacobian of a distance along `normal` at the place `arm` from the centre.
#[inline]
pub fn row(arm: &Vector, normal: &Vector) -> SmallMotion {
    let turn = arm.cross(normal);
    SmallMotion::new(turn.x, turn.y, turn.z, normal.x, normal.y, normal.z)
}

impl Motions {
    /// The information of points with unit normals, each counted once.
    pub fn of(points: &[Point], normals: &[Vector], sigma_mm: f64) -> Self {
        let n = points.len().max(1) as f64;
        let centre_mm = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / n);
        let mut information = Matrix6x6::zeros();
        let mut spread = Matrix3::zeros();
        for (point, normal) in points.iter().zip(normals) {
            let arm = point - centre_mm;
            let row = row(&arm, normal);
            information += row * row.transpose();
            spread += arm * arm.transpose();
        }
        let mut motions = Self {
            information,
            centre_mm,
            radius_mm: (spread.trace() / n).sqrt().max(f64::MIN_POSITIVE),
            sigma_mm,
            least: LEAST_HELD,
            firm: Matrix6x6::zeros(),
            scatter_mm2: Matrix6x6::zeros(),
        };
        let eigen = motions.eigen();
        let mut counts = [0usize; 6];
        for (point, normal) in points.iter().zip(normals) {
            let row = row(&((point - centre_mm) / motions.radius_mm), normal);
            for (count, (_, direction)) in counts.iter_mut().zip(&eigen) {
                *count += usize::from(row.dot(direction).abs() > FIRM);
            }
        }
        let enough = FIRM_COUNT.max((FIRM_SHARE * points.len() as f64) as usize);
        let spread = spread / motions.radius_mm.powi(2);
        let largest = eigen[5].0;
        for (count, (value, direction)) in counts.into_iter().zip(eigen) {
            let shows = value >= SHOWS * carried(&direction, &spread, n) && value > NARROWEST * largest;
            if count >= enough || shows {
                motions.firm += direction * direction.transpose();
            }
        }
        motions
    }

    /// Eigenvalues and directions of the information with all six motions alike, ascending.
    fn eigen(&self) -> [(f64, SmallMotion); 6] {
        let eigen = self.alike().symmetric_eigen();
        let mut order = [0, 1, 2, 3, 4, 5];
        order.sort_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]));
        order.map(|k| {
            (
                eigen.eigenvalues[k].max(0.0),
                eigen.eigenvectors.column(k).into_owned(),
            )
        })
    }

    /// The motions that are not held, least held first: turn times the radius, then slide, of unit length.
    pub fn loose(&self) -> Vec<SmallMotion> {
        let eigen = self.eigen();
        let floor = self.least * eigen[5].0.max(f64::MIN_POSITIVE);
        let is_firm = |direction: &SmallMotion| direction.dot(&(self.firm * direction)) > FIRM;
        eigen
            .into_iter()
            .filter(|(value, direction)| *value < floor && !is_firm(direction))
            .map(|(_, direction)| direction)
            .collect()
    }

    /// The statistical leverage of each place, row A⁻¹ rowᵀ: how much of what is known about the six motions it carries.
    /// Motions under `least` of the largest eigenvalue are left out; the sum over the places that the information was
    /// made of is the number of motions that are left.
    pub fn leverages(&self, points: &[Point], normals: &[Vector], least: f64) -> Vec<f64> {
        let eigen = self.eigen();
        let floor = least * eigen[5].0;
        points
            .iter()
            .zip(normals)
            .map(|(point, normal)| {
                let row = row(&((point - self.centre_mm) / self.radius_mm), normal);
                eigen
                    .iter()
                    .filter(|(value, _)| *value > floor)
                    .map(|(value, direction)| row.dot(direction).powi(2) / value)
                    .sum()
            })
            .collect()
    }

    /// The information with rotations counted in mm at the radius, so that all six are alike.
    fn alike(&self) -> Matrix6x6 {
        per_arm(&self.information, self.radius_mm)
    }

    /// The same of points that were pointed at, each with its own spread: their ± tells how well a motion is held, and only what
    /// nothing holds is free. (A surface's share guards against what the noise of normals seems to hold.)
    #[must_use]
    pub fn of_named(mut self) -> Self {
        self.least = ROUNDING;
        self
    }

    /// Which motions are held and which are not.
    pub fn held(&self) -> Held {
        let eigen = self.eigen();
        let largest = eigen[5].0.max(f64::MIN_POSITIVE);
        let free = self
            .loose()
            .into_iter()
            .map(|v| {
                let vector = [v[3], v[4], v[5], v[0], v[1], v[2]];
                FreeMotion {
                    words: words(&vector),
                    vector,
                }
            })
            .collect();
        Held {
            condition: largest / eigen[0].0.max(1e-300),
            free,
            sd_mm: std::array::from_fn(|k| {
                let (value, direction) = eigen[5 - k];
                let scatter_mm2 = direction.dot(&(self.scatter_mm2 * direction));
                (self.sigma_mm.powi(2) / value.max(1e-300) + scatter_mm2).sqrt()
            }),
            words: std::array::from_fn(|k| {
                let v = eigen[5 - k].1;
                words(&[v[3], v[4], v[5], v[0], v[1], v[2]])
            }),
        }
    }

    /// The covariance of the small motion (rad, mm) about the centre. Motions that are hardly held get the variance
    /// that their information gives, however large.
    pub fn covariance(&self) -> Matrix6x6 {
        let eigen = self.alike().symmetric_eigen();
        let floor = eigen.eigenvalues.max().max(f64::MIN_POSITIVE) * 1e-12;
        let mut alike = Matrix6x6::zeros();
        for k in 0..6 {
            let v = eigen.eigenvectors.column(k).into_owned();
            alike += v * v.transpose() / eigen.eigenvalues[k].max(floor);
        }
        per_arm(
            &(alike * self.sigma_mm.powi(2) + self.scatter_mm2),
            self.radius_mm,
        )
    }

    /// The predicted ± (1.96 standard deviations, the worst direction) of the setting at the place `at_mm`, mm:
    /// C_p = J C Jᵀ with J = [−\[p − c\]× | I].
    pub fn pm_at_mm(&self, at_mm: &Point) -> f64 {
        pm_at(&self.covariance(), &(at_mm - self.centre_mm))
    }
}

/// A matrix over small motions, divided once by `arm_mm` for each turn that an entry stands for: of an information that brings turns
/// from radians to mm at the arm, of a covariance from there to radians.
pub fn per_arm(matrix: &Matrix6x6, arm_mm: f64) -> Matrix6x6 {
    Matrix6x6::from_fn(|i, j| matrix[(i, j)] / arm_mm.powi(i32::from(i < 3) + i32::from(j < 3)))
}

/// What a small motion moves `count` places about their centre by, squared and summed, when `spread` is Σ arm armᵀ.
fn carried(motion: &SmallMotion, spread: &Matrix3, count: f64) -> f64 {
    let (turn, slide) = (motion.fixed_rows::<3>(0), motion.fixed_rows::<3>(3));
    count * slide.norm_squared() + spread.trace() * turn.norm_squared() - turn.dot(&(spread * turn))
}

/// How a place at `arm` from the centre follows a small motion: J = [−\[arm\]× | I].
pub fn jacobian(arm: &Vector) -> nalgebra::Matrix3x6<f64> {
    let mut jacobian = nalgebra::Matrix3x6::zeros();
    jacobian
        .fixed_view_mut::<3, 3>(0, 0)
        .copy_from(&-arm.cross_matrix());
    jacobian
        .fixed_view_mut::<3, 3>(0, 3)
        .copy_from(&nalgebra::Matrix3::identity());
    jacobian
}

/// The ± (1.96 standard deviations) of what follows a small motion by `row`.
pub fn pm_of_row(covariance: &Matrix6x6, row: &SmallMotion) -> f64 {
    1.96 * row.dot(&(covariance * row)).max(0.0).sqrt()
}

/// The ± at `arm` from the centre for a covariance of the small motion.
pub fn pm_at(covariance: &Matrix6x6, arm: &Vector) -> f64 {
    let jacobian = jacobian(arm);
    let spread = jacobian * covariance * jacobian.transpose();
    1.96 * crate::eigen::eigenvalues(&spread)[2].max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A grid of (u, v) in the square of side 2 about the origin.
    fn grid() -> impl Iterator<Item = (f64, f64)> {
        (0..1600).map(|i| (f64::from(i % 40) / 19.5 - 1.0, f64::from(i / 40) / 19.5 - 1.0))
    }

    fn free(shape: impl Fn(f64, f64) -> (Point, Vector)) -> usize {
        let (points, normals): (Vec<_>, Vec<_>) = grid().map(|(u, v)| shape(u, v)).unzip();
        Motions::of(&points, &normals, 0.1).held().free.len()
    }

    fn flat_sheet() -> Held {
        let (points, normals): (Vec<_>, Vec<_>) = grid()
            .map(|(u, v)| (Point::new(900.0 * u, 300.0 * v, 0.0), Vector::z()))
            .unzip();
        Motions::of(&points, &normals, 0.1).held()
    }

    // Motions left free by each kind of surface: Gelfand & Guibas 2004, SGP, table 1.
    #[test]
    fn each_kind_of_surface_leaves_its_own_motions_free() {
        let pi = std::f64::consts::PI;
        assert_eq!(
            free(|u, v| (Point::new(300.0 * u, 300.0 * v, 0.0), Vector::z())),
            3
        );
        assert_eq!(
            free(|u, v| {
                let n = Vector::new(
                    (pi * u).cos() * (1.0 - v * v).sqrt(),
                    (pi * u).sin() * (1.0 - v * v).sqrt(),
                    v,
                );
                (Point::from(n * 200.0), n)
            }),
            3
        );
        assert_eq!(
            free(|u, v| {
                let n = Vector::new((pi * u).cos(), (pi * u).sin(), 0.0);
                (Point::from(n * 100.0) + Vector::z() * (300.0 * v), n)
            }),
            2
        );
        // An extrusion of a curve that is no circle slides along itself only.
        assert_eq!(
            free(|u, v| {
                let a = pi * u;
                (
                    Point::new(200.0 * a.cos(), 90.0 * a.sin(), 200.0 * v),
                    Vector::new(90.0 * a.cos(), 200.0 * a.sin(), 0.0).normalize(),
                )
            }),
            1
        );
        // A cone turns about its axis only.
        assert_eq!(
            free(|u, v| {
                let (a, r) = (pi * u, 120.0 + 60.0 * v);
                (
                    Point::new(r * a.cos(), r * a.sin(), 150.0 * v),
                    Vector::new(a.cos(), a.sin(), -0.4).normalize(),
                )
            }),
            1
        );
    }

    #[test]
    fn a_flat_sheet_says_in_words_how_it_slides() {
        let held = flat_sheet();
        let words: Vec<&str> = held.free.iter().map(|f| f.words.as_str()).collect();
        for expected in ["fore and aft", "side to side", "turning about the upright"] {
            assert!(words.contains(&expected), "{words:?}");
        }
    }

    /// A strip 660 by 76 mm: its lean has a hundredth of the largest eigenvalue, and all of it shows.
    #[test]
    fn the_lean_of_a_narrow_strip_is_held_and_that_of_a_thread_is_not() {
        let free = |width: f64| free(|u, v| (Point::new(330.0 * u, width / 2.0 * v, 0.0), Vector::z()));
        assert_eq!(free(76.0), 3);
        assert_eq!(free(13.0), 4);
    }

    /// At the centre of a flat sheet the height is known to σ/√n.
    #[test]
    fn the_predicted_spread_of_a_flat_sheet_is_the_closed_form() {
        let held = flat_sheet();
        assert!(
            (held.sd_mm[0] - 0.1 / 40.0).abs() < 1e-4
                || held.sd_mm[1..3].iter().any(|s| (s - 0.1 / 40.0).abs() < 1e-9)
        );
    }
}
