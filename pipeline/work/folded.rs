//! A fold in the wrong place and the edge of its flange: folded again elsewhere, the flange's own edge moves with it.
//!
//! The blank stays as long as it is: what the fold gives to the face it takes from the flange. So a fold that is short by as much
//! as its flange's edge is long is one fault, and whoever trimmed the edge first would have it short (common practice, no source).

use ::compare::Verdict;
use ::features::edge::{EdgeResult, Stretch};
use ::features::fold::Fold;
use cloud::{Point, Vector};

use super::List;
use super::brought::Then;
use super::carried::carried_by;
use super::part::Part;
use crate::stages::features::Found;

/// An edge that faces along the fold by more than this (the cosine) is an end of the flange, which no folding moves.
const ALONG: f64 = 0.3;
/// An edge belongs to a stretch of a fold where more than this share of its runs lie beside it, no farther beyond its ends than
/// this, mm (an inch).
const BESIDE: f64 = 0.5;
const BEYOND_MM: f64 = 25.4;

/// A fold, or the stretch of it, that is folded again.
struct Refolded<'a> {
    fold: &'a Fold,
    /// Its line.
    from: Point,
    to: Point,
    short_mm: f64,
    pm_mm: f64,
}

impl List<'_> {
    /// What is folded again, each with the edges that come home with it.
    pub(super) fn folds(&mut self) {
        let part = self.part();
        for fold in folded_again(part) {
            let refolds = refolded(fold);
            for (k, words) in fold.out_in_words().into_iter().enumerate() {
                let home = refolds
                    .get(k)
                    .map_or(Vec::new(), |one| one.brings_home(part.found));
                let with = match home.is_empty() {
                    true => String::new(),
                    false => format!(
                        "; the flange's edge comes home with it and is left as it is ({})",
                        home.join("; ")
                    ),
                };
                self.shop(
                    format!(
                        "{}: fold {words}: looks like a fold in the wrong place, fold it again{with}",
                        fold.name
                    ),
                    format!("folds/{}", fold.name),
                );
            }
        }
    }
}

/// The folds that are out and do not come home with the panel that their flange hangs from.
pub(super) fn folded_again(part: Part<'_>) -> impl Iterator<Item = &Fold> {
    let out = part.found.folds.iter().filter(|f| f.verdict == Verdict::Outside);
    out.filter(move |fold| carried_by(part, &fold.name).is_none())
}

fn edges_out(found: &Found) -> impl Iterator<Item = (&EdgeResult, &Stretch)> {
    let edges = found.edges.iter().filter(|e| e.verdict == Verdict::Outside);
    edges.flat_map(|edge| edge.stretches_out().map(move |stretch| (edge, stretch)))
}

/// What comes of a stretch of an edge when the folds that are out are folded again, and the flange of the fold that it follows;
/// `None` where it follows none.
pub(super) fn after_folding<'a>(
    part: Part<'a>,
    edge: &EdgeResult,
    stretch: &Stretch,
) -> Option<(Then, &'a str)> {
    let mut each = folded_again(part).flat_map(|fold| refolded(fold).into_iter().map(move |one| (one, fold)));
    each.find_map(|(one, fold)| Some((one.does_to(edge, stretch)?, fold.name.as_str())))
}

/// What is folded again of a fold, in the order in which it is told; nothing of one that has no length.
fn refolded(fold: &Fold) -> Vec<Refolded<'_>> {
    let (Some(first), Some(last)) = (fold.runs.first(), fold.runs.last()) else {
        return Vec::new();
    };
    if fold.stretches.len() < 2 {
        return vec![Refolded {
            fold,
            from: first.from,
            to: last.to,
            short_mm: fold.short_mm,
            pm_mm: fold.pm_mm,
        }];
    }
    let out = fold.stretches.iter().filter(|s| s.verdict == Verdict::Outside);
    out.map(|s| Refolded {
        fold,
        from: s.from,
        to: s.to,
        short_mm: s.short_mm,
        pm_mm: s.pm_mm,
    })
    .collect()
}

