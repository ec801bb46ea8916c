//! Where a hole is and how large, with its ±: the mean over all outlines that the points allow.
//!
//! Points that a scanner scatters at random over a sheet, λ to the square millimetre, and that it cannot scatter inside of
//! an outline, make an outline of area A the likelier by e^(λA): the more room it takes, the more points chance would have
//! had to keep out of it. The mean over all outlines with that weight is the best estimate that turns and shifts with the
//! points (Pitman 1939, Biometrika 30, 391-421), and the spread of the weights is its ±. The largest empty outline, and a
//! curve fitted to the points of the rim, read large, since no point falls on the rim itself.
//!
//! A scanner's noise carries points over the rim. A point `d` inside counts by the logistic share of d over the noise; how
//! much of the noise goes sideways nobody knows, so the mean goes over that too, from a third of it to twice. The mean is
//! taken by a walk (Metropolis et al. 1953, J. Chem. Phys. 21, 1087-1092) with a generator of its own.
//!
//! On simulated plates, holes of 6 to 60 mm at 0.5 to 3 mm spacing with 0.1 mm of noise, along the normal only or all
//! round, points at random or on a lattice, the diameter is right within 0.05 mm on the average (0.15 mm at 3 mm spacing)
//! and lies within its ± in 90 to 100 of 100 plates, the centre too. Its spread is 0.2 spacings for a hole of 6 spacings
//! across, 0.1 to 0.14 for 11, 0.08 to 0.11 for 19 and 0.04 to 0.07 for 38; in the centre, along one direction, two thirds
//! of that. The largest empty circle less what the spacing adds is as good where the rim is sharp; where the noise goes
//! sideways it reads 0.1 mm small at 1 mm spacing and 0.2 to 0.3 mm at 0.5, and scatters by half as much again.

use cloud::statistics::{mean, standard_deviation};
use nalgebra::Vector2;

use super::outline::Outline;
use super::slot::Form;

/// Steps until the walk has forgotten where it began, and steps that count.
const BEFORE: usize = 1_000;
const STEPS: usize = 3_000;
/// Tries after which the length of the steps is set anew, and the share of them that should be taken.
const TRIES: usize = 40;
const TAKEN: f64 = 0.3;
/// The ± in standard deviations: the weights have longer tails than the normal distribution's 1.96.
const SPREADS: f64 = 2.1;
/// What is not known of the noise at the rim may shift a diameter by this share of it; from the simulations.
const NOISE_SHARE: f64 = 0.3;
/// Standard deviation of the logistic distribution of unit scale.
const LOGISTIC: f64 = 1.813_799_364_234_217_8;
/// Beyond this many scales a point outside says nothing, and e^x inside is all that matters.
const FAR: f64 = 12.0;
const DEEP: f64 = 30.0;

/// How the points lie about a hole.
#[derive(Debug, Clone, Copy)]
pub struct Scatter {
    /// Points to the square millimetre.
    pub density: f64,
    /// Side of the square that each point has to itself, mm.
    pub spacing_mm: f64,
    /// Standard deviation of a point, mm.
    pub noise_mm: f64,
}

impl Scatter {
    /// The noise with which an outline is widened until it fits: not so little that it sticks between two points.
    pub fn blur_mm(&self) -> f64 {
        self.noise_mm.max(0.1 * self.spacing_mm)
    }

    /// Logarithm of an outline's weight, up to a constant. `places` need only be those near the rim.
    pub fn log_weight(&self, places: &[Vector2<f64>], outline: &Outline, blur_mm: f64) -> f64 {
        let scale = LOGISTIC / blur_mm;
        let held_in: f64 = places
            .iter()
            .map(|place| {
                let off = outline.off(place) * scale;
                if off > FAR {
                    0.0
                } else if off < -DEEP {
                    -off
                } else {
                    (-off).exp().ln_1p()
                }
            })
            .sum();
        self.density * outline.area() - held_in
    }
}

/// What the points say of a hole.
#[derive(Debug, Clone, Copy)]
pub struct Measure {
    /// The mean outline.
    pub outline: Outline,
    /// ± of its centre in the worse direction, mm.
    pub place_pm_mm: f64,
    /// ± of its width, mm.
    pub width_pm_mm: f64,
    /// ± of its length, mm.
    pub length_pm_mm: f64,
}

