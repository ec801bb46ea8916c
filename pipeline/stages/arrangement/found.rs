//! Free against held, for everything that is read besides the regions: the shell, folds, edges, holes, recesses, beads, checks.

use ::compare::Verdict;
use ::features::{bead, holes};
use cloud::Vector;

use super::{Arrangement, SPRUNG, arrangement, size_deg, size_mm};
use crate::job::Comparison;
use crate::stages::again::{alike_bead, alike_hole, shortness};
use crate::stages::checks::Counted;
use crate::stages::features::{Found, RecessResult};

/// A figure: what it is called, how far it is off as the part lies free, and when it is held, mm.
type Pair<'a> = (&'a str, f64, f64);

/// Adds what holding does to each figure that is out as the part lies free, and judges as held what is home then.
pub(super) fn arrangements(
    comparison: &Comparison,
    free: &mut Found,
    held: &Found,
    list: &mut Vec<Arrangement>,
) {
    shell(comparison, free, held, list);
    folds(comparison, free, held, list);
    edges(comparison, free, held, list);
    pierced(comparison, free, held, list);
    recesses(comparison, free, held, list);
    beads(free, held, list);
    checks(comparison, free, held, list);
}

/// Takes the verdict of the held set where that is home; whether it did.
fn judged_as_held(free: &mut Verdict, held: Verdict) -> bool {
    let sprung = held == Verdict::Within;
    if sprung {
        *free = Verdict::Within;
    }
    sprung
}

fn also_sprung(words: &mut String) {
    words.push_str("; ");
    words.push_str(SPRUNG);
}

fn shell(comparison: &Comparison, free: &mut Found, held: &Found, list: &mut Vec<Arrangement>) {
    let limit_mm = comparison.asked.shell.as_ref().map_or(0.0, |s| s.limit_mm);
    for figure in free.shell.iter_mut().filter(|f| f.verdict == Verdict::Outside) {
        let Some(other) = held.shell.iter().find(|f| f.name == figure.name) else {
            continue;
        };
        list.push(arrangement(
            &figure.name,
            figure.off_mm,
            other.off_mm,
            limit_mm,
            &size_mm,
        ));
        if judged_as_held(&mut figure.verdict, other.verdict) {
            also_sprung(&mut figure.words);
        }
    }
}

fn folds(comparison: &Comparison, free: &mut Found, held: &Found, list: &mut Vec<Arrangement>) {
    for fold in free.folds.iter_mut().filter(|f| f.verdict == Verdict::Outside) {
        let Some(other) = held.folds.iter().find(|f| f.name == fold.name) else {
            continue;
        };
        let region = comparison.regions.iter().find(|r| r.name == fold.name);
        let limit_mm = region.map_or(comparison.limit_mm, |r| r.limit_mm);
        let what = format!("{}: fold", fold.name);
        list.push(arrangement(
            &what,
            fold.short_mm,
            other.short_mm,
            limit_mm,
            &size_mm,
        ));
        if judged_as_held(&mut fold.verdict, other.verdict) {
            also_sprung(&mut fold.words);
            for stretch in &mut fold.stretches {
                stretch.verdict = Verdict::Within;
            }
        }
    }
}

/// Stretch by stretch: the whole of an edge would share out what is off at one end of it.
fn edges(comparison: &Comparison, free: &mut Found, held: &Found, list: &mut Vec<Arrangement>) {
    for edge in free.edges.iter_mut().filter(|e| e.verdict == Verdict::Outside) {
        let Some(other) = held.edges.iter().find(|e| e.name == edge.name) else {
            continue;
        };
        for stretch in &edge.stretches {
            if let Some((short_mm, _)) = shortness(edge, &stretch.runs, other) {
                let what = format!("{}: {}", edge.name, stretch.words);
                let limit_mm = comparison.limit_mm;
                list.push(arrangement(&what, stretch.short_mm, short_mm, limit_mm, &size_mm));
            }
        }
        if judged_as_held(&mut edge.verdict, other.verdict) {
            edge.words.push(SPRUNG.to_string());
        }
    }
}

/// Holes that both sets have: a place may come back when the part is held, a size hardly does.
fn pierced(comparison: &Comparison, free: &mut Found, held: &Found, list: &mut Vec<Arrangement>) {
    let off = |pair: &holes::Pair| {
        let (ours, theirs) = pair.reference.as_ref().zip(pair.measured.as_ref())?;
        Some((theirs.at - ours.at, theirs.diameter_mm - ours.diameter_mm))
    };
    for hole in free.holes.iter_mut().filter(|h| h.verdict == Verdict::Outside) {
        let Some(other) = alike_hole(&hole.pair, &held.holes) else {
            continue;
        };
        let (Some((place, larger_mm)), Some((held_place, held_larger_mm))) =
            (off(&hole.pair), off(&other.pair))
        else {
            continue;
        };
        let (free_mm, held_mm) = along_free(&place, &held_place);
        let figures = [
            ("place", free_mm, held_mm),
            ("diameter", larger_mm, held_larger_mm),
        ];
        out_of(&hole.pair.name, &figures, comparison.limit_mm, list);
        judged_as_held(&mut hole.verdict, other.verdict);
    }
}

