//! How an element comes to rest where the sum of its squared distances from points is least.

use nalgebra::{SMatrix, SVector};

/// Steps tried before an element is given up; the slowest that came to rest took 220.
const TRIALS: usize = 300;
/// An element larger than this many reaches of its points is taken to be running off to a straight one.
const LARGEST: f64 = 1e3;
/// Shares of the reach by which the surface may still move, root mean square over the points, when it is at rest.
const AT_REST: f64 = 1e-12;

/// Points about their middle and in units of their reach, so that every tolerance is a share.
pub(super) struct Framed<const D: usize> {
    /// The mean of the points.
    pub middle: SVector<f64, D>,
    /// The root of their mean squared distance from it.
    pub reach: f64,
    /// The points, less the middle, divided by the reach.
    pub points: Vec<SVector<f64, D>>,
}

/// Frames `points`; `None` where they are none or all in one place.
pub(super) fn framed<const D: usize>(points: &[SVector<f64, D>]) -> Option<Framed<D>> {
    if points.is_empty() {
        return None;
    }
    let n = points.len() as f64;
    let middle = points.iter().sum::<SVector<f64, D>>() / n;
    let about: Vec<SVector<f64, D>> = points.iter().map(|p| p - middle).collect();
    let reach = (about.iter().map(|p| p.norm_squared()).sum::<f64>() / n).sqrt();
    // The mean of equal points is off them by rounding; that is no reach.
    let some = reach.is_finite() && reach > 1e-13 * middle.norm() && reach > 0.0;
    some.then(|| Framed {
        middle,
        reach,
        points: about.into_iter().map(|p| p / reach).collect(),
    })
}

/// An element of N unknowns among points of D coordinates.
pub(super) trait Element<const D: usize, const N: usize>: Copy {
    /// The distance of a point, signed, and how it changes with each unknown.
    fn distance(&self, point: &SVector<f64, D>) -> (f64, SVector<f64, N>);
    /// The element after a step of its unknowns; `None` where that is none.
    fn stepped(&self, step: &SVector<f64, N>) -> Option<Self>;
    /// Its largest radius.
    fn size(&self) -> f64;
}

/// Where an element has come to.
pub(super) struct End<E> {
    /// The element.
    pub element: E,
    /// The sum of its squared distances.
    pub squares: f64,
    /// Whether it rests there; else it has run off, or was too slow.
    pub rests: bool,
}

/// The normal equations of an element's distances.
struct Sums<const N: usize> {
    matrix: SMatrix<f64, N, N>,
    right: SVector<f64, N>,
    squares: f64,
}

impl<const N: usize> Sums<N> {
    fn of<const D: usize, E: Element<D, N>>(points: &[SVector<f64, D>], element: &E) -> Self {
        let mut sums = Self {
            matrix: SMatrix::zeros(),
            right: SVector::zeros(),
            squares: 0.0,
        };
        for point in points {
            let (off, row) = element.distance(point);
            sums.matrix += row * row.transpose();
            sums.right -= row * off;
            sums.squares += off * off;
        }
        sums
    }

    /// The step that these equations ask for, held back by `damping`.
    fn step(&self, damping: f64) -> Option<SVector<f64, N>> {
        let mut damped = self.matrix;
        // What no point holds (the bearing of an ellipse that is round) has nothing of its own to be held back by.
        let least = 1e-6 * self.matrix.trace();
        for i in 0..N {
            damped[(i, i)] += damping * (self.matrix[(i, i)] + least);
        }
        damped.cholesky().map(|c| c.solve(&self.right))
    }
}

/// Brings `start` to rest among framed points (Levenberg 1944, Quart. Appl. Math. 2, 164-168; Marquardt 1963, J. SIAM 11,
/// 431-441), the feet of the points being found anew at every step.
pub(super) fn settle<const D: usize, const N: usize, E: Element<D, N>>(
    points: &[SVector<f64, D>],
    start: E,
) -> End<E> {
    let n = points.len() as f64;
    let mut end = End {
        element: start,
        squares: 0.0,
        rests: false,
    };
    let mut sums = Sums::<N>::of(points, &start);
    let mut damping = 1e-3;
    for _ in 0..TRIALS {
        end.squares = sums.squares;
        if end.element.size() > LARGEST {
            return end;
        }
        let tried = sums
            .step(damping)
            .and_then(|step| Some((step, end.element.stepped(&step)?)));
        let Some((step, next)) = tried else {
            damping *= 10.0;
            continue;
        };
        let next_sums = Sums::<N>::of(points, &next);
        // At rest the sum changes by rounding alone, either way.
        let better = next_sums.squares <= sums.squares * (1.0 + 1e-12) + n * 1e-28;
        if !better {
            damping *= 10.0;
            continue;
        }
        let moved = (step.dot(&(sums.matrix * step)) / n).max(0.0).sqrt();
        sums = next_sums;
        end.element = next;
        end.squares = sums.squares;
        if moved < AT_REST && damping < 1e-2 {
            end.rests = true;
            return end;
        }
        damping = (damping / 10.0).max(1e-14);
    }
    end
}

/// The lowest of several ends, if it rests: where another that does not rest lies clearly lower, the least sum belongs to
/// something straight, and there is no such element.
pub(super) fn lowest<E>(ends: Vec<End<E>>) -> Option<End<E>> {
    let bottom = ends.iter().map(|e| e.squares).fold(f64::INFINITY, f64::min);
    ends.into_iter()
        .filter(|e| e.rests)
        .min_by(|a, b| a.squares.total_cmp(&b.squares))
        .filter(|e| e.squares <= 1.01 * bottom + 1e-20)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector2;

    #[test]
    fn points_in_one_place_have_no_reach() {
        let place = Vector2::new(1234.1, -77.3);
        assert!(framed(&[place; 7]).is_none());
        assert!(framed::<2>(&[]).is_none());
        let frame = framed(&[place, place + Vector2::new(0.0, 0.02)]).unwrap();
        assert!((frame.reach - 0.01).abs() < 1e-12);
        assert!((frame.points[1] - Vector2::new(0.0, 1.0)).norm() < 1e-9);
    }

    #[test]
    fn an_end_that_ran_off_lower_leaves_none() {
        let end = |squares: f64, rests: bool| End {
            element: squares,
            squares,
            rests,
        };
        let found = lowest(vec![end(2.0, true), end(1.0, true), end(3.0, false)]).unwrap();
        assert_eq!(found.element, 1.0);
        assert!(lowest(vec![end(2.0, true), end(1.0, false)]).is_none());
        assert!(lowest::<f64>(Vec::new()).is_none());
    }
}
