//! What a straight edge laid along a bar shows: the largest gap under it, from either side.

use nalgebra::Vector2;

use super::run::Run;
use super::stations::Station;
use crate::minimum_zone::straight_edge;

/// A straight edge's reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StraightEdge {
    /// The largest gap, mm.
    pub mm: f64,
    /// How far that is from the bar's first end, mm.
    pub at_mm: f64,
    /// Whether the edge is laid on from above (of an upright bar: from the right); else from the other side.
    pub from_above: bool,
    /// ± (half the 95 % band), mm; the setting has no share in it.
    pub pm_mm: f64,
    /// What it shows on the reference itself, from the side that shows more there, mm.
    pub reference_mm: f64,
}

/// Lays the edge along the face that looks up or down, from the side that shows the larger gap. The measured line is the
/// reference's own with the offset of each inch; both are drawn out to the bar's ends.
pub(super) fn laid_along(stations: &[Station], length_mm: f64) -> Option<StraightEdge> {
    let offset = |s: &Station| s.offset_mm[1].filter(|_| s.own_mm.is_some());
    let own = |s: &Station| s.own_mm.filter(|_| s.offset_mm[1].is_some());
    let (offsets, owns) = (Run::of(stations, offset)?, Run::of(stations, own)?);
    let profile = |measured: bool| -> Option<Vec<[f64; 2]>> {
        let end = |at_mm: f64| {
            let moved = if measured { offsets.foretold(at_mm)?.0 } else { 0.0 };
            Some([at_mm, owns.foretold(at_mm)?.0 + moved])
        };
        let inside = stations.iter().filter_map(|s| {
            let (moved, own) = (offset(s)?, own(s)?);
            Some([s.at_mm, if measured { own + moved } else { own }])
        });
        let mut line = vec![end(0.0)?];
        line.extend(inside);
        line.push(end(length_mm)?);
        Some(line)
    };
    let measured = profile(true)?;
    let (above, below) = (gap(&measured, 1.0), gap(&measured, -1.0));
    let (from_above, [at_mm, mm]) = if above[1] > below[1] {
        (true, above)
    } else {
        (false, below)
    };
    let reference = profile(false)?;
    Some(StraightEdge {
        mm,
        at_mm,
        from_above,
        // The gap is one place less the mean of two others, all about as sure.
        pm_mm: offsets.pm() * 2f64.sqrt(),
        reference_mm: gap(&reference, 1.0)[1].max(gap(&reference, -1.0)[1]),
    })
}

/// Where the largest gap is under an edge laid on the line from the side of `side` (1 above, −1 below), and how large.
fn gap(line: &[[f64; 2]], side: f64) -> [f64; 2] {
    let profile: Vec<Vector2<f64>> = line.iter().map(|[x, z]| Vector2::new(*x, side * z)).collect();
    straight_edge(&profile)
        .filter(|gap| gap.mm > 0.0)
        .map_or([0.0, 0.0], |gap| [gap.at.x, gap.mm])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against brute force: every pair of places that nothing stands over is a place where the edge can rest.
    #[test]
    fn the_gap_is_that_of_the_edge_that_rests() {
        let line: Vec<[f64; 2]> = (0..30)
            .map(|i| {
                let x = f64::from(i) * 10.0;
                [x, (x / 40.0).sin() * 2.0 + (x / 13.0).cos() + 0.01 * x]
            })
            .collect();
        for side in [1.0, -1.0] {
            let mut best = 0.0f64;
            for (i, a) in line.iter().enumerate() {
                for b in &line[i + 1..] {
                    let over = |p: &[f64; 2]| {
                        let edge = a[1] + (b[1] - a[1]) * (p[0] - a[0]) / (b[0] - a[0]);
                        side * (edge - p[1])
                    };
                    if line.iter().all(|p| over(p) > -1e-9) {
                        let cosine = (b[0] - a[0]) / (b[0] - a[0]).hypot(b[1] - a[1]);
                        let between = line.iter().filter(|p| p[0] > a[0] && p[0] < b[0]);
                        best = between.map(|p| over(p) * cosine).fold(best, f64::max);
                    }
                }
            }
            assert!(best > 1.0 && (gap(&line, side)[1] - best).abs() < 1e-9, "{best}");
        }
    }

    #[test]
    fn an_arch_shows_its_rise_from_below_and_nothing_from_above() {
        let line: Vec<[f64; 2]> = (0..=20)
            .map(|i| {
                let share = f64::from(i) / 20.0;
                [480.0 * share, 9.6 * share * (1.0 - share)]
            })
            .collect();
        assert_eq!(gap(&line, 1.0)[1], 0.0);
        let [at, open] = gap(&line, -1.0);
        assert!((at - 240.0).abs() < 1e-9 && (open - 2.4).abs() < 1e-9);
    }
}
