//! The rigid part of a deviation: bisquare weights (Beaton & Tukey 1974), unheld motions left unknown.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::held::{LEAST_HELD, Matrix6x6, Motions, SHOWS, SmallMotion, jacobian, per_arm, row};
use cloud::statistics::median;
use cloud::{Point, Vector};

/// One place with its deviation.
#[derive(Clone, Copy)]
pub struct Seen {
    /// Where, mm.
    pub at: Point,
    /// Unit normal of the reference there.
    pub normal: Vector,
    /// Deviation along it, mm.
    pub mm: f64,
}

/// The rigid motion of a region.
pub struct Fit {
    /// How its middle has moved, mm.
    pub translation_mm: Vector,
    /// How it has turned, rad.
    pub rotation: Vector,
    /// Its middle, mm.
    pub about: Point,
    /// Motions that its shape does not show.
    pub unheld: Vec<(String, [f64; 6])>,
    /// ± of the move at the middle, mm.
    pub pm_mm: f64,
    /// The robust spread of what it leaves over, mm.
    pub sigma_mm: f64,
    covariance: Matrix6x6,
}

impl Fit {
    /// How the metal at a place has moved with it, mm.
    pub fn at(&self, place: &Point) -> Vector {
        self.translation_mm + self.rotation.cross(&(place - self.about))
    }

    /// The same region where it has not moved: what it is off by over `seats` is then its scatter.
    pub fn stays(self, seats: &[Seen]) -> Self {
        let sigma_mm = spread_mm(seats.iter().map(|s| s.mm));
        let covariance = self.covariance * (sigma_mm / self.sigma_mm).powi(2);
        Self {
            translation_mm: Vector::zeros(),
            rotation: Vector::zeros(),
            pm_mm: cloud::held::pm_at(&covariance, &Vector::zeros()),
            sigma_mm,
            covariance,
            ..self
        }
    }

    /// ± of the move at a place, mm.
    pub fn pm_at(&self, at: &Point) -> f64 {
        cloud::held::pm_at(&self.covariance, &(at - self.about))
    }
}

/// Under this share of the largest eigenvalue there is nothing but rounding.
const HOPELESS: f64 = 1e-5;
/// A motion of which more than this share, by squares, is turn at the rms radius is mostly a turn.
const MOSTLY_A_TURN: f64 = 0.5;

/// What a small motion moves at `arm` (a share of the radius), squared: vᵀ M v.
fn carry(arm: &Vector) -> Matrix6x6 {
    let jacobian = jacobian(arm);
    jacobian.transpose() * jacobian
}

/// What takes a motion to the one that turns least among all that differ from it only by what is not `held`. A turn that nothing
/// holds is about an axis beside the middle; to have nothing along it would take a share off the slide, up to a tenth of a channel's.
fn without_turns(held: &Matrix6x6) -> Matrix6x6 {
    let loose = Matrix6x6::identity() - held;
    let turns = Matrix6x6::from_diagonal(&SmallMotion::new(1.0, 1.0, 1.0, 0.0, 0.0, 0.0));
    let eigen = (loose * turns * loose).symmetric_eigen();
    let mut still = Matrix6x6::identity();
    for k in 0..6 {
        let share = eigen.eigenvalues[k];
        if share > MOSTLY_A_TURN {
            let v = eigen.eigenvectors.column(k).into_owned();
            still -= v * (turns * v).transpose() / share;
        }
    }
    still
}

/// The robust spread of what is left about nothing, mm; never quite nothing.
fn spread_mm(left: impl Iterator<Item = f64>) -> f64 {
    let mut sizes: Vec<f64> = left.map(f64::abs).collect();
    (1.4826 * median(&mut sizes)).max(1e-6)
}

