//! Setting by points in order, three-two-one: what comes first is satisfied first, the next by the motions that are left.
//!
//! Points of order 1 are brought together in the least-squares sense, whatever the others say; those of order 2 by the
//! motions that order 1 leaves free, those of order 3 by what is left then (the precedence of datums of ISO 5459:2011 and
//! ASME Y14.5-2018). A point pulls only in the directions that it holds: a pad up, a hole along two of the body's axes, a
//! slot or a stop along one. Each step is a least-squares problem in the null space of those before (lexicographic least
//! squares; Escande, Mansard & Wieber 2014, Int. J. Robotics Research 33(7), 1006-1028), iterated by Gauss-Newton.

use cloud::held::{Matrix6x6, Motions, SmallMotion, row};
use cloud::named::Datum;
use cloud::{Body, Matrix3, Motion, Point, Scan, Vector, Warning, eigen, statistics};

use crate::RegisterError;
use crate::fit::rigid;
use crate::partners::{COVER, Known, Pair, belong_together, chosen, known, partners};

/// A motion is held by a step where its eigenvalue is more than this share of the largest: an arm of a thousandth.
const LEAST_HELD: f64 = 1e-6;
/// The setting has settled when a step moves nothing farther than this, mm at the rms radius.
const SETTLED_MM: f64 = 1e-9;
/// It settles in three or four steps; a set that does not in so many has no answer.
const MOST_STEPS: usize = 60;
/// Coordinates far from the origin are rounded; a step under this after the last is still settled, mm.
const NEARLY_SETTLED_MM: f64 = 1e-6;
/// What a point is taken to be known to where no ± is declared and nothing is left over to show it, mm (1/64 in: what a
/// pin repeats to).
pub(crate) const USUAL_PM_MM: f64 = 25.4 / 64.0;
/// A stop may be touched anywhere along what it does not hold: so many times as far off as other points.
const FAR_ALONG: f64 = 4.0;
/// Points on a line: the narrower extent is under this share of the longer, as a square.
const ON_A_LINE: f64 = 1e-6;

/// A point after a setting in order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderedResidual {
    /// Its name.
    pub name: String,
    /// Where it is in the reference, mm.
    pub at_mm: Point,
    /// Its order, 1 to 3; `None` where it has none, and then it took no part.
    pub order: Option<u8>,
    /// How far off it is along the directions that it holds, mm; of a point that took no part, along all.
    pub residual_mm: f64,
    /// Measured less reference after the setting, along all three axes, mm.
    pub off_mm: Vector,
    /// Whether it took part.
    pub used: bool,
}

