//! The pose graph: where the takes lie when all links between them are met at once, as well as they can be.
//!
//! Least squares over the small motions of all takes but the first, each link weighed by what its pairs hold (Lu &
//! Milios 1997, Autonomous Robots 4, 333-349; in six motions Borrmann et al. 2008, Robotics and Autonomous Systems 56,
//! 130-142), by Gauss-Newton steps on the motions themselves. A false link must not bend the rest: it is judged by how
//! far it is from what the others say, in terms of what that difference is known to (Baarda 1968, Netherlands Geodetic
//! Commission 2(5)), and counts by Tukey's weight with a scale that is found.

mod known;

use cloud::bisquare::{TUKEY, bisquare};
use cloud::held::{Matrix6x6, SmallMotion};
use cloud::statistics::median;
use cloud::{Body, Bounds, Matrix3, Motion, Point, Scan, Vector};
use nalgebra::{DMatrix, DVector};

use super::Link;
pub use known::held_to_the_first;

/// From the median of root mean squares of six normal deviates to their standard deviation.
const TO_DEVIATION: f64 = 1.06;
/// A link that counts less than this is left out.
pub const LEAST_WEIGHT: f64 = 0.05;
/// Each normal comes from about so many neighbours: so many pairs say one thing, and not as many.
pub const SHARED: f64 = 20.0;
/// No link is known better than if each of its pairs scattered by this, mm.
pub const LEAST_SIGMA_MM: f64 = 1e-3;
/// In a motion that the pairs don't hold, the link's own motion stands, with this share of what a pair holds on
/// average.
const WEAK: f64 = 1e-6;
/// A direction in which less than this share of a link's error would show can't be judged.
const LEAST_TESTED: f64 = 1e-3;
/// Steps, and the step that is too small to matter, mm.
const MOST_STEPS: usize = 60;
const SMALL_STEP_MM: f64 = 1e-6;

/// Which takes hang together.
pub struct Groups(Vec<usize>);

impl Groups {
    /// Each take for itself.
    pub fn of(takes: usize) -> Self {
        Self((0..takes).collect())
    }

    /// Ties two takes and all that hangs on them; `false` where they hung together before.
    pub fn tie(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.0[a], self.0[b]);
        for group in &mut self.0 {
            if *group == a.max(b) {
                *group = a.min(b);
            }
        }
        a != b
    }

    /// Whether two takes hang together.
    pub fn tied(&self, a: usize, b: usize) -> bool {
        self.0[a] == self.0[b]
    }

    /// The takes that don't hang on the largest group, or on the first of the largest.
    pub fn loose(&self) -> Vec<usize> {
        let size = |group: usize| self.0.iter().filter(|g| **g == group).count();
        let mut largest = 0;
        for group in 1..self.0.len() {
            if size(group) > size(largest) {
                largest = group;
            }
        }
        (0..self.0.len()).filter(|&k| self.0[k] != largest).collect()
    }
}

/// The first links in `order` over which all takes hang together (Kruskal 1956).
pub fn tree(takes: usize, links: &[Link], order: impl IntoIterator<Item = usize>) -> Vec<usize> {
    let mut groups = Groups::of(takes);
    order
        .into_iter()
        .filter(|&l| groups.tie(links[l].reference, links[l].measured))
        .collect()
}

/// The takes laid one on the next along the links of a tree, the first in its own frame.
pub fn laid_along(takes: usize, links: &[Link], tree: &[usize]) -> Vec<Motion<Scan, Body>> {
    let mut laid: Vec<Option<Motion<Scan, Body>>> = vec![None; takes];
    if let Some(first) = laid.first_mut() {
        *first = Some(Motion::identity());
    }
    // Every round lays one more take at least.
    for _ in 0..takes {
        for link in tree.iter().map(|&l| &links[l]) {
            match (laid[link.reference], laid[link.measured]) {
                (Some(at), None) => {
                    laid[link.measured] = Some(link.reference_from_measured.then(&at));
                }
                (None, Some(at)) => {
                    laid[link.reference] = Some(link.reference_from_measured.inverse().then(&at));
                }
                _ => {}
            }
        }
    }
    laid.into_iter()
        .map(|motion| motion.unwrap_or_else(Motion::identity))
        .collect()
}

