//! Which move a region is said to have made: one that brings most of what is off home, or none.

use super::HOME_MM;
use crate::rigid_part::{Fit, Seen, robust_fits};

/// A move that explains less of what is off than this share is none: what is off is the region's shape.
const CARRIES: f64 = 0.5;
/// By squares alone it must explain more than this share with the bounded loss.
const FEW: f64 = 0.25;
/// A move shows where more than this share of it is along the normal, and what is left by less than that share of it is as good as
/// home where it does.
const SHOWS: f64 = 0.25;
const NOT_QUITE: f64 = 0.25;
/// So much must be explained there (a bar that was put in 5/16 rearward, of what faces up: 0.2; a panel with one corner pulled up: 0.09).
const THERE: f64 = 0.15;
/// Another fit is taken where it leaves less than this share of what the first leaves on the seating line …
const BETTER: f64 = 0.8;
/// … and explains no less of the whole, but for so much.
const AS_MUCH: f64 = 0.1;

/// The move of a region and the share of what is off that it explains; one that stays where it is where that is too little.
///
/// A share of squares alone would deny the move of a panel with a deep dent, and grant one to a panel of which only a corner is
/// pulled up. So each place is also counted no more than a 32nd (a bounded loss: Huber 1981, Robust Statistics, from memory),
/// over the whole `seen` and over its seating line `seats`.
pub(super) fn chosen(seats: &[Seen], seen: &[Seen]) -> Option<(Fit, f64)> {
    let mut fits = robust_fits(seats).into_iter();
    let mut best = fits.next()?;
    for other in fits {
        let (now, then) = (left_mm2(seats, &best, HOME_MM), left_mm2(seats, &other, HOME_MM));
        let as_much =
            explained(seen, &other, f64::INFINITY) + AS_MUCH > explained(seen, &best, f64::INFINITY);
        if then < BETTER * now && as_much {
            best = other;
        }
    }
    let share = explained(seen, &best, f64::INFINITY);
    let bounded = [seen, seats].map(|places| explained(places, &best, HOME_MM));
    if !carries(share, bounded) && !carries_what_shows(share, seen, &best) {
        return Some((best.stays(seats), 0.0));
    }
    Some((best, share))
}

/// Whether a move that explains this share of the squares, and this much with the bounded loss of the whole and of its seating
/// line, is one.
fn carries(share: f64, [whole, seats]: [f64; 2]) -> bool {
    let by_whole = whole >= CARRIES;
    // Where the seating line is home with it and the whole is none the better, something by the edge is off.
    let by_seats = seats >= CARRIES && whole > 0.0 && share > 0.0;
    let by_squares = share >= CARRIES && whole.max(seats) > FEW;
    by_whole || by_seats || by_squares
}

/// Whether a move that explains this share of the squares also brings metal home on which it shows: that a bar has slid
/// square to its walls shows on those alone, and its wide top, where it does not, says nothing. Places at bends never come quite
/// home after a move by much, and what is left by a quarter of it is as good as home.
fn carries_what_shows(share: f64, seen: &[Seen], fit: &Fit) -> bool {
    let shows = |s: &&Seen| s.normal.dot(&fit.at(&s.at)).abs() > SHOWS * fit.at(&s.at).norm();
    let there: Vec<Seen> = seen.iter().filter(shows).copied().collect();
    let most_mm = HOME_MM.max(NOT_QUITE * fit.translation_mm.norm());
    share >= CARRIES && explained(&there, fit, most_mm) >= THERE
}

/// What a move leaves over, squared and summed, each place counted no more than `most_mm`.
fn left_mm2(places: &[Seen], fit: &Fit, most_mm: f64) -> f64 {
    let left = places
        .iter()
        .map(|s| (s.mm - s.normal.dot(&fit.at(&s.at))).abs().min(most_mm));
    left.map(|mm| mm * mm).sum()
}