/// The motion fitted from all places alike, then that from the level at which half of them lie: metal that is off along one
/// side pulls the first away from where the rest sits, and not the second. Nothing where nothing is held.
pub fn robust_fits(seats: &[Seen]) -> Vec<Fit> {
    let mut off: Vec<f64> = seats.iter().map(|s| s.mm).collect();
    let facing = seats.iter().map(|s| s.normal).sum::<Vector>();
    let level = facing.try_normalize(1e-6).map(|facing| facing * median(&mut off));
    let from_level = level.and_then(|level| robust_fit(seats, Some(level)));
    robust_fit(seats, None).into_iter().chain(from_level).collect()
}

/// Fits the motion with bisquare weights, from a translation or from all places alike; motions that nothing holds stay
/// nothing, turns before slides. `None` where nothing is held.
fn robust_fit(seats: &[Seen], from_mm: Option<Vector>) -> Option<Fit> {
    let n = seats.len() as f64;
    let about = Point::from(seats.iter().map(|s| s.at.coords).sum::<Vector>() / n);
    let radius = (seats.iter().map(|s| (s.at - about).norm_squared()).sum::<f64>() / n)
        .sqrt()
        .max(1e-9);
    let points: Vec<Point> = seats.iter().map(|s| s.at).collect();
    let normals: Vec<Vector> = seats.iter().map(|s| s.normal).collect();
    let motions = Motions::of(&points, &normals, 0.0);
    let rows: Vec<SmallMotion> = seats
        .iter()
        .map(|s| row(&((s.at - about) / radius), &s.normal))
        .collect();
    let start = from_mm.unwrap_or_else(Vector::zeros);
    let mut small = SmallMotion::new(0.0, 0.0, 0.0, start.x, start.y, start.z);
    let mut sigma = 0.0;
    let mut held_inverse = Matrix6x6::zeros();
    let mut held = Matrix6x6::zeros();
    for round in 0..15 {
        let rest: Vec<f64> = seats
            .iter()
            .zip(&rows)
            .map(|(s, r)| s.mm - r.dot(&small))
            .collect();
        sigma = spread_mm(rest.iter().copied());
        let (mut matrix, mut right) = (Matrix6x6::zeros(), SmallMotion::zeros());
        let mut carried = Matrix6x6::zeros();
        for ((seat, row), rest) in seats.iter().zip(&rows).zip(&rest) {
            // The first round takes all alike: the region may have moved as a whole by far more than it is rough.
            let all_alike = round == 0 && from_mm.is_none();
            let cut = if all_alike { f64::INFINITY } else { TUKEY * sigma };
            let weight = bisquare(*rest, cut);
            if weight > 0.0 {
                let weighted = row * weight;
                matrix += weighted * row.transpose();
                right += weighted * seat.mm;
                carried += carry(&((seat.at - about) / radius)) * weight;
            }
        }
        let eigen = matrix.symmetric_eigen();
        let largest = eigen.eigenvalues.max();
        if largest.is_nan() || largest <= 0.0 {
            return None;
        }
        held_inverse = Matrix6x6::zeros();
        held = Matrix6x6::zeros();
        for k in 0..6 {
            let value = eigen.eigenvalues[k];
            let v = eigen.eigenvectors.column(k).into_owned();
            // The lean of a narrow wall is a small thing beside its length, but all of it shows along the normals.
            let shows = value >= SHOWS * v.dot(&(carried * v)) && value > HOPELESS * largest;
            if value >= LEAST_HELD * largest || shows {
                held_inverse += v * v.transpose() / value;
                held += v * v.transpose();
            }
        }
        let still = without_turns(&held);
        let next = still * (held_inverse * right);
        held_inverse = still * held_inverse * still.transpose();
        let step = (next - small).norm();
        small = next;
        if round > 0 && step < 1e-6 {
            break;
        }
    }
    let unheld = motions
        .held()
        .free
        .into_iter()
        .filter(|f| {
            let v = &f.vector;
            let v = SmallMotion::new(v[3], v[4], v[5], v[0], v[1], v[2]);
            v.dot(&(held * v)) < 0.5 * v.norm_squared()
        })
        .map(|f| (f.words, f.vector))
        .collect();
    // Neighbours share their points over a disc: about one in twenty places is its own evidence.
    let covariance = per_arm(&(held_inverse * (sigma * sigma * 20.0)), radius);
    let pm_mm = cloud::held::pm_at(&covariance, &Vector::zeros());
    Some(Fit {
        translation_mm: Vector::new(small[3], small[4], small[5]),
        rotation: Vector::new(small[0], small[1], small[2]) / radius,
        about,
        unheld,
        pm_mm,
        sigma_mm: sigma,
        covariance,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wall 600 long and 60 high leans by 3 mm at its top: a lean, and not a shape.
    #[test]
    fn a_narrow_wall_that_leans_has_turned() {
        let seats: Vec<Seen> = (0..2400)
            .map(|i| {
                let (x, z) = (f64::from(i % 120) * 5.0, f64::from(i / 120) * 3.0);
                Seen {
                    at: Point::new(x, 0.0, z),
                    normal: -Vector::y(),
                    mm: 3.0 * z / 57.0,
                }
            })
            .collect();
        let fit = robust_fit(&seats, None).unwrap();
        let top = Point::new(300.0, 0.0, 57.0);
        let moved = fit.at(&top);
        assert!((moved.y + 3.0).abs() < 1e-6, "{moved}");
        assert!(
            fit.unheld
                .iter()
                .all(|(words, _)| !words.contains("turning about the fore-and-aft"))
        );
        assert!(fit.unheld.iter().any(|(words, _)| words.contains("fore and aft")));
    }

    /// The top of a channel, 50 wide, and its walls of 30: it is too narrow beside its length for its roll to be held.
    #[test]
    fn a_channel_whose_roll_nothing_holds_has_slid_by_all_of_it() {
        let slid = Vector::new(7.9, 0.0, 0.5);
        let seats: Vec<Seen> = (0..5500)
            .map(|i| {
                let (along, around) = (f64::from(i % 100) * 4.5, f64::from(i / 100) * 2.0);
                let (at, normal) = match around {
                    d if d < 30.0 => (Point::new(-25.0, along, d), -Vector::x()),
                    d if d < 80.0 => (Point::new(d - 55.0, along, 30.0), Vector::z()),
                    d => (Point::new(25.0, along, 110.0 - d), Vector::x()),
                };
                Seen {
                    at,
                    normal,
                    mm: normal.dot(&slid),
                }
            })
            .collect();
        let fit = robust_fit(&seats, None).unwrap();
        assert!(
            (fit.translation_mm - slid).norm() < 1e-6,
            "{}",
            fit.translation_mm
        );
        assert!(fit.rotation.norm() < 1e-9, "{}", fit.rotation);
        assert_eq!(fit.unheld.len(), 2, "{:?}", fit.unheld);
    }

    /// A sheet 2 high as a whole whose front sixth rises by 5 more: the level of the rest is found from where half of it lies.
    #[test]
    fn a_side_that_is_bent_off_does_not_lean_the_rest() {
        let seats: Vec<Seen> = (0..7000)
            .map(|i| {
                let (x, y) = (f64::from(i % 100) * 7.0, f64::from(i / 100) * 6.0);
                let scatter = 0.05 * (f64::from(i) * 1.7).sin();
                Seen {
                    at: Point::new(x, y, 0.0),
                    normal: Vector::z(),
                    mm: 2.0 + 5.0 * (1.0 - x / 115.0).max(0.0) + scatter,
                }
            })
            .collect();
        let fits = robust_fits(&seats);
        let moved = fits[1].at(&Point::new(690.0, 400.0, 0.0));
        assert!((moved - Vector::z() * 2.0).norm() < 0.05, "{moved}");
        let stays = robust_fits(&seats).remove(1).stays(&seats);
        assert_eq!(stays.at(&Point::new(690.0, 400.0, 0.0)), Vector::zeros());
        assert!(stays.sigma_mm > 2.0 && stays.pm_mm > fits[1].pm_mm);
    }
}