/// How far the measured take of a link lies from where the link would have it, at the far corner of the take, mm.
pub fn off_mm(link: &Link, laid: &[Motion<Scan, Body>], bounds: &[Bounds]) -> f64 {
    link.reference_from_measured
        .then(&laid[link.reference])
        .largest_gap_mm(&laid[link.measured], &bounds[link.measured])
}

/// Where the takes lie, and what became of each link.
pub struct Solved {
    /// The motion joined ← take; the first take stays where it is.
    pub joined_from_take: Vec<Motion<Scan, Body>>,
    /// What each link counts, from 0 to 1.
    pub weights: Vec<f64>,
    /// Whether the other links say enough to find each link false.
    pub checked: Vec<bool>,
    /// The ± of each take at its far corner, mm.
    pub pms_mm: Vec<Option<f64>>,
}

/// Solves the graph. The links must tie all takes together; `bounds` are those of the takes.
pub fn solve(links: &[Link], bounds: &[Bounds]) -> Solved {
    let (mut laid, trusted) = start(links, bounds);
    let graph = Graph::new(links, bounds, &laid);
    let mut weights = vec![0.0; links.len()];
    for l in trusted {
        weights[l] = 1.0;
    }
    let mut checked = vec![false; links.len()];
    // The links of the tree alone say how far the others may lie off; only then do all take part.
    if let Some((_, covariance)) = graph.step(&laid, &weights) {
        (weights, checked) = graph.judged(&laid, &weights, &covariance);
    }
    for _ in 0..MOST_STEPS {
        let Some((step, covariance)) = graph.step(&laid, &weights) else {
            break;
        };
        for (k, take) in laid.iter_mut().enumerate().skip(1) {
            *take = take.then(&graph.small_motion(&step, k)).tidied();
        }
        (weights, checked) = graph.judged(&laid, &weights, &covariance);
        if step.amax() < SMALL_STEP_MM {
            break;
        }
    }
    Solved {
        pms_mm: graph.pms_mm(&laid, &weights, bounds),
        joined_from_take: laid,
        weights,
        checked,
    }
}

/// Where to start: the takes along the tree of most pairs, and the tree. A false link in it would lay all that hangs
/// on it wrong, so links are taken out of it one by one as long as the rest then agrees better; the logarithm counts
/// how many agree and how well, and not how far off a false one is.
fn start(links: &[Link], bounds: &[Bounds]) -> (Vec<Motion<Scan, Body>>, Vec<usize>) {
    let takes = bounds.len();
    let mut sigmas: Vec<f64> = links.iter().map(|l| l.motions.sigma_mm).collect();
    let unit_mm = median(&mut sigmas).max(LEAST_SIGMA_MM);
    let disagreement = |laid: &[Motion<Scan, Body>]| -> f64 {
        links
            .iter()
            .map(|link| (off_mm(link, laid, bounds) / unit_mm).ln_1p())
            .sum()
    };
    let mut order: Vec<usize> = (0..links.len()).collect();
    // What was laid by named points leads: somebody has said that it lies so.
    order.sort_by_key(|&l| std::cmp::Reverse((links[l].by_points, links[l].pairs)));
    let mut best = tree(takes, links, order.iter().copied());
    let mut laid = laid_along(takes, links, &best);
    let mut least = disagreement(&laid);
    loop {
        let mut better = None;
        for &without in &best {
            let other = tree(takes, links, order.iter().copied().filter(|l| *l != without));
            if other.len() < best.len() {
                continue;
            }
            let tried = laid_along(takes, links, &other);
            let sum = disagreement(&tried);
            if sum < least {
                least = sum;
                better = Some((without, other, tried));
            }
        }
        let Some((without, other, tried)) = better else {
            return (laid, best);
        };
        order.retain(|l| *l != without);
        (best, laid) = (other, tried);
    }
}

/// The turn of a rotation as axis times angle (rad), exact for the smallest.
fn turn_of(rotation: &Matrix3) -> Vector {
    let skew = Vector::new(
        rotation[(2, 1)] - rotation[(1, 2)],
        rotation[(0, 2)] - rotation[(2, 0)],
        rotation[(1, 0)] - rotation[(0, 1)],
    ) / 2.0;
    let (sine, cosine) = (skew.norm(), (rotation.trace() - 1.0) / 2.0);
    if cosine < -0.99 {
        return Motion::<Scan, Scan>::new(*rotation, Vector::zeros()).rotation_vector();
    }
    if sine < 1e-12 {
        return skew;
    }
    skew * (sine.atan2(cosine) / sine)
}