fn recesses(comparison: &Comparison, free: &mut Found, held: &Found, list: &mut Vec<Arrangement>) {
    let off = |result: &RecessResult| {
        let (ours, theirs) = (&result.pair.reference, &result.pair.measured);
        [
            theirs.depth_mm - ours.depth_mm,
            theirs.width_mm[0] - ours.width_mm[0],
            theirs.width_mm[1] - ours.width_mm[1],
        ]
    };
    for recess in free.recesses.iter_mut().filter(|r| r.verdict == Verdict::Outside) {
        let name = &recess.pair.name;
        let Some(other) = held.recesses.iter().find(|r| r.pair.name == *name) else {
            continue;
        };
        let asked = comparison.asked.recesses.iter().find(|r| r.name == *name);
        let limit_mm = asked.map_or(comparison.limit_mm, |r| r.limit_mm);
        let (place_mm, held_place_mm) = along_free(&recess.pair.moved, &other.pair.moved);
        let (sizes, held_sizes) = (off(recess), off(other));
        let figures = [
            ("place", place_mm, held_place_mm),
            ("depth", sizes[0], held_sizes[0]),
            ("width", sizes[1], held_sizes[1]),
            ("other width", sizes[2], held_sizes[2]),
        ];
        out_of(name, &figures, limit_mm, list);
        if judged_as_held(&mut recess.verdict, other.verdict) {
            recess.pair.words.push(SPRUNG.to_string());
        }
    }
}

fn beads(free: &mut Found, held: &Found, list: &mut Vec<Arrangement>) {
    let off = |pair: &bead::Pair| {
        let (ours, theirs) = pair.reference.as_ref().zip(pair.measured.as_ref())?;
        Some([
            theirs.depth_mm.abs() - ours.depth_mm.abs(),
            theirs.width_mm - ours.width_mm,
        ])
    };
    for bead in free.beads.iter_mut().filter(|b| b.verdict == Verdict::Outside) {
        let Some(other) = alike_bead(&bead.pair, &held.beads) else {
            continue;
        };
        let (Some(sizes), Some(held_sizes)) = (off(&bead.pair), off(&other.pair)) else {
            continue;
        };
        let (place_mm, held_place_mm) = along_free(&bead.pair.moved_mm, &other.pair.moved_mm);
        let figures = [
            ("place", place_mm, held_place_mm),
            ("depth", sizes[0], held_sizes[0]),
            ("width", sizes[1], held_sizes[1]),
        ];
        out_of(&bead.pair.name, &figures, bead.limit_mm, list);
        if judged_as_held(&mut bead.verdict, other.verdict) {
            bead.pair.words.push(SPRUNG.to_string());
        }
    }
}

fn checks(comparison: &Comparison, free: &mut Found, held: &Found, list: &mut Vec<Arrangement>) {
    for (check, other) in free.checks.iter_mut().zip(&held.checks) {
        let (Some(a), Some(b)) = (check.off, other.off) else {
            continue;
        };
        if check.verdict != Verdict::Outside {
            continue;
        }
        let asked = comparison.asked.checks.iter().find(|c| c.name == check.name);
        let size: &dyn Fn(f64) -> String = match check.counted {
            Counted::Angle => &size_deg,
            Counted::Length => &size_mm,
        };
        list.push(arrangement(
            &check.name,
            a,
            b,
            asked.map_or(0.0, |c| c.limit),
            size,
        ));
        if judged_as_held(&mut check.verdict, other.verdict) {
            also_sprung(&mut check.words);
        }
    }
}

/// Of the figures of one thing those that are beyond the limit as it lies free; where none is by itself, the largest.
fn out_of(name: &str, figures: &[Pair<'_>], limit_mm: f64, list: &mut Vec<Arrangement>) {
    let largest = figures.iter().map(|f| f.1.abs()).fold(0.0, f64::max);
    let least = limit_mm.min(largest);
    for (figure, free_mm, held_mm) in figures.iter().filter(|f| f.1.abs() >= least) {
        let what = format!("{name}: {figure}");
        list.push(arrangement(&what, *free_mm, *held_mm, limit_mm, &size_mm));
    }
}

/// How far a place is off free, and held: below nothing where it has gone to the other side.
fn along_free(free: &Vector, held: &Vector) -> (f64, f64) {
    let side = if held.dot(free) < 0.0 { -1.0 } else { 1.0 };
    (free.norm(), side * held.norm())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stages::arrangement::Kind;

    #[test]
    fn of_several_figures_those_that_are_out_are_told() {
        let mut list = Vec::new();
        let figures = [("place", 4.8, 0.2), ("depth", -0.3, -0.3), ("width", 2.4, 2.3)];
        out_of("recess", &figures, 1.6, &mut list);
        let told: Vec<(&str, Kind)> = list.iter().map(|a| (a.what.as_str(), a.kind)).collect();
        assert_eq!(
            told,
            [
                ("recess: place", Kind::Arrangement),
                ("recess: width", Kind::Shape)
            ]
        );
        list.clear();
        out_of(
            "recess",
            &[("place", 1.0, 1.0), ("depth", 1.2, 1.2)],
            1.6,
            &mut list,
        );
        assert_eq!(list.len(), 1);
        assert_eq!(list[0].what, "recess: depth");
    }

    #[test]
    fn a_place_that_goes_to_the_other_side_has_not_gone() {
        let free = Vector::new(3.0, 4.0, 0.0);
        assert_eq!(along_free(&free, &(-free)), (5.0, -5.0));
        assert_eq!(along_free(&free, &(free * 0.5)), (5.0, 2.5));
    }

    #[test]
    fn a_verdict_is_revised_only_by_one_that_is_home() {
        for (held, wanted) in [
            (Verdict::Within, Verdict::Within),
            (Verdict::TooClose, Verdict::Outside),
            (Verdict::NotMeasured, Verdict::Outside),
        ] {
            let mut free = Verdict::Outside;
            assert_eq!(judged_as_held(&mut free, held), wanted == Verdict::Within);
            assert_eq!(free, wanted);
        }
    }
}