impl Refolded<'_> {
    /// The edges that come home with it, in words.
    fn brings_home(&self, found: &Found) -> Vec<String> {
        edges_out(found)
            .filter(|(edge, stretch)| self.does_to(edge, stretch) == Some(Then::Home))
            .map(|(edge, stretch)| format!("{}, {}", edge.name, stretch.words))
            .collect()
    }

    /// What folding again does to a stretch of an edge; `None` to one of other metal, or at an end of the flange.
    fn does_to(&self, edge: &EdgeResult, stretch: &Stretch) -> Option<Then> {
        if edge.region.as_ref() != Some(&self.fold.name) {
            return None;
        }
        let line = self.to - self.from;
        let (length_mm, way) = (line.norm(), line.try_normalize(1e-9)?);
        let runs = || stretch.runs.iter().filter_map(move |&k| edge.runs.get(k));
        let outward = runs()
            .map(|run| run.outward)
            .sum::<Vector>()
            .try_normalize(1e-9)?;
        let beside = runs().filter(|run| {
            let along_mm = (run.middle - self.from).dot(&way);
            (-BEYOND_MM..=length_mm + BEYOND_MM).contains(&along_mm)
        });
        if outward.dot(&way).abs() > ALONG || beside.count() as f64 <= BESIDE * runs().count() as f64 {
            return None;
        }
        // What the face gains the flange loses.
        let left_mm = stretch.short_mm + self.short_mm;
        let pm_mm = stretch.pm_mm.hypot(self.pm_mm);
        Some(Then::of(left_mm, stretch.short_mm, pm_mm))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use ::features::edge::{self, Seen};
    use ::features::fold;

    /// A flange 200 long that hangs from a fold at z 0, and short of it by `short_mm`.
    fn flange(short_mm: f64) -> Fold {
        let seen = Seen::Short {
            mm: short_mm,
            pm_mm: 0.1,
        };
        Fold {
            name: "rear flange".to_string(),
            short_mm,
            pm_mm: 0.1,
            runs: vec![fold::Run {
                from: Point::new(0.0, 0.0, -6.0),
                to: Point::new(200.0, 0.0, -6.0),
                seen,
            }],
            stretches: Vec::new(),
            verdict: Verdict::Outside,
            words: "7/32 short".to_string(),
        }
    }

    /// Its edge at the bottom, from one place along it to another, facing as `outward` says.
    fn edge(region: &str, span: [f64; 2], outward: Vector, short_mm: f64) -> (EdgeResult, Stretch) {
        let at = |x: f64| Point::new(x, 0.0, -12.0);
        let (from, to) = (at(span[0]), at(span[1]));
        let run = edge::Run {
            from,
            to,
            middle: at(f64::midpoint(span[0], span[1])),
            outward,
            normal: Vector::y(),
            seen: Seen::NotSeen,
        };
        let stretch = Stretch {
            runs: vec![0],
            from,
            to,
            length_mm: span[1] - span[0],
            short_mm,
            pm_mm: 0.2,
            height_mm: None,
            verdict: Verdict::Outside,
            words: "7/32 long over 8".to_string(),
        };
        (
            made::edge("bottom edge", Some(region), vec![run], vec![stretch.clone()]),
            stretch,
        )
    }

    #[test]
    fn an_edge_that_is_long_by_what_its_fold_is_short_comes_home_with_it() {
        let fold = flange(5.56);
        let does = |(edge, stretch): (EdgeResult, Stretch)| refolded(&fold)[0].does_to(&edge, &stretch);
        let down = -Vector::z();
        assert_eq!(
            does(edge("rear flange", [0.0, 200.0], down, -5.5)),
            Some(Then::Home)
        );
        // Short as well, folding makes it shorter still; home, folding makes it short.
        assert_eq!(
            does(edge("rear flange", [0.0, 200.0], down, 5.5)),
            Some(Then::Moves)
        );
        assert_eq!(
            does(edge("rear flange", [0.0, 200.0], down, -3.0)),
            Some(Then::Moves)
        );
        // Another part's edge, an end of the flange, and what lies beyond it.
        assert_eq!(does(edge("skin", [0.0, 200.0], down, -5.5)), None);
        assert_eq!(does(edge("rear flange", [190.0, 200.0], Vector::x(), -5.5)), None);
        assert_eq!(does(edge("rear flange", [300.0, 400.0], down, -5.5)), None);
        let long = flange(-5.56);
        let (edge, stretch) = edge("rear flange", [0.0, 200.0], down, 5.5);
        assert_eq!(refolded(&long)[0].does_to(&edge, &stretch), Some(Then::Home));
    }

    #[test]
    fn a_wide_plus_minus_explains_no_edge_by_itself() {
        let fold = flange(1.0);
        let (edge, mut stretch) = edge("rear flange", [0.0, 200.0], -Vector::z(), -3.0);
        stretch.pm_mm = 2.0;
        assert_eq!(refolded(&fold)[0].does_to(&edge, &stretch), Some(Then::Moves));
    }
}
