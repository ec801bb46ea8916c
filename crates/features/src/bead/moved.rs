//! How a bead of one set lies against the same bead of another: moved, swung, its ends long or short.
//!
//! Beads that bend are laid on one another by their sections square to the middle line (Gauss-Newton on the distances across,
//! Tukey's weights), so that an L tells both directions of its move, and a gentle bend only the one across.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::statistics::{median, robust_spread};
use cloud::{Point, Vector};

use super::curved::line::Line;
use super::least::{Row, least_squares};
use super::sheet::Flat;
use super::{Bead, Kind};

/// Ends that have moved alike within this, mm (1/16 in), show that the whole has moved along.
const ALIKE_MM: f64 = 25.4 / 16.0;
/// Rounds in which a bent bead is laid on its like, and the round from which sections that are off lose weight.
const ROUNDS: usize = 12;
const WEIGHED_FROM: usize = 5;
/// What holds a direction still that the sections don't show, as a share of their number.
pub(super) const STILL: f64 = 0.02;
/// How far a middle line goes on beyond its ends, mm.
const ON_MM: f64 = 60.0;
/// Fewest sections.
const FEWEST: usize = 3;

/// How a bead has moved, and what its ends have done beside.
pub(super) struct Moved {
    /// In the sheet, mm.
    pub in_sheet: Vector,
    /// ± of that by the two readings, the way it has moved, mm.
    pub pm_mm: f64,
    /// How far each end lies farther along than it should, mm, where it did not move with the whole and both sets show it.
    pub ends: [Option<f64>; 2],
    /// How far the last end has moved across more than the first, mm.
    pub swung: f64,
}

/// How `measured` lies against `reference`, which runs the same way. `None` where beads that bend can't be laid on one another.
pub(super) fn moved(reference: &Bead, measured: &Bead) -> Option<Moved> {
    let pm_mm = reference.pm_place_mm.hypot(measured.pm_place_mm);
    if reference.kind == Kind::Recess || measured.kind == Kind::Recess {
        let moved = measured.at - reference.at;
        return Some(Moved {
            pm_mm,
            in_sheet: moved - reference.up * moved.dot(&reference.up),
            ends: [None; 2],
            swung: 0.0,
        });
    }
    if reference.middle_line.is_empty() {
        Some(along_and_across(reference, measured, pm_mm))
    } else {
        laid_on(reference, measured, pm_mm)
    }
}

fn along_and_across(reference: &Bead, measured: &Bead, across_pm_mm: f64) -> Moved {
    // Across, it is compared at the middle of what both have; there its own middle line is as straight as it gets.
    let along = |bead: &Bead, k: usize| (bead.ends[k] - reference.at).dot(&reference.along);
    let from = along(reference, 0).max(along(measured, 0));
    let to = along(reference, 1).min(along(measured, 1));
    let off = |at: f64| across_at(measured, reference, at) - across_at(reference, reference, at);
    let across = off(f64::midpoint(from, to));
    let ends = [0, 1].map(|k| {
        let seen = !reference.open[k] && !measured.open[k];
        seen.then(|| along(measured, k) - along(reference, k))
    });
    let [first_pm, last_pm] = ends_pm_mm(reference, measured);
    let along_pm_mm = first_pm.hypot(last_pm) / 2.0;
    let (moved, ends) = match ends {
        [Some(first), Some(last)] if (first - last).abs() < ALIKE_MM => {
            let both = f64::midpoint(first, last);
            (if both.abs() > along_pm_mm { both } else { 0.0 }, [None; 2])
        }
        ends => (0.0, ends),
    };
    // Of a length by its two parts, each with its own ± (JCGM 100, 5.1.2).
    let length = across.hypot(moved);
    let pm_mm = match length > 0.0 {
        true => (across * across_pm_mm).hypot(moved * along_pm_mm) / length,
        false => across_pm_mm,
    };
    Moved {
        in_sheet: reference.across * across + reference.along * moved,
        pm_mm,
        ends,
        swung: off(to) - off(from),
    }
}

/// ± of how far either end lies farther along, mm.
pub(super) fn ends_pm_mm(reference: &Bead, measured: &Bead) -> [f64; 2] {
    [0, 1].map(|k: usize| reference.pm_ends_mm[k].hypot(measured.pm_ends_mm[k]))
}