/// The links with what they hold.
struct Graph<'a> {
    links: &'a [Link],
    /// For each link L with L Lᵀ the inverse of the covariance of its small motion about its centre.
    roots: Vec<Matrix6x6>,
    /// In the joined frame the small motions of the takes turn about this point, their turns counted in mm at
    /// `arm_mm`, so that all unknowns are alike.
    about: Point,
    arm_mm: f64,
    takes: usize,
}

impl<'a> Graph<'a> {
    fn new(links: &'a [Link], bounds: &[Bounds], laid: &[Motion<Scan, Body>]) -> Self {
        let middles: Vec<Point> = laid
            .iter()
            .zip(bounds)
            .map(|(m, b)| m.apply(&b.centre()))
            .collect();
        let sum: Vector = middles.iter().map(|p| p.coords).sum();
        let about = Point::from(sum / middles.len().max(1) as f64);
        let arm_mm = middles
            .iter()
            .zip(bounds)
            .map(|(p, b)| (p - about).norm() + b.diagonal() / 2.0)
            .fold(f64::MIN_POSITIVE, f64::max);
        Self {
            roots: links.iter().map(root).collect(),
            links,
            about,
            arm_mm,
            takes: bounds.len(),
        }
    }

    /// How far link `l` is from being met, and how a small motion of the measured take changes that; of the reference
    /// the opposite. Both in standard deviations of the link.
    fn row(&self, l: usize, laid: &[Motion<Scan, Body>]) -> (SmallMotion, Matrix6x6) {
        let link = &self.links[l];
        let (reference, measured) = (&laid[link.reference], &laid[link.measured]);
        // In the reference's frame, from where the link has the measured take to where it lies.
        let off: Motion<Scan, Scan> = link
            .reference_from_measured
            .inverse()
            .then(measured)
            .then(&reference.inverse());
        let centre = link.motions.centre_mm;
        let at = off.apply(&centre);
        let (turn, shift) = (turn_of(off.rotation()), at - centre);
        let error = SmallMotion::new(turn.x, turn.y, turn.z, shift.x, shift.y, shift.z);
        let back = reference.rotation().transpose();
        let arm = reference.apply(&at) - self.about;
        let mut jacobian = Matrix6x6::zeros();
        jacobian
            .fixed_view_mut::<3, 3>(0, 0)
            .copy_from(&(back / self.arm_mm));
        jacobian
            .fixed_view_mut::<3, 3>(3, 0)
            .copy_from(&(back * arm.cross_matrix() / -self.arm_mm));
        jacobian.fixed_view_mut::<3, 3>(3, 3).copy_from(&back);
        let root = self.roots[l].transpose();
        (root * error, root * jacobian)
    }

    /// The places of a link's two takes among the unknowns, and their signs; the first take is no unknown.
    fn ends(&self, l: usize) -> [(Option<usize>, f64); 2] {
        let place = |take: usize| take.checked_sub(1).map(|k| 6 * k);
        [
            (place(self.links[l].reference), -1.0),
            (place(self.links[l].measured), 1.0),
        ]
    }

