//! Edges of a bar that is bent: it is straightened, and they come home with it; they are neither short nor long.

use ::features::edge::{EdgeResult, Stretch};
use ::features::shift::Shift;
use cloud::Vector;

use super::brought::Then;
use super::part::Part;

/// An edge that faces along its bar by more than this (the cosine) is an end of it, which no straightening moves.
const ALONG: f64 = 0.7;

/// What comes of a stretch of an edge that is out when the bar that it is of is straightened, and the region of the bar; `None`
/// where it is of no bent bar, or at an end of one.
pub(super) fn after_straightening<'a>(
    part: Part<'a>,
    edge: &EdgeResult,
    stretch: &Stretch,
) -> Option<(Then, &'a str)> {
    let name = edge.region.as_ref()?;
    let check = part.found.bent_by(name)?;
    let mut regions = part.compared.regions.iter().zip(&part.found.shifts);
    let (result, shift) = regions.find(|(result, _)| result.region.name == *name)?;
    let bows = check
        .details
        .iter()
        .filter(|detail| detail.what.starts_with("bow "));
    let bow = bows.max_by(|a, b| a.value.abs().total_cmp(&b.value.abs()))?;
    let bent = Bent {
        along: result.region.bounds.size().imax(),
        shift: shift.as_ref(),
        bow_mm: bow.value.abs(),
        pm_mm: bow.pm.unwrap_or(0.0),
    };
    Some((bent.does_to(edge, stretch)?, result.region.name.as_str()))
}

/// A bar that is bent.
struct Bent<'a> {
    /// The axis along which it lies.
    along: usize,
    /// How it has moved as a whole.
    shift: Option<&'a Shift>,
    /// How far it is bowed, and the ± of that, mm.
    bow_mm: f64,
    pm_mm: f64,
}

impl Bent<'_> {
    /// What is off by no more than the move and the bow comes home.
    fn does_to(&self, edge: &EdgeResult, stretch: &Stretch) -> Option<Then> {
        let runs = || stretch.runs.iter().filter_map(move |&k| edge.runs.get(k));
        let outward = runs()
            .map(|run| run.outward)
            .sum::<Vector>()
            .try_normalize(1e-9)?;
        if outward[self.along].abs() > ALONG {
            return None;
        }
        // Metal that has moved the way in which it ends reads as long.
        let longer_mm = self.shift.map_or(0.0, |shift| {
            let each = runs().map(|run| shift.at(&run.middle).dot(&run.outward));
            each.sum::<f64>() / runs().count() as f64
        });
        let left_mm = stretch.short_mm + longer_mm;
        let bent = left_mm.abs() <= self.bow_mm + stretch.pm_mm.hypot(self.pm_mm);
        Some(if bent { Then::Home } else { Then::Moves })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use ::compare::Verdict;
    use ::features::edge::{Run, Seen};
    use cloud::Point;

    /// A stretch of an edge of a bar that lies across, facing as `outward` says.
    fn edge(outward: Vector, short_mm: f64) -> (EdgeResult, Stretch) {
        let at = |y: f64| Point::new(0.0, y, -16.0);
        let run = Run {
            from: at(200.0),
            to: at(225.0),
            middle: at(212.5),
            outward,
            normal: Vector::x(),
            seen: Seen::NotSeen,
        };
        let stretch = Stretch {
            runs: vec![0],
            from: at(200.0),
            to: at(225.0),
            length_mm: 25.0,
            short_mm,
            pm_mm: 0.2,
            height_mm: None,
            verdict: Verdict::Outside,
            words: "3/32 short over 1".to_string(),
        };
        let edge = made::edge("bottom edge", Some("bar"), vec![run], vec![stretch.clone()]);
        (edge, stretch)
    }

    #[test]
    fn the_edges_of_a_bowed_bar_come_home_when_it_is_straightened() {
        let shift = Shift {
            translation_mm: Vector::z() * 2.0,
            rotation: Vector::zeros(),
            about: Point::origin(),
            unheld: Vec::new(),
            explained: 0.8,
            pm_mm: 0.1,
            pads: Vec::new(),
            spots: Vec::new(),
            shape: None,
            words: String::new(),
        };
        let bar = Bent {
            along: 1,
            shift: Some(&shift),
            bow_mm: 3.0,
            pm_mm: 0.1,
        };
        let does = |outward: Vector, short_mm: f64| {
            let (edge, stretch) = edge(outward, short_mm);
            bar.does_to(&edge, &stretch)
        };
        // Bowed up by 3, in the mean by 2: its lower edge reads short by up to as much, its upper one long.
        assert_eq!(does(-Vector::z(), 2.4), Some(Then::Home));
        assert_eq!(does(-Vector::z(), 3.0), Some(Then::Home));
        assert_eq!(does(Vector::z(), -2.4), Some(Then::Home));
        // Cut short as well, by more than the bow tells.
        assert_eq!(does(-Vector::z(), 9.0), Some(Then::Moves));
        // Its end is where it was.
        assert_eq!(does(Vector::y(), 2.4), None);
    }
}
