//! Outlines grown until they fit the rim: circles, slots, and windows with corners, which are told apart by how much more
//! room the one takes than the other.

use std::f64::consts::PI;

use cloud::Frame;
use nalgebra::Vector2;

use super::LARGEST_MM;
use super::outline::Outline;
use super::sheet::{Metal, Plane};
use super::size::Scatter;

/// Directions in which a slot is looked for, over half a turn.
const DIRECTIONS: u32 = 36;
/// A slot is first looked for this much narrower than the circle that stands in it, so that it may lean a little.
const NARROWER: f64 = 0.9;
/// Times that a slot is grown on from where it came to its bound.
const AGAIN: usize = 3;
/// Rounds of growing at most; fifty are usual.
const MOST_ROUNDS: usize = 400;
/// The finest step, as a share of the blur.
const FINEST: f64 = 0.01;
/// Least radius of a corner, as a share of the outline's half width: sharper ones are as good as this.
const SHARPEST: f64 = 0.1;

/// What an outline may become.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A circle.
    Round,
    /// A slot.
    Slot,
    /// A window with corners.
    Cornered,
}

/// The likeliest outline of a form, grown from `start` and nowhere more than `slack_mm` beyond it: by steps in all
/// directions, the best of each round taken, the step halved where none is better.
pub fn grown(
    places: &[Vector2<f64>],
    start: &Outline,
    form: Form,
    slack_mm: f64,
    scatter: &Scatter,
) -> Outline {
    let blur = scatter.blur_mm();
    let near = near_to(places, start, 2.0 * slack_mm + 7.0 * blur);
    let allowed = |o: &Outline| {
        o.half[0] >= 0.0
            && o.half[1] >= 0.0
            && o.radius > SHARPEST * o.half_width().min(o.half_length())
            && o.half_length() < start.half_length() + slack_mm
            && o.half_width() < start.half_width() + slack_mm
            && (o.centre - start.centre).norm() < slack_mm
    };
    let mut best = (scatter.log_weight(&near, start, blur), *start);
    let mut step = slack_mm / 2.0;
    for _ in 0..MOST_ROUNDS {
        if step < FINEST * blur {
            break;
        }
        let next = changed(&best.1, form, step)
            .into_iter()
            .filter(allowed)
            .map(|o| (scatter.log_weight(&near, &o, blur), o))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        match next {
            Some(next) if next.0 > best.0 + 1e-9 => best = next,
            _ => step /= 2.0,
        }
    }
    best.1
}

/// The outline changed by one step in each way that its form leaves.
fn changed(from: &Outline, form: Form, step: f64) -> Vec<Outline> {
    let mut changes = Vec::with_capacity(24);
    for k in 0..8 {
        let a = PI * f64::from(k) / 4.0;
        let mut next = *from;
        next.centre += (from.along * a.cos() + from.across() * a.sin()) * step;
        changes.push(next);
    }
    for by in [step, -step] {
        changes.push(from.wider(by));
        if form == Form::Round {
            continue;
        }
        changes.push(from.turned(by / from.half_length()));
        // Both ends, one of them, the other; and both with the sides drawn in.
        for (ahead, wider) in [(0.0, 0.0), (0.5, 0.0), (-0.5, 0.0), (0.0, -1.0)] {
            let mut next = from.wider(wider * by);
            next.half[0] += if ahead == 0.0 { by } else { by / 2.0 };
            next.centre += from.along * (ahead * step);
            changes.push(next);
        }
        if form == Form::Cornered {
            for wider in [0.0, -1.0] {
                let mut next = from.wider(wider * by);
                next.half[1] += by;
                changes.push(next);
            }
        }
    }
    changes
}

/// The slot in which a circle stands, with the places of the sheet around it. `None` where it has no end within reach.
pub fn slot_about<F: Frame>(
    metal: &Metal<'_, F>,
    plane: &Plane,
    round: &Outline,
    scatter: &Scatter,
) -> Option<(Outline, Vec<Vector2<f64>>)> {
    let spacing = metal.surface.spacing_mm;
    let mut reach = 4.0 * round.radius + 8.0 * spacing;
    loop {
        let places = metal.places(plane, &round.centre, reach);
        let slot = grown_slot(&places, round, reach, scatter)?;
        let end = (slot.centre - round.centre).norm() + slot.half_length();
        if end + 5.0 * spacing < reach {
            return (slot.half_length() <= LARGEST_MM).then_some((slot, places));
        }
        // What reaches to where nothing was looked at yet may go on there.
        reach = (end + 8.0 * spacing).max(1.5 * reach);
        if reach > 5.0 * LARGEST_MM {
            return None;
        }
    }
}

