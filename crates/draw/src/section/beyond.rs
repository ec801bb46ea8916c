//! Parts what no measured line lies beside: metal that is missing, since the measured set ends there, and what was not seen.

use crate::magnified::{Place, finely};

/// A place this near to a line lies on it, mm: only rounding parts them.
const ON_IT_MM: f64 = 0.02;

/// The stretches of the reference beside which the measured set ends, and those that were not seen.
pub(super) struct Parted {
    pub(super) beyond: Vec<Vec<Place>>,
    pub(super) unseen: Vec<Vec<Place>>,
}

/// Parts `stretches`, looked at in steps of `step_mm`, by whether they lie on one of the lines of `beyond`. Parts of a stretch
/// shorter than `least_mm` go unsaid.
pub(super) fn parted(
    stretches: Vec<Vec<Place>>,
    beyond: &[Vec<[f64; 2]>],
    step_mm: f64,
    least_mm: f64,
) -> Parted {
    let mut found = Parted {
        beyond: Vec::new(),
        unseen: Vec::new(),
    };
    for stretch in stretches {
        let places = finely(&stretch, step_mm);
        let steps: Vec<(bool, usize)> = (0..places.len().saturating_sub(1))
            .map(|i| (on_any((places[i] + places[i + 1]) / 2.0, beyond), i))
            .collect();
        let mut runs: Vec<(bool, Vec<Place>)> = steps
            .chunk_by(|a, b| a.0 == b.0)
            .map(|alike| (alike[0].0, places[alike[0].1..=alike[0].1 + alike.len()].to_vec()))
            .collect();
        if runs.len() > 1 {
            runs.retain(|(_, run)| length_mm(run) >= least_mm);
        }
        for (is_beyond, run) in runs {
            if is_beyond {
                found.beyond.push(run);
            } else {
                found.unseen.push(run);
            }
        }
    }
    found
}

fn length_mm(run: &[Place]) -> f64 {
    run.windows(2).map(|ends| (ends[1] - ends[0]).norm()).sum()
}

fn on_any(place: Place, lines: &[Vec<[f64; 2]>]) -> bool {
    let pieces = lines.iter().flat_map(|line| line.windows(2));
    pieces
        .map(|ends| [Place::from(ends[0]), Place::from(ends[1])])
        .any(|[from, to]| {
            let way = to - from;
            let share = ((place - from).dot(&way) / way.norm_squared().max(1e-300)).clamp(0.0, 1.0);
            (from + way * share - place).norm() <= ON_IT_MM
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_beyond_an_edge_is_parted_from_what_was_not_seen() {
        let stretch = vec![Place::new(60.0, 0.0), Place::new(100.0, 0.0)];
        let beyond = [vec![[59.0, 0.0], [72.0, 0.0]]];
        let found = parted(vec![stretch.clone()], &beyond, 0.5, 2.0);
        assert_eq!((found.beyond.len(), found.unseen.len()), (1, 1));
        assert!((length_mm(&found.beyond[0]) - 12.0).abs() < 0.51);
        assert!((length_mm(&found.unseen[0]) - 28.0).abs() < 0.51);
        let nothing = parted(vec![stretch], &[], 0.5, 2.0);
        assert_eq!((nothing.beyond.len(), nothing.unseen.len()), (0, 1));
        assert!((length_mm(&nothing.unseen[0]) - 40.0).abs() < 1e-9);
    }
}