/// The share of what is off that a move explains, 0 to 1, each place counted no more than `most_mm`.
fn explained(places: &[Seen], fit: &Fit, most_mm: f64) -> f64 {
    let all: f64 = places.iter().map(|s| s.mm.abs().min(most_mm).powi(2)).sum();
    if all > 0.0 {
        (1.0 - left_mm2(places, fit, most_mm) / all).max(0.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Point, Vector};

    /// A panel of 700 × 400, off as asked, with its rim of half an inch.
    fn panel(off: impl Fn(f64, f64) -> f64) -> (Vec<Seen>, Vec<Seen>) {
        let seen: Vec<Seen> = (0..11_421)
            .map(|i| {
                let (x, y) = (f64::from(i % 141) * 5.0, f64::from(i / 141) * 5.0);
                Seen {
                    at: Point::new(x, y, 0.0),
                    normal: Vector::z(),
                    mm: off(x, y) + 0.05 * (f64::from(i) * 1.7).sin(),
                }
            })
            .collect();
        let on_rim = |s: &&Seen| s.at.x.min(700.0 - s.at.x).min(s.at.y.min(400.0 - s.at.y)) < 12.7;
        let rim = seen.iter().filter(on_rim).copied().collect();
        (rim, seen)
    }

    fn of(off: impl Fn(f64, f64) -> f64) -> (Fit, f64) {
        let (seats, seen) = panel(off);
        chosen(&seats, &seen).unwrap()
    }

    /// Its front edge comes out by 3 over the last 80, and nothing else.
    #[test]
    fn a_panel_that_is_bent_along_one_edge_has_not_moved() {
        let (fit, share) = of(|x, _| 3.0 * (1.0 - x / 80.0).max(0.0));
        assert!(fit.translation_mm.norm() < 0.02 && fit.rotation.norm() < 1e-4);
        assert!(share < 0.1 && fit.pm_mm < 0.05, "{share} {}", fit.pm_mm);
    }

    /// One corner is pulled up by 5, from nothing along the middle: squares would share that out over metal that is home.
    #[test]
    fn a_panel_of_which_one_corner_is_pulled_up_has_not_moved() {
        let (fit, share) = of(|x, y| 5.0 * ((x - 250.0) / 450.0).max(0.0) * ((y - 150.0) / 250.0).max(0.0));
        assert!(fit.translation_mm.norm() < 0.02 && fit.rotation.norm() < 1e-4 && share < 0.1);
    }

    #[test]
    fn a_panel_that_is_bent_along_one_edge_and_lifted_has_moved_by_the_lift() {
        let (fit, share) = of(|x, _| 2.0 + 3.0 * (1.0 - x / 80.0).max(0.0));
        assert!(
            (fit.translation_mm.z - 2.0).abs() < 0.02,
            "{}",
            fit.translation_mm
        );
        assert!(fit.rotation.norm() < 1e-4 && share > 0.7, "{share}");
    }

    /// Of a bar only the metal that faces up is asked: a wide top, and a few places at the bends of its walls.
    #[test]
    fn a_bar_that_slid_square_to_its_walls_has_moved_though_its_top_says_nothing() {
        let seen: Vec<Seen> = (0..3200)
            .map(|i| {
                let (along, t) = (f64::from(i % 100) * 4.5, f64::from(i / 100) / 32.0);
                let scatter = 0.05 * (f64::from(i) * 1.7).sin();
                let (x, normal, mm) = match i % 16 {
                    0 => (-38.0, Vector::new(-0.8, 0.0, 0.6), -6.4),
                    1 => (38.0, Vector::new(0.8, 0.0, 0.6), 6.4),
                    _ => (70.0 * t - 35.0, Vector::z(), 0.8 * (f64::from(i) * 0.7).sin()),
                };
                Seen {
                    at: Point::new(x, along, 0.0),
                    normal,
                    mm: mm + scatter,
                }
            })
            .collect();
        let (fit, share) = chosen(&seen, &seen).unwrap();
        assert!((fit.translation_mm.x - 8.0).abs() < 0.5, "{}", fit.translation_mm);
        assert!(share > 0.7, "{share}");
    }

    #[test]
    fn a_move_must_bring_home_more_than_it_sends_off() {
        // As a whole, by its seating line, and by squares.
        assert!(carries(0.0, [0.8, 1.0]) && carries(0.4, [0.2, 0.9]) && carries(0.8, [0.4, 0.4]));
        // A flange whose bend is off at one end; a floor with one corner pulled up.
        assert!(!carries(0.0, [0.0, 0.85]) && !carries(0.8, [0.09, 0.0]));
    }

    /// A dent leaves more squares than the lift of 2 brings home, and a crown that its rim holds more yet.
    #[test]
    fn what_is_dented_or_crowned_and_lifted_has_moved() {
        let dent = |x: f64, y: f64| {
            if (x - 350.0).hypot(y - 200.0) < 130.0 {
                -10.0
            } else {
                0.0
            }
        };
        let crown =
            |x: f64, y: f64| 5.0 * (1.0 - (x / 350.0 - 1.0).powi(2)) * (1.0 - (y / 200.0 - 1.0).powi(2));
        for shape in [&dent as &dyn Fn(f64, f64) -> f64, &crown] {
            let (fit, _) = of(|x, y| 2.0 + shape(x, y));
            assert!(
                (fit.translation_mm.z - 2.0).abs() < 0.35,
                "{}",
                fit.translation_mm
            );
        }
    }
}
