//! Where the metal of a mesh ends within a run: from the open sides of its faces.

use cloud::statistics::{mean, standard_deviation};

use super::parts::{part_of, remaining};
use super::place::{Place, REACH_MM, Strip};

/// Parts of a run that must each show the edge.
const PARTS: usize = 5;
/// Neighbouring parts whose places differ by more than this, or three steps, make no edge, mm (a sixteenth of an inch).
const JUMP_MM: f64 = 1.6;

/// Reads open sides of faces, each (along the run from its middle, outward, cosine between the side's direction off the
/// metal and the run's), mm. `None` where a part of the run has none, or they don't make one edge.
pub(super) fn of_sides(sides: &[(f64, f64, f64)], strip: &Strip) -> Option<Place> {
    let ends: Vec<Option<Vec<f64>>> = (0..PARTS)
        .map(|k| {
            let part: Vec<(f64, f64)> = sides
                .iter()
                .filter(|(along, ..)| part_of(*along, PARTS, strip.length_mm) == k)
                .map(|(_, out, cosine)| (*out, *cosine))
                .collect();
            end_of_part(&part, strip.spacing_mm)
        })
        .collect();
    let seen: Vec<bool> = ends.iter().map(Option::is_some).collect();
    let (first, last) = remaining(&seen, strip.loose)?;
    let ends: Vec<Vec<f64>> = ends.into_iter().take(last).skip(first).flatten().collect();
    let means: Vec<f64> = ends.iter().map(|end| mean(end)).collect();
    let place = Place {
        mm: mean(&means),
        own_mm2: standard_deviation(&means).powi(2) / means.len() as f64,
        // How rough the sides are within the parts: that much, the rim of a scanner's mesh lies inside of the metal's end.
        shared_mm2: mean(
            &ends
                .iter()
                .map(|end| standard_deviation(end).powi(2))
                .collect::<Vec<_>>(),
        ),
        common_runs: 1.0,
    };
    let jump = (3.0 * strip.spacing_mm).max(JUMP_MM);
    let in_one = means.windows(2).all(|two| (two[1] - two[0]).abs() <= jump);
    (in_one && place.mm.abs() <= REACH_MM).then_some(place)
}

/// The sides of one part, (outward, cosine), at which the outermost metal that begins inside of the reference's edge ends.
fn end_of_part(part: &[(f64, f64)], spacing_mm: f64) -> Option<Vec<f64>> {
    let mut ends: Vec<f64> = part
        .iter()
        .filter(|(_, cosine)| *cosine > 0.5)
        .map(|(out, _)| *out)
        .collect();
    ends.sort_by(|a, b| b.total_cmp(a));
    let begins = |end: f64| {
        let starts = part.iter().filter(|(out, cosine)| *cosine < -0.5 && *out < end);
        starts.map(|(out, _)| *out).fold(f64::NEG_INFINITY, f64::max)
    };
    let outermost = *ends.iter().find(|end| begins(**end) < -spacing_mm)?;
    ends.retain(|end| (outermost - spacing_mm..=outermost).contains(end));
    Some(ends)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn strip(loose: [bool; 2]) -> Strip {
        Strip {
            length_mm: 20.0,
            spacing_mm: 1.0,
            noise_mm: 0.0,
            loose,
        }
    }

    /// Sides 1 mm apart along the run where `keep` says, all at `out`.
    fn sides(out: f64, cosine: f64, keep: impl Fn(f64) -> bool) -> Vec<(f64, f64, f64)> {
        let along = (0..20).map(|i| f64::from(i) - 9.5);
        along.filter(|a| keep(*a)).map(|a| (a, out, cosine)).collect()
    }

    #[test]
    fn the_metal_that_begins_inside_is_read_and_the_next_part_is_not() {
        let mut mesh = sides(-5.5, 1.0, |_| true);
        // A hole farther in, and the next part from 4 mm beyond.
        mesh.extend(sides(-15.0, 1.0, |a| a.abs() < 4.0));
        mesh.extend(sides(-9.0, -1.0, |a| a.abs() < 4.0));
        mesh.extend(sides(4.0, -1.0, |_| true));
        mesh.extend(sides(20.0, 1.0, |_| true));
        let found = of_sides(&mesh, &strip([false; 2])).unwrap();
        assert!((found.mm + 5.5).abs() < 1e-12 && found.own_mm2 + found.shared_mm2 < 1e-20);
    }

    #[test]
    fn an_edge_that_breaks_off_or_jumps_is_not_seen() {
        let half = sides(0.0, 1.0, |a| a > -4.0);
        assert!(of_sides(&half, &strip([false; 2])).is_none());
        assert!(of_sides(&half, &strip([true, false])).is_some());
        let mut jump = sides(0.0, 1.0, |a| a < 1.0);
        jump.extend(sides(-8.0, 1.0, |a| a > 1.0));
        assert!(of_sides(&jump, &strip([false; 2])).is_none());
        assert!(of_sides(&[], &strip([false; 2])).is_none());
    }
}