/// How far a step of the walk leads, mm; the turn in rad.
struct Stride {
    ahead: f64,
    aside: f64,
    wider: f64,
    longer: f64,
    turn: f64,
}

impl Stride {
    /// From what one point more or less decides: at the rim all round, at a slot's end.
    fn of(start: &Outline, form: Form, scatter: &Scatter, blur_mm: f64) -> Self {
        let rim = 2.0 / (scatter.density * start.perimeter()) + 0.4 * blur_mm;
        if form == Form::Round {
            return Self {
                ahead: 1.4 * rim,
                aside: 1.4 * rim,
                wider: rim,
                longer: 0.0,
                turn: 0.0,
            };
        }
        let end = 2.0 / (scatter.density * 2.0 * start.radius) + 0.4 * blur_mm;
        Self {
            ahead: 0.7 * end,
            aside: rim,
            wider: rim,
            longer: end,
            turn: rim / start.half_length(),
        }
    }
}

/// The mean outline and its ±. `start` is the likeliest one of its form.
pub fn sized(places: &[Vector2<f64>], start: &Outline, form: Form, scatter: &Scatter) -> Measure {
    let (finest, roughest) = (
        (0.3 * scatter.noise_mm).max(0.01 * scatter.spacing_mm),
        (2.0 * scatter.noise_mm).max(0.1 * scatter.spacing_mm),
    );
    let stride = Stride::of(start, form, scatter, roughest);
    // Outlines farther from the start than this are not met in practice; without a bound one could slip out of the hole.
    let bound = 8.0 * stride.ahead.max(stride.longer).max(stride.wider) + 4.0 * roughest;
    let near: Vec<Vector2<f64>> = places
        .iter()
        .filter(|p| start.off(p) < 2.0 * bound + FAR * roughest / LOGISTIC)
        .copied()
        .collect();
    let weight = |outline: &Outline, blur: f64| scatter.log_weight(&near, outline, blur);
    let mut chance = Chance(0x5eed);
    let (mut here, mut blur) = (*start, (finest * roughest).sqrt());
    let mut worth = weight(&here, blur);
    let mut length_of_step = 1.0;
    let mut taken = 0u32;
    let mut seen: Vec<Outline> = Vec::with_capacity(STEPS);
    for step in 1..=BEFORE + STEPS {
        let other_blur = blur * (roughest / finest).powf(0.3 * chance.either_way());
        if (finest..=roughest).contains(&other_blur) {
            let other = weight(&here, other_blur);
            if chance.share().ln() < other - worth {
                (blur, worth) = (other_blur, other);
            }
        }
        let next = stepped(&here, &stride, length_of_step, &mut chance);
        if is_near(&next, start, bound) {
            let other = weight(&next, blur);
            if chance.share().ln() < other - worth {
                (here, worth) = (next, other);
                taken += 1;
            }
        }
        if step <= BEFORE && step % TRIES == 0 {
            let share = f64::from(taken) / TRIES as f64;
            length_of_step *= (2.0 * (share - TAKEN)).exp();
            taken = 0;
        }
        if step > BEFORE {
            seen.push(here);
        }
    }
    told(&seen, start, scatter)
}

/// A step in every direction at once.
fn stepped(from: &Outline, stride: &Stride, times: f64, chance: &mut Chance) -> Outline {
    let mut by = |mm: f64| mm * times * chance.either_way();
    let shift = from.along * by(stride.ahead) + from.across() * by(stride.aside);
    let mut next = from.turned(by(stride.turn));
    next.centre += shift;
    next.radius += by(stride.wider);
    next.half[0] += by(stride.longer);
    next
}

fn is_near(outline: &Outline, start: &Outline, bound: f64) -> bool {
    outline.radius > 0.0
        && outline.half[0] >= 0.0
        && (outline.centre - start.centre).norm() < bound
        && (outline.radius - start.radius).abs() < bound
        && (outline.half[0] - start.half[0]).abs() < bound
}