/// How far across from the reference bead's middle a bead lies at a place along it: on the line between its two nearest
/// sections' places where it bends, else on the line between its ends.
fn across_at(bead: &Bead, reference: &Bead, along: f64) -> f64 {
    let place = |p: &Point| {
        let d = p - reference.at;
        (d.dot(&reference.along), d.dot(&reference.across))
    };
    let places: Vec<(f64, f64)> = if bead.straight || bead.sections.len() < 2 {
        bead.ends.iter().map(place).collect()
    } else {
        bead.sections.iter().map(|s| place(&s.at)).collect()
    };
    let last = places.len() - 1;
    let next = places
        .iter()
        .position(|(s, _)| *s > along)
        .unwrap_or(last)
        .clamp(1, last);
    let (a, b) = (places[next - 1], places[next]);
    a.1 + (b.1 - a.1) * (along - a.0) / (b.0 - a.0).max(f64::MIN_POSITIVE)
}

/// Where a bead of a set has gone to: shifted and turned about a place of the reference's plane.
#[derive(Clone, Copy)]
struct Gone {
    about: Flat,
    shift: Flat,
    turn: f64,
}

impl Gone {
    /// Where a place of the measured bead came from.
    fn back(&self, at: &Flat) -> Flat {
        let d = at - self.about - self.shift;
        let (sin, cos) = self.turn.sin_cos();
        self.about + Flat::new(cos * d.x + sin * d.y, cos * d.y - sin * d.x)
    }
}

fn laid_on(reference: &Bead, measured: &Bead, pm_mm: f64) -> Option<Moved> {
    let flat = |p: &Point| {
        let d = p - reference.at;
        Flat::new(d.dot(&reference.along), d.dot(&reference.across))
    };
    let nodes: Vec<Flat> = reference.middle_line.iter().map(flat).collect();
    let line = Line::through(&nodes, reference.closed, ON_MM)?;
    let sections = |bead: &Bead| bead.sections.iter().map(|s| flat(&s.at)).collect::<Vec<Flat>>();
    let places = where_read(&line, &sections(reference), sections(measured));
    if places.len() < FEWEST {
        return None;
    }
    let about = nodes.iter().sum::<Flat>() / nodes.len() as f64;
    let gone = gone(&line, &places, about)?;
    // A ring turned about its middle looks as it did.
    let swung = if reference.closed {
        0.0
    } else {
        gone.turn * (flat(&reference.ends[1]) - flat(&reference.ends[0])).norm()
    };
    let ends = [0, 1].map(|k| {
        let seen = !reference.open[k] && !measured.open[k];
        let from = if k == 0 { 0 } else { nodes.len() - 2 };
        let way = nodes[from + 1] - nodes[from];
        let off = gone.back(&flat(&measured.ends[k])) - flat(&reference.ends[k]);
        seen.then(|| off.dot(&way) / way.norm().max(f64::MIN_POSITIVE))
    });
    Some(Moved {
        in_sheet: reference.along * gone.shift.x + reference.across * gone.shift.y,
        pm_mm,
        ends,
        swung,
    })
}

/// Those of some places that lie between two sections which the line was read by, or a quarter of their distance beyond the last
/// one: in a corner the line is only as good as the outline. All where that leaves too few.
fn where_read(line: &Line, sections: &[Flat], places: Vec<Flat>) -> Vec<Flat> {
    let ruler = line.ruler();
    let along = |at: &Flat| ruler.laid(at).map(|(along, _)| along);
    let read: Vec<f64> = sections.iter().filter_map(along).collect();
    let mut steps: Vec<f64> = read.windows(2).map(|s| line.apart_mm(s[0], s[1])).collect();
    if steps.is_empty() {
        return places;
    }
    let step_mm = median(&mut steps);
    let is_read = |at: &Flat| {
        let mut ways: Vec<f64> = along(at)
            .into_iter()
            .flat_map(|here| read.iter().map(move |there| line.apart_mm(here, *there)))
            .collect();
        ways.sort_by(f64::total_cmp);
        ways.iter().take(2).sum::<f64>() <= 1.5 * step_mm
    };
    let kept: Vec<Flat> = places.iter().copied().filter(|at| is_read(at)).collect();
    if kept.len() < FEWEST { places } else { kept }
}

