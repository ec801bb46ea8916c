//! The rigid part of a deviation: bisquare weights (Beaton & Tukey 1974), unheld motions left unknown.

use cloud::held::{LEAST_HELD, Matrix6x6, Motions, SmallMotion, row};
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
    covariance: Matrix6x6,
}

impl Fit {
    /// ± of the move at a place, mm.
    pub fn pm_at(&self, at: &Point) -> f64 {
        cloud::held::pm_at(&self.covariance, &(at - self.about))
    }
}

/// Fits the motion with bisquare weights; motions that nothing holds stay nothing. `None` where nothing is held.
pub fn robust_fit(seats: &[Seen]) -> Option<Fit> {
    let n = seats.len() as f64;
    let about = Point::from(seats.iter().map(|s| s.at.coords).sum::<Vector>() / n);
    let radius = (seats.iter().map(|s| (s.at - about).norm_squared()).sum::<f64>() / n)
        .sqrt()
        .max(1e-9);
    let points: Vec<Point> = seats.iter().map(|s| s.at).collect();
    let normals: Vec<Vector> = seats.iter().map(|s| s.normal).collect();
    let unheld: Vec<(String, [f64; 6])> = Motions::of(&points, &normals, 0.0)
        .held()
        .free
        .into_iter()
        .map(|f| (f.words, f.vector))
        .collect();
    let rows: Vec<SmallMotion> = seats
        .iter()
        .map(|s| row(&((s.at - about) / radius), &s.normal))
        .collect();
    let mut small = SmallMotion::zeros();
    let mut sigma = 0.0;
    let mut held_inverse = Matrix6x6::zeros();
    for round in 0..15 {
        let rest: Vec<f64> = seats
            .iter()
            .zip(&rows)
            .map(|(s, r)| s.mm - r.dot(&small))
            .collect();
        let mut sizes: Vec<f64> = rest.iter().map(|r| r.abs()).collect();
        sigma = (1.4826 * median(&mut sizes)).max(1e-6);
        let (mut matrix, mut right) = (Matrix6x6::zeros(), SmallMotion::zeros());
        for ((seat, row), rest) in seats.iter().zip(&rows).zip(&rest) {
            // The first round takes all alike: the region may have moved as a whole by far more than it is rough.
            let share = if round == 0 { 0.0 } else { rest / (4.685 * sigma) };
            if share.abs() < 1.0 {
                let weighted = row * (1.0 - share * share).powi(2);
                matrix += weighted * row.transpose();
                right += weighted * seat.mm;
            }
        }
        let eigen = matrix.symmetric_eigen();
        let largest = eigen.eigenvalues.max();
        if largest.is_nan() || largest <= 0.0 {
            return None;
        }
        let mut next = SmallMotion::zeros();
        held_inverse = Matrix6x6::zeros();
        for k in 0..6 {
            let value = eigen.eigenvalues[k];
            if value >= LEAST_HELD * largest {
                let v = eigen.eigenvectors.column(k).into_owned();
                next += v * (v.dot(&right) / value);
                held_inverse += v * v.transpose() / value;
            }
        }
        let step = (next - small).norm();
        small = next;
        if round > 0 && step < 1e-6 {
            break;
        }
    }
    // Neighbours share their points over a disc: about one in twenty places is its own evidence.
    let mut covariance = held_inverse * (sigma * sigma * 20.0);
    for i in 0..6 {
        for j in 0..6 {
            covariance[(i, j)] /= radius.powi((i < 3) as i32 + (j < 3) as i32);
        }
    }
    let pm_mm = cloud::held::pm_at(&covariance, &Vector::zeros());
    Some(Fit {
        translation_mm: Vector::new(small[3], small[4], small[5]),
        rotation: Vector::new(small[0], small[1], small[2]) / radius,
        about,
        unheld,
        pm_mm,
        covariance,
    })
}
