//! Where points at random end: what is known of a straight end from the outermost of them.
//!
//! Points at random come ρ to the square millimetre up to the end and none beyond it, but for a stray one. Under a flat
//! prior on where the end lies, and on its slope, what is left over given the points is exponential in the area between
//! them and the end; its mean is the best estimator that moves with the points (Pitman 1939, Biometrika 30, 391-421), and
//! its variance that of the estimator given the points' pattern. For a level end it is the outermost point and 1/λ, λ
//! points to the millimetre of depth (Robson & Whitlock 1964, Biometrika 51, 33-39; Hall 1982, Ann. Statist. 10, 556-568),
//! with a standard deviation of 1/λ, as the spacings of an exponential sample have it (David & Nagaraja 2003, Order
//! Statistics, 3rd edition). Each point beyond the end costs a factor, so that an outermost point that stands off by more
//! than chance allows fades out of the mean, and what is doubtful widens the variance.

/// What a point beyond the end costs: one that stands off by 5.8/λ is as likely a stray as the metal's.
const STRAY: f64 = 0.003;
/// Most points beyond the end.
const MOST_STRAYS: usize = 3;
/// Slopes that are summed over, and how far they reach from the likeliest, in depths of one point to the length.
const SLOPES: i32 = 81;
const REACH: f64 = 50.0;
/// Steps of the search for the likeliest slope, each of which takes a third off what is left.
const STEPS: usize = 60;

/// Points at random up to an end.
pub(super) struct Strewn {
    /// The outermost, each (along, outward), mm.
    pub points: Vec<(f64, f64)>,
    /// Where along the end they were taken, from and to, mm.
    pub lengths_mm: Vec<[f64; 2]>,
    /// How many come to a square millimetre.
    pub per_mm2: f64,
}

/// What is known of the end.
#[derive(Debug, Clone, Copy)]
pub(super) struct End {
    /// Its mean at nothing along, mm.
    pub mm: f64,
    /// Its variance there, mm².
    pub mm2: f64,
    /// Logarithm of how well such an end accounts for the points, to a millimetre and, where it may slope, to one of slope.
    pub evidence: f64,
}

impl Strewn {
    /// The end, level or of any slope; `None` without points or length.
    pub fn end(&self, may_slope: bool) -> Option<End> {
        let length_mm: f64 = self.lengths_mm.iter().map(|[from, to]| to - from).sum();
        let moment: f64 = self
            .lengths_mm
            .iter()
            .map(|[from, to]| (to * to - from * from) / 2.0)
            .sum();
        let depth_mm = 1.0 / (self.per_mm2 * length_mm);
        if self.points.is_empty() || length_mm <= 0.0 || !depth_mm.is_finite() {
            return None;
        }
        let middle_mm = moment / length_mm;
        let (slopes, step): (Vec<f64>, f64) = if may_slope {
            let step = 2.0 * REACH * depth_mm / length_mm / f64::from(SLOPES - 1);
            let likeliest = self.likeliest_slope(middle_mm, length_mm);
            let slope = |k: i32| likeliest + step * f64::from(k - SLOPES / 2);
            ((0..SLOPES).map(slope).collect(), step)
        } else {
            (vec![0.0], 1.0)
        };
        let heights: Vec<[f64; MOST_STRAYS + 1]> = slopes
            .iter()
            .map(|slope| self.highest(*slope, middle_mm))
            .collect();
        let lowest = heights.iter().map(|h| h[0]).fold(f64::INFINITY, f64::min);
        // Weight, first and second moment of the end at nothing along, over `lowest` and in depths of one point.
        let mut sums = [0.0; 3];
        for (slope, heights) in slopes.iter().zip(&heights) {
            let lean = -slope * middle_mm / depth_mm;
            let [weight, first, second] = over_heights(heights, lowest, depth_mm);
            sums[0] += weight;
            sums[1] += first + lean * weight;
            sums[2] += second + 2.0 * lean * first + lean * lean * weight;
        }
        let [weight, first, second] = sums;
        let mean = first / weight;
        let variance = second / weight - mean * mean;
        (weight > 0.0 && variance.is_finite()).then(|| End {
            mm: lowest + mean * depth_mm,
            mm2: variance.max(0.0) * depth_mm * depth_mm,
            evidence: (weight * step * depth_mm).ln() - lowest / depth_mm,
        })
    }