    /// The small motions that meet the weighed links best, and their covariance; `None` where the links don't hold all
    /// takes.
    fn step(&self, laid: &[Motion<Scan, Body>], weights: &[f64]) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let unknowns = 6 * self.takes.checked_sub(1)?;
        let mut matrix = DMatrix::<f64>::zeros(unknowns, unknowns);
        let mut right = DVector::<f64>::zeros(unknowns);
        for (l, &weight) in weights.iter().enumerate().filter(|(_, weight)| **weight > 0.0) {
            let (error, jacobian) = self.row(l, laid);
            let block = jacobian.transpose() * jacobian * weight;
            let pull = jacobian.transpose() * error * weight;
            for (row, row_sign) in self.ends(l) {
                let Some(row) = row else { continue };
                let mut part = right.fixed_rows_mut::<6>(row);
                part -= pull * row_sign;
                for (column, column_sign) in self.ends(l) {
                    let Some(column) = column else { continue };
                    let mut part = matrix.fixed_view_mut::<6, 6>(row, column);
                    part += block * (row_sign * column_sign);
                }
            }
        }
        let factors = matrix.cholesky()?;
        Some((factors.solve(&right), factors.inverse()))
    }

    fn small_motion(&self, step: &DVector<f64>, take: usize) -> Motion<Body, Body> {
        let part = step.fixed_rows::<6>(6 * (take - 1));
        Motion::turn_about(
            Vector::new(part[0], part[1], part[2]) / self.arm_mm,
            self.about,
            Vector::new(part[3], part[4], part[5]),
        )
    }

    /// How far link `l` lies from what the others say, in standard deviations of that difference; `None` where they say
    /// nothing.
    fn apart(
        &self,
        l: usize,
        laid: &[Motion<Scan, Body>],
        weight: f64,
        covariance: &DMatrix<f64>,
    ) -> Option<f64> {
        let (error, jacobian) = self.row(l, laid);
        let mut between = Matrix6x6::zeros();
        for (row, row_sign) in self.ends(l) {
            for (column, column_sign) in self.ends(l) {
                if let (Some(row), Some(column)) = (row, column) {
                    between += covariance.fixed_view::<6, 6>(row, column) * (row_sign * column_sign);
                }
            }
        }
        // A link that counts in full has drawn the answer to itself, one that is left out has not.
        let known = jacobian * between * jacobian.transpose() * (1.0 - 2.0 * weight);
        let spread = (Matrix6x6::identity() + (known + known.transpose()) / 2.0).symmetric_eigen();
        let (mut square, mut tested) = (0.0, 0.0);
        for k in 0..6 {
            let variance = spread.eigenvalues[k];
            if variance > LEAST_TESTED {
                square += spread.eigenvectors.column(k).dot(&error).powi(2) / variance;
                tested += 1.0;
            }
        }
        (tested > 0.0).then(|| (square / tested).sqrt())
    }

    /// The weights of the links where the takes lie now, and which of them the others can judge.
    fn judged(
        &self,
        laid: &[Motion<Scan, Body>],
        weights: &[f64],
        covariance: &DMatrix<f64>,
    ) -> (Vec<f64>, Vec<bool>) {
        let apart: Vec<Option<f64>> = weights
            .iter()
            .enumerate()
            .map(|(l, weight)| self.apart(l, laid, *weight, covariance))
            .collect();
        let mut tested: Vec<f64> = apart.iter().flatten().copied().collect();
        tested.sort_by(f64::total_cmp);
        // Of an even number the nearer of the two middle ones: with one good and one false link the good one sets the
        // scale.
        let middle = tested.len().checked_sub(1).map_or(0.0, |last| tested[last / 2]);
        let scale = (TO_DEVIATION * middle).max(1.0);
        let mut new: Vec<f64> = apart
            .iter()
            .map(|apart| bisquare(apart.unwrap_or(0.0), TUKEY * scale))
            .collect();
        // Takes that hang only on links that contradict each other hang on the one with most pairs.
        let mut order: Vec<usize> = (0..new.len()).collect();
        order.sort_by(|&a, &b| {
            new[b]
                .total_cmp(&new[a])
                .then(self.links[b].by_points.cmp(&self.links[a].by_points))
                .then(self.links[b].pairs.cmp(&self.links[a].pairs))
        });
        for l in tree(self.takes, self.links, order) {
            if new[l] < LEAST_WEIGHT {
                new[l] = 1.0;
            }
        }
        (new, apart.iter().map(Option::is_some).collect())
    }
}

/// L with L Lᵀ the inverse of the covariance of a link's small motion (rad, mm) about its centre.
fn root(link: &Link) -> Matrix6x6 {
    let motions = &link.motions;
    let mut certainty = motions.information;
    let a_pair = (certainty[(3, 3)] + certainty[(4, 4)] + certainty[(5, 5)]) / 3.0;
    let weak = WEAK * a_pair.max(1.0);
    let weak_turn = weak * motions.radius_mm.powi(2).max(1.0);
    for k in 0..6 {
        certainty[(k, k)] += if k < 3 { weak_turn } else { weak };
    }
    let sigma_mm = motions.sigma_mm.max(LEAST_SIGMA_MM);
    (certainty / (SHARED * sigma_mm.powi(2)))
        .cholesky()
        .map_or_else(Matrix6x6::identity, |factors| factors.l())
}