fn grown_slot(places: &[Vector2<f64>], round: &Outline, reach_mm: f64, scatter: &Scatter) -> Option<Outline> {
    let mut slot = longest(places, round, reach_mm);
    if slot.half_length() > LARGEST_MM + scatter.spacing_mm {
        return None;
    }
    let slack = 2.0 * scatter.spacing_mm + 0.2 * round.radius;
    for _ in 0..AGAIN {
        let next = grown(places, &slot, Form::Slot, slack, scatter);
        let by = (next.centre - slot.centre).norm() + (next.half[0] - slot.half[0]).abs();
        slot = next;
        if by < scatter.spacing_mm {
            break;
        }
    }
    Some(slot)
}

/// The largest empty slot, a little narrower than the circle, in one of many directions through the circle's middle.
fn longest(places: &[Vector2<f64>], round: &Outline, reach_mm: f64) -> Outline {
    let width = NARROWER * round.radius;
    let mut best = Outline::round(round.centre, width);
    for k in 0..DIRECTIONS {
        let a = PI * f64::from(k) / f64::from(DIRECTIONS);
        let along = Vector2::new(a.cos(), a.sin());
        // How far the half circle can be pushed ahead and back until it meets a point.
        let (mut ahead, mut back) = (reach_mm, reach_mm);
        for place in places {
            let d = place - round.centre;
            let (x, y) = (d.dot(&along), along.perp(&d));
            if y.abs() < width {
                let cap = (width * width - y * y).sqrt();
                if x > 0.0 {
                    ahead = ahead.min(x - cap);
                } else {
                    back = back.min(-x - cap);
                }
            }
        }
        let (ahead, back) = (ahead.max(0.0), back.max(0.0));
        let found = Outline {
            centre: round.centre + along * ((ahead - back) / 2.0),
            along,
            half: [(ahead + back) / 2.0, 0.0],
            radius: width,
        };
        if found.area() > best.area() {
            best = found;
        }
    }
    best
}

/// The likeliest window with corners where a circle or a slot was found.
pub fn cornered(places: &[Vector2<f64>], from: &Outline, scatter: &Scatter) -> Outline {
    let turns = if from.half[0] < scatter.spacing_mm { 4 } else { 1 };
    let core = 0.6 * from.radius;
    let mut best = (f64::NEG_INFINITY, *from);
    for k in 0..turns {
        let mut start = from.turned(PI / 8.0 * f64::from(k)).wider(-core);
        start.half[0] += core;
        start.half[1] += core;
        let found = grown(places, &start, Form::Cornered, 2.0 * scatter.spacing_mm, scatter);
        let weight = scatter.log_weight(places, &found, scatter.blur_mm());
        if weight > best.0 {
            best = (weight, found);
        }
    }
    best.1
}

fn near_to(places: &[Vector2<f64>], outline: &Outline, within_mm: f64) -> Vec<Vector2<f64>> {
    places
        .iter()
        .filter(|p| outline.off(p) < within_mm)
        .copied()
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::{off_slot, places};

    const SCATTER: Scatter = Scatter {
        density: 1.0,
        spacing_mm: 1.0,
        noise_mm: 0.05,
    };

    #[test]
    fn a_slot_is_grown_from_a_circle_in_it_and_a_circle_gains_nothing_by_it() {
        for seed in 0..4 {
            let slot = places(|x, y| off_slot(x, y, 30.0, 12.0) > 0.0, seed);
            // A circle that stands off the middle of the slot.
            let round = Outline::round(
                Vector2::new(50.0 + 4.0 * 0.5f64.cos(), 40.0 + 4.0 * 0.5f64.sin()),
                5.9,
            );
            let found = grown_slot(&slot, &round, 40.0, &SCATTER).unwrap();
            assert!((found.half_length() - 15.0).abs() < 0.6, "{found:?}");
            assert!((found.radius - 6.0).abs() < 0.3, "{found:?}");
            assert!(
                (found.centre - Vector2::new(50.0, 40.0)).norm() < 0.6,
                "{found:?}"
            );
            let hole = places(|x, y| (x - 50.0).hypot(y - 40.0) > 6.0, seed);
            let round = grown(
                &hole,
                &Outline::round(Vector2::new(50.3, 39.8), 5.5),
                Form::Round,
                2.0,
                &SCATTER,
            );
            assert!((round.radius - 6.0).abs() < 0.25, "{round:?}");
            let longer = grown_slot(&hole, &round, 40.0, &SCATTER).unwrap();
            let weight = |o: &Outline| SCATTER.log_weight(&hole, o, SCATTER.blur_mm());
            assert!(weight(&longer) < weight(&round) + 10.0, "{longer:?}");
        }
    }

    #[test]
    fn a_square_takes_more_room_than_the_circle_in_it() {
        for seed in 0..4 {
            let square = places(|x, y| (x - 50.0).abs() > 6.0 || (y - 40.0).abs() > 6.0, seed);
            let start = Outline::round(Vector2::new(50.0, 40.0), 5.8);
            let round = grown(&square, &start, Form::Round, 2.0, &SCATTER);
            let window = cornered(&square, &round, &SCATTER);
            let weight = |o: &Outline| SCATTER.log_weight(&square, o, SCATTER.blur_mm());
            assert!(weight(&window) > weight(&round) + 10.0, "{window:?}");
        }
    }
}