/// Means and ± over the walk.
fn told(seen: &[Outline], start: &Outline, scatter: &Scatter) -> Measure {
    let over = |of: &dyn Fn(&Outline) -> f64| {
        let values: Vec<f64> = seen.iter().map(of).collect();
        (mean(&values), standard_deviation(&values))
    };
    let (ahead, ahead_spread) = over(&|o| (o.centre - start.centre).dot(&start.along));
    let (aside, aside_spread) = over(&|o| (o.centre - start.centre).dot(&start.across()));
    let (turn, _) = over(&|o| start.along.perp(&o.along));
    let (radius, radius_spread) = over(&|o| o.radius);
    let (half, _) = over(&|o| o.half[0]);
    let (_, length_spread) = over(&|o| o.half_length());
    let unknown = NOISE_SHARE * scatter.noise_mm;
    let mut outline = start.turned(turn);
    outline.centre += start.along * ahead + start.across() * aside;
    outline.radius = radius;
    outline.half[0] = half;
    Measure {
        outline,
        place_pm_mm: SPREADS * ahead_spread.max(aside_spread),
        width_pm_mm: (2.0 * SPREADS * radius_spread).hypot(unknown),
        length_pm_mm: (2.0 * SPREADS * length_spread).hypot(unknown),
    }
}

/// Numbers as if by chance, always the same (Steele, Lea & Flood 2014, OOPSLA, SplitMix64).
struct Chance(u64);

impl Chance {
    /// From 0 to 1, never 0.
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        (((x ^ x >> 31) >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// From −1 to 1.
    fn either_way(&mut self) -> f64 {
        2.0 * self.share() - 1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    // With the centre known and a sharp rim the answer is in closed form. Flat over r, the weight e^(λπr²) up to the
    // nearest point at r₀ has its mean at ∫ r e^(λπr²) dr / ∫ e^(λπr²) dr; a ring of points so dense that the centre is held
    // comes near to it: the mean lies 1/(2πλr₀) inside.
    #[test]
    fn in_a_ring_of_points_the_rim_lies_as_far_inside_as_chance_left_free() {
        let ring: Vec<Vector2<f64>> = (0..3000)
            .map(|i| {
                let a = std::f64::consts::TAU * f64::from(i) / 3000.0;
                Vector2::new(a.cos(), a.sin()) * 10.0
            })
            .collect();
        let scatter = Scatter {
            density: 1.0,
            spacing_mm: 0.01,
            noise_mm: 0.0,
        };
        let start = Outline::round(Vector2::zeros(), 9.999);
        let found = sized(&ring, &start, Form::Round, &scatter);
        // The centre takes two of the three freedoms: three times the mean of one, on the average over its cone.
        let once = 1.0 / (std::f64::consts::TAU * 10.0);
        let inside = 10.0 - found.outline.radius;
        assert!((inside / once - 3.0).abs() < 1.0, "{}", inside / once);
        assert!(found.outline.centre.norm() < 0.01, "{}", found.outline.centre);
    }

    #[test]
    fn discs_at_random_are_read_right_on_the_average_and_within_their_pm() {
        let (radius, scatter) = (
            5.55,
            Scatter {
                density: 1.0,
                spacing_mm: 1.0,
                noise_mm: 0.1,
            },
        );
        let mut off = Vec::new();
        let mut held = 0;
        for seed in 0..60u64 {
            let places: Vec<Vector2<f64>> = (0..400)
                .map(|i| {
                    let k = 2 * (i + 1000 * seed);
                    Vector2::new(20.0 * uniform(k) - 10.0, 20.0 * uniform(k + 1) - 10.0)
                })
                .filter(|p| p.norm() > radius)
                .collect();
            let start = Outline::round(Vector2::zeros(), radius);
            let found = sized(&places, &start, Form::Round, &scatter);
            let error = 2.0 * (found.outline.radius - radius);
            held += usize::from(error.abs() <= found.width_pm_mm);
            off.push(error);
            assert_eq!(
                found.outline,
                sized(&places, &start, Form::Round, &scatter).outline
            );
        }
        assert!(mean(&off).abs() < 0.07, "{}", mean(&off));
        assert!(standard_deviation(&off) < 0.15, "{}", standard_deviation(&off));
        assert!(held >= 54, "{held} of 60");
    }
}