/// A setting by points in order.
#[derive(Debug, Clone)]
pub struct OrderFit {
    /// The motion reference ← measured. Motions that nothing holds are as the closed-form fit of all points has them.
    pub reference_from_measured: Motion<Scan, Body>,
    /// Every point that both sets have, in the reference's order.
    pub points: Vec<OrderedResidual>,
    /// Of the residuals of the points that took part, mm.
    pub rms_mm: f64,
    /// What holds it. The covariance is that of the setting in order, which is a little larger than that of a common fit.
    pub motions: Motions,
    /// Directions that are held more than there are motions held; none with three, two and one. Then nothing is left over
    /// to show the spread.
    pub freedoms: usize,
    /// Whether the spread is the declared one (or the usual one, which is warned of), so that the ± need not be widened
    /// for few freedoms.
    pub spread_is_declared: bool,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

/// What a point does in the setting.
#[derive(Debug, Clone, Copy)]
struct Part {
    order: u8,
    /// Along X, Y and Z.
    holds: [bool; 3],
}

/// The part of a pair; what the reference's table says goes before the measured's. A pad of order 1 holds up, one of order
/// 2 across, one of order 3 fore and aft, unless it is said otherwise.
fn part((reference, measured): &Pair) -> Option<Part> {
    let order = reference.order.or(measured.order)?;
    let usual = match order {
        1 => [false, false, true],
        2 => [false, true, false],
        3 => [true, false, false],
        _ => return None,
    };
    let holds = reference.holds.or(measured.holds).unwrap_or(usual);
    holds.contains(&true).then_some(Part { order, holds })
}

/// One direction that a point holds.
struct Hold {
    /// Index of its pair.
    pair: usize,
    /// Unit vector along the body's axis.
    axis: Vector,
    order: u8,
    /// σ₀/σ: what an offset along it counts.
    weight: f64,
}

/// Sets the measured points on the reference's in the order that they are given.
///
/// A pair's weight within its order is 1/(±² of the one + ±² of the other), as in [`crate::named::set_by_names`]; between
/// orders no weight counts. Points that have no order take no part. No point is left out as bad: a setting in order has
/// few to spare, and all residuals are handed back.
///
/// # Errors
/// Where fewer than three points of order 1 hold one common direction, or those lie on a line as seen along it; where the
/// points of the two sets don't belong together.
pub fn set_in_order(reference: &[Datum], measured: &[Datum]) -> Result<OrderFit, RegisterError> {
    let (pairs, mut warnings) = partners(reference, measured);
    let parts: Vec<Option<Part>> = pairs.iter().map(part).collect();
    warnings.extend(doubts(&pairs, &parts));
    first_order_holds(&pairs, &parts)?;
    let used: Vec<bool> = parts.iter().map(Option::is_some).collect();
    let from: Vec<Point> = pairs.iter().map(|(_, m)| m.point.at_mm).collect();
    let to: Vec<Point> = pairs.iter().map(|(r, _)| r.point.at_mm).collect();
    let known = known(&chosen(&pairs, &used));
    let (holds, middle) = holds(&parts, &known);
    let held_to = chosen(&to, &used);
    let start = rigid::<Scan, Body>(&chosen(&from, &used), &held_to, None)?;
    belong_together(&pairs, &held_to, start.rms_mm, FAR_ALONG)?;
    let Some((motion, solved)) = settled(&holds, &from, &to, start.motion) else {
        return Err(RegisterError::PointsDisagree {
            rms_mm: start.rms_mm,
            hint: "check the names and the order".to_string(),
        });
    };
    let points: Vec<OrderedResidual> = pairs
        .iter()
        .zip(&parts)
        .map(|((r, m), part)| {
            let off_mm = motion.apply(&m.point.at_mm) - r.point.at_mm;
            let counts = part.map_or([true; 3], |p| p.holds);
            let along = off_mm.iter().zip(counts).map(|(o, c)| if c { *o } else { 0.0 });
            OrderedResidual {
                name: r.point.name.clone(),
                at_mm: r.point.at_mm,
                order: r.order.or(m.order),
                residual_mm: along.map(|o| o * o).sum::<f64>().sqrt(),
                off_mm,
                used: part.is_some(),
            }
        })
        .collect();
    let took_part = points.iter().filter(|p| p.used);
    let rms_mm = statistics::rms(&took_part.map(|p| p.residual_mm).collect::<Vec<_>>());
    belong_together(&pairs, &held_to, rms_mm, 1.0)?;
    let freedoms = holds.len().saturating_sub(solved.held);
    let square: f64 = holds
        .iter()
        .map(|h| (points[h.pair].off_mm.dot(&h.axis) * h.weight / middle).powi(2))
        .sum();
    let shown = (square / freedoms.max(1) as f64).sqrt();
    let times = match (known.declared, freedoms) {
        // Where the ± of the points is known, what is left over is the part's own shape (a rocked shell does not lie on
        // four pads): the setting shares it out by definition, and is no less sure for it.
        (true, _) => {
            if freedoms > 0 && shown > COVER {
                warnings.push(Warning::new(
                    "datums-apart",
                    format!(
                        "the points that the part is set by lie {rms_mm:.1} mm in the mean otherwise to each other than on the reference, more than their ±: the part is out of shape there, and setting it by them shares that among them"
                    ),
                ));
            }
            1.0
        }
        (false, 0) => {
            warnings.push(Warning::new(
                "pm-not-declared",
                "the points hold the set with nothing to spare, so that their own spread can't show; each is taken as good to 1/64 in (give a column pm, its ±, to say otherwise)",
            ));
            USUAL_PM_MM / COVER
        }
        (false, _) => shown,
    };
    Ok(OrderFit {
        reference_from_measured: motion,
        points,
        rms_mm,
        motions: solved.motions(times * middle),
        freedoms,
        spread_is_declared: freedoms == 0 || known.declared,
        warnings,
    })
}

/// What the tables leave open or say twice.
fn doubts(pairs: &[Pair], parts: &[Option<Part>]) -> Vec<Warning> {
    let names = |of: &dyn Fn(&Pair, &Option<Part>) -> bool| -> Vec<&str> {
        let both = pairs.iter().zip(parts);
        both.filter(|(pair, part)| of(pair, part))
            .map(|((r, _), _)| r.point.name.as_str())
            .collect()
    };
    let without = names(&|_, part| part.is_none());
    let twice = names(&|(r, m), _| {
        let order = r.order.is_some() && m.order.is_some() && r.order != m.order;
        order || (r.holds.is_some() && m.holds.is_some() && r.holds != m.holds)
    });
    let mut doubts = Vec::new();
    if !without.is_empty() {
        doubts.push(Warning::new(
            "point-without-order",
            format!("{} took no part: no order is given", without.join(", ")),
        ));
    }
    if !twice.is_empty() {
        doubts.push(Warning::new(
            "order-differs",
            format!(
                "the two tables give {} another order or other directions; the reference's was taken",
                twice.join(", ")
            ),
        ));
    }
    doubts
}

/// Refuses what does not begin with a plane: three points of order 1 that hold one direction (up, as a rule) and don't
/// lie on one line as seen along it.
fn first_order_holds(pairs: &[Pair], parts: &[Option<Part>]) -> Result<(), RegisterError> {
    let mut most = 0;
    for (axis, across) in [(2, Vector::z()), (1, Vector::y()), (0, Vector::x())] {
        let at: Vec<Vector> = pairs
            .iter()
            .zip(parts)
            .filter(|(_, part)| part.is_some_and(|p| p.order == 1 && p.holds[axis]))
            .map(|((r, _), _)| r.point.at_mm.coords)
            .map(|at| at - across * across.dot(&at))
            .collect();
        most = most.max(at.len());
        let middle = at.iter().sum::<Vector>() / at.len().max(1) as f64;
        let scatter: Matrix3 = at.iter().map(|p| (p - middle) * (p - middle).transpose()).sum();
        let [_, narrow, wide] = eigen::eigenvalues(&scatter);
        if at.len() >= 3 && narrow > ON_A_LINE * wide {
            return Ok(());
        }
    }
    if most >= 3 {
        return Err(RegisterError::OnALine);
    }
    Err(RegisterError::TooFew {
        what: "points of order 1 that hold the same direction",
        found: most,
        needed: 3,
    })
}

/// The directions that are held, with weights that are 1 in the mean, and σ₀, the σ of one of weight 1.
fn holds(parts: &[Option<Part>], known: &Known) -> (Vec<Hold>, f64) {
    let axes = [Vector::x(), Vector::y(), Vector::z()];
    let taking_part = parts.iter().enumerate().filter_map(|(i, p)| Some((i, (*p)?)));
    let mut holds: Vec<Hold> = taking_part
        .zip(&known.sigmas)
        .flat_map(|((pair, part), sigma)| {
            let held = axes.into_iter().zip(part.holds).filter(|(_, held)| *held);
            held.map(move |(axis, _)| Hold {
                pair,
                axis,
                order: part.order,
                weight: 1.0 / sigma,
            })
        })
        .collect();
    let mean = holds.iter().map(|h| h.weight * h.weight).sum::<f64>() / holds.len().max(1) as f64;
    let middle = mean.powf(-0.5);
    for hold in &mut holds {
        hold.weight *= middle;
    }
    (holds, middle)
}

/// One Gauss-Newton step: the small motion, and what it says of the setting. Turns count at the rms radius, so that all
/// six motions are alike.
struct Solved {
    /// Turn (mm at the radius), then shift (mm).
    step: SmallMotion,
    /// Covariance of the six for offsets of variance 1.
    covariance: Matrix6x6,
    /// The projector on what nothing holds.
    free: Matrix6x6,
    /// Number of motions that are held.
    held: usize,
    /// What all directions together hold: for the centre and the radius.
    common: Motions,
}

/// Solves order after order, each by what those before leave free.
fn solved(holds: &[Hold], moved: &[Point], to: &[Point]) -> Solved {
    let places: Vec<Point> = holds.iter().map(|h| moved[h.pair]).collect();
    let axes: Vec<Vector> = holds.iter().map(|h| h.axis * h.weight).collect();
    let common = Motions::of(&places, &axes, 1.0);
    let mut step = SmallMotion::zeros();
    let mut covariance = Matrix6x6::zeros();
    let mut free = Matrix6x6::identity();
    let mut held = 0;
    for order in 1..=3 {
        let mut normal = Matrix6x6::zeros();
        let mut pull = SmallMotion::zeros();
        for (hold, (place, axis)) in holds.iter().zip(places.iter().zip(&axes)) {
            if hold.order == order {
                let along = row(&((place - common.centre_mm) / common.radius_mm), axis);
                let off = (place - to[hold.pair]).dot(axis);
                normal += along * along.transpose();
                pull -= along * (off + along.dot(&step));
            }
        }
        let floor = LEAST_HELD * normal.symmetric_eigen().eigenvalues.max();
        let left = free * normal * free;
        let eigen = ((left + left.transpose()) / 2.0).symmetric_eigen();
        let (mut inverse, mut taken) = (Matrix6x6::zeros(), Matrix6x6::zeros());
        for k in 0..6 {
            let value = eigen.eigenvalues[k];
            if value > floor {
                let v = eigen.eigenvectors.column(k).into_owned();
                inverse += v * v.transpose() / value;
                taken += v * v.transpose();
                held += 1;
            }
        }
        step += inverse * pull;
        // The step is linear in the offsets: those before come through what this order leaves of them.
        let kept = Matrix6x6::identity() - inverse * normal;
        covariance = kept * covariance * kept.transpose() + inverse;
        free -= taken;
    }
    Solved {
        step,
        covariance,
        free,
        held,
        common,
    }
}

/// Steps from `motion` until nothing moves; `None` where it does not settle.
fn settled(
    holds: &[Hold],
    from: &[Point],
    to: &[Point],
    mut motion: Motion<Scan, Body>,
) -> Option<(Motion<Scan, Body>, Solved)> {
    let mut last = None;
    for _ in 0..MOST_STEPS {
        let moved: Vec<Point> = from.iter().map(|p| motion.apply(p)).collect();
        let solved = solved(holds, &moved, to);
        let (turn, shift) = (solved.step.fixed_rows::<3>(0), solved.step.fixed_rows::<3>(3));
        let step: Motion<Body, Body> = Motion::turn_about(
            turn / solved.common.radius_mm,
            solved.common.centre_mm,
            shift.into_owned(),
        );
        motion = motion.then(&step).tidied();
        let size_mm = solved.step.norm();
        last = Some(solved);
        if size_mm <= SETTLED_MM {
            break;
        }
    }
    last.filter(|solved| solved.step.norm() <= NEARLY_SETTLED_MM)
        .map(|solved| (motion, solved))
}

impl Solved {
    /// What holds the setting when an offset of weight 1 has the standard deviation `sigma_mm`: the information whose
    /// inverse is the covariance of the setting in order, and nothing along what is free.
    fn motions(self, sigma_mm: f64) -> Motions {
        let mut motions = self.common;
        motions.sigma_mm = sigma_mm;
        let most = self.covariance.diagonal().max();
        if let Some(whole) = (self.covariance + self.free * most).try_inverse() {
            let information = whole - self.free / most;
            let mut to_radians = Matrix6x6::identity();
            for k in 0..3 {
                to_radians[(k, k)] = motions.radius_mm;
            }
            motions.information = to_radians * ((information + information.transpose()) / 2.0) * to_radians;
        }
        motions.of_named()
    }
}

#[cfg(test)]
mod tests;