/// How places of the measured bead's middle have gone from a line. The third unknown is the turn of an open line, and how much
/// wider a closed one has become, which is told by its own size.
fn gone(line: &Line, places: &[Flat], about: Flat) -> Option<Gone> {
    let ruler = line.ruler();
    let mut gone = Gone {
        about,
        shift: Flat::zeros(),
        turn: 0.0,
    };
    let (mut wider, mut cut) = (0.0, f64::INFINITY);
    let lever = (places.iter().map(|p| (p - about).norm_squared()).sum::<f64>() / places.len() as f64)
        .sqrt()
        .max(1.0);
    for round in 0..ROUNDS {
        let mut rows: Vec<(Row, f64)> = Vec::new();
        for place in places {
            let Some((along, across)) = ruler.laid(&gone.back(place)) else {
                continue;
            };
            let (_, way) = line.at(along);
            let left = Flat::new(-way.y, way.x);
            let d = place - about - gone.shift;
            let off = if line.closed { across - wider } else { across };
            let third = third(&left, &d, lever, line.closed);
            rows.push((Row::from([left.x, left.y, third, 0.0, 0.0]), off));
        }
        let still = STILL * rows.len() as f64;
        let held = (0..3_usize).map(|k| {
            let mut row = Row::zeros();
            row[k] = 1.0;
            (row, 0.0, still)
        });
        let weighted = rows.iter().map(|(row, off)| (*row, *off, bisquare(*off, cut)));
        let step = least_squares(weighted.chain(held))?;
        gone.shift += Flat::new(step[0], step[1]);
        if line.closed {
            wider += step[2];
        } else {
            gone.turn += step[2] / lever;
        }
        if round + 1 >= WEIGHED_FROM {
            let rest: Vec<f64> = rows.iter().map(|(row, off)| off - row.dot(&step)).collect();
            cut = TUKEY * robust_spread(&rest).max(0.05);
        }
    }
    Some(gone)
}

/// What the third unknown does to a place that lies `d` from the middle, `left` across from the line.
pub(super) fn third(left: &Flat, d: &Flat, lever_mm: f64, closed: bool) -> f64 {
    if closed {
        1.0
    } else {
        left.dot(&Flat::new(-d.y, d.x)) / lever_mm
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two legs at a right angle, 150 and 100 mm, in steps of 10 mm.
    fn legs() -> Vec<Flat> {
        (0..=15)
            .map(|k| Flat::new(150.0 - 10.0 * f64::from(k), 0.0))
            .chain((1..=10).map(|k| Flat::new(0.0, 10.0 * f64::from(k))))
            .collect()
    }

    #[test]
    fn an_l_tells_both_directions_and_its_turn() {
        let line = Line::through(&legs(), false, ON_MM).unwrap();
        let about = Flat::new(45.0, 20.0);
        let (sin, cos) = 0.02_f64.sin_cos();
        let shift = Flat::new(3.2, -1.6);
        // Nothing of the corner.
        let places: Vec<Flat> = legs()
            .into_iter()
            .filter(|p| p.norm() > 35.0 && p.x < 145.0 && p.y < 95.0)
            .map(|p| p - about)
            .map(|d| about + shift + Flat::new(cos * d.x - sin * d.y, sin * d.x + cos * d.y))
            .collect();
        let found = gone(&line, &places, about).unwrap();
        assert!((found.shift - shift).norm() < 0.05, "{}", found.shift);
        assert!((found.turn - 0.02).abs() < 0.001, "{}", found.turn);
    }

    #[test]
    fn a_ring_tells_its_move_and_a_straight_line_only_what_is_across() {
        let circle = |radius: f64, middle: Flat| -> Vec<Flat> {
            (0..24)
                .map(|k| std::f64::consts::TAU * f64::from(k) / 24.0)
                .map(|turn| middle + Flat::new(turn.cos(), turn.sin()) * radius)
                .collect()
        };
        let line = Line::through(&circle(50.0, Flat::zeros()), true, 0.0).unwrap();
        let shift = Flat::new(2.0, 4.0);
        let found = gone(&line, &circle(51.5, shift), Flat::zeros()).unwrap();
        assert!((found.shift - shift).norm() < 0.05, "{}", found.shift);
        let nodes: Vec<Flat> = (0..10).map(|k| Flat::new(10.0 * f64::from(k), 0.0)).collect();
        let line = Line::through(&nodes, false, ON_MM).unwrap();
        let places: Vec<Flat> = nodes.iter().map(|p| p + Flat::new(5.0, 1.0)).collect();
        let found = gone(&line, &places, Flat::new(45.0, 0.0)).unwrap();
        assert!(found.shift.x.abs() < 0.01 && (found.shift.y - 1.0).abs() < 0.01);
    }
}