    /// The slope of the line over all points under which there is the least area: least at the middle of the lengths.
    fn likeliest_slope(&self, middle_mm: f64, length_mm: f64) -> f64 {
        let outs = || self.points.iter().map(|p| p.1);
        let deep = outs().fold(f64::NEG_INFINITY, f64::max) - outs().fold(f64::INFINITY, f64::min);
        let highest = |slope: f64| self.highest(slope, middle_mm)[0];
        let (mut low, mut high) = (-8.0 * deep / length_mm, 8.0 * deep / length_mm);
        for _ in 0..STEPS {
            let third = (high - low) / 3.0;
            if highest(low + third) < highest(high - third) {
                high -= third;
            } else {
                low += third;
            }
        }
        (low + high) / 2.0
    }

    /// How high over the middle a line of that slope lies through the outermost points, the highest first; −∞ where there
    /// are no more points.
    fn highest(&self, slope: f64, middle_mm: f64) -> [f64; MOST_STRAYS + 1] {
        let mut highest = [f64::NEG_INFINITY; MOST_STRAYS + 1];
        for (along, out) in &self.points {
            let mut height = out - slope * (along - middle_mm);
            for kept in &mut highest {
                if height > *kept {
                    std::mem::swap(kept, &mut height);
                }
            }
        }
        highest
    }
}

/// Weight, first and second moment of the end's height over `from`, in depths: between the k-th point and the next farther
/// out lie k points beyond the end.
fn over_heights(heights: &[f64], from: f64, depth_mm: f64) -> [f64; 3] {
    let mut sums = [0.0; 3];
    let mut cost = 1.0;
    let mut farther: Option<f64> = None;
    for height in heights.iter().take_while(|h| h.is_finite()) {
        let t = (height - from) / depth_mm;
        let [below, above] = [Some(t), farther].map(|t| t.map_or([0.0; 3], beyond));
        for ((sum, below), above) in sums.iter_mut().zip(below).zip(above) {
            *sum += cost * (below - above);
        }
        cost *= STRAY;
        farther = Some(t);
    }
    sums
}

/// The integrals of 1, u and u² against exp(−u) from `t` on.
fn beyond(t: f64) -> [f64; 3] {
    [1.0, t + 1.0, t * t + 2.0 * t + 2.0].map(|of| of * (-t).exp())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::statistics::{mean, standard_deviation};

    /// Points one to a square millimetre, 12 deep under a straight end, between two places along it.
    fn strewn(seed: u64, lengths_mm: [f64; 2], end: impl Fn(f64) -> f64) -> Strewn {
        let [from, to] = lengths_mm;
        let points = (0..(12.0 * (to - from)) as u64).map(|i| {
            let k = 2 * (i + seed * 10_007);
            let along = from + (to - from) * uniform(k);
            (along, end(along) - 12.0 * uniform(k + 1))
        });
        Strewn {
            points: points.collect(),
            lengths_mm: vec![lengths_mm],
            per_mm2: 1.0,
        }
    }

    // Two points: exp(−λ(a − y₁)) above the first, STRAY of it between the first and the second.
    #[test]
    fn a_level_end_lies_one_point_s_depth_beyond_the_outermost() {
        let two = |second: f64| Strewn {
            points: vec![(0.0, 0.0), (1.0, second)],
            lengths_mm: vec![[-2.0, 2.0]],
            per_mm2: 0.5,
        };
        let near = two(-0.05).end(false).unwrap();
        assert!(
            (near.mm - 0.5).abs() < 0.01 && (near.mm2.sqrt() - 0.5).abs() < 0.01,
            "{near:?}"
        );
        // Twenty depths off it is a stray, and the second is the outermost.
        let far = two(-10.0).end(false).unwrap();
        assert!(
            (far.mm + 9.5).abs() < 0.01 && (far.mm2.sqrt() - 0.5).abs() < 0.01,
            "{far:?}"
        );
        let none = Strewn {
            points: Vec::new(),
            ..two(0.0)
        };
        assert!(none.end(true).is_none());
    }

    #[test]
    fn a_sloping_end_is_met_without_bias_and_as_closely_as_is_said() {
        let (mut offs, mut variances, mut held) = (Vec::new(), Vec::new(), 0);
        for seed in 0..150 {
            let end = strewn(seed, [-15.0, 15.0], |along| 3.0 + 0.05 * along)
                .end(true)
                .unwrap();
            held += usize::from((end.mm - 3.0).abs() <= 1.96 * end.mm2.sqrt());
            offs.push(end.mm - 3.0);
            variances.push(end.mm2);
        }
        let (spread, stated) = (standard_deviation(&offs), mean(&variances).sqrt());
        assert!(mean(&offs).abs() < 0.02, "{}", mean(&offs));
        assert!((0.6..1.4).contains(&(spread / stated)), "{spread} {stated}");
        // A level end would have 1/30; its slope costs less than twice that.
        assert!(spread < 2.0 / 30.0, "{spread}");
        assert!(held >= 133, "{held} of 150");
    }
}
