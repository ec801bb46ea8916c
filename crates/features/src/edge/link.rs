//! The openings of an edge linked to lines: each names the two neighbours that it should meet.

use cloud::{Near, Point};

use super::in_points::Opening;

/// One of the two ends of an opening: which opening, which end.
type End = (usize, usize);
/// For both ends of an opening the end that it meets.
type Mates = [Option<End>; 2];

/// Ends within this many radii of the disc are one edge that noise has broken: a chain ends where the disc, of two radii
/// across, could still have rolled on.
const BROKEN: f64 = 2.2;
/// A chain of fewer openings than this is not closed on itself across a break.
const LONG: usize = 8;

/// A line of openings.
pub(super) struct Chain {
    /// The openings in order.
    pub openings: Vec<usize>,
    /// Whether the first follows the last.
    pub closed: bool,
}

/// The lines that the openings (ascending by point) make; `radius_mm` is the disc's.
pub(super) fn chains(openings: &[Opening], points: &[Point], radius_mm: f64) -> Vec<Chain> {
    let place = |k: usize| points[openings[k].point as usize];
    let middle = |(k, e): End| place(k) + openings[k].towards[e] * radius_mm;
    let mut mates = named(openings, &middle, radius_mm);
    mend(openings, &place, BROKEN * radius_mm, &mut mates);
    walked(&mates)
}

/// The ends that name each other, and then those whose discs nearly agree: tangent planes of neighbours differ a little.
fn named(openings: &[Opening], middle: &dyn Fn(End) -> Point, radius_mm: f64) -> Vec<Mates> {
    let mut mates: Vec<Mates> = vec![[None; 2]; openings.len()];
    for both_ways in [true, false] {
        for k in 0..openings.len() {
            for e in 0..2 {
                if mates[k][e].is_some() {
                    continue;
                }
                let (from, stop) = (openings[k].point, openings[k].stops[e]);
                let here = middle((k, e));
                let first = openings.partition_point(|o| o.point < stop);
                let mut best: Option<(f64, End)> = None;
                for (m, other) in openings.iter().enumerate().skip(first) {
                    if other.point != stop {
                        break;
                    }
                    for (f, back) in other.stops.iter().enumerate() {
                        if mates[m][f].is_some() || (both_ways && *back != from) {
                            continue;
                        }
                        let gap = (middle((m, f)) - here).norm();
                        if gap < radius_mm / 2.0 && best.is_none_or(|(least, _)| gap < least) {
                            best = Some((gap, (m, f)));
                        }
                    }
                }
                if let Some((_, (m, f))) = best {
                    mates[k][e] = Some((m, f));
                    mates[m][f] = Some((k, e));
                }
            }
        }
    }
    mates
}

/// Joins ends that meet nothing to the nearest such end within `reach_mm` that is open to the same side.
fn mend(openings: &[Opening], place: &dyn Fn(usize) -> Point, reach_mm: f64, mates: &mut [Mates]) {
    let mut chain_of = vec![(0, 0); openings.len()];
    for (c, chain) in walked(mates).iter().enumerate() {
        for &k in &chain.openings {
            chain_of[k] = (c, chain.openings.len());
        }
    }
    let loose: Vec<End> = (0..openings.len())
        .flat_map(|k| [(k, 0), (k, 1)])
        .filter(|&(k, e)| mates[k][e].is_none())
        .collect();
    let at: Vec<Point> = loose.iter().map(|&(k, _)| place(k)).collect();
    let near = Near::new(&at);
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (i, p) in at.iter().enumerate() {
        near.visit_within(p, reach_mm, |n| {
            let j = n.index as usize;
            if j <= i {
                return;
            }
            let (a, b) = (loose[i].0, loose[j].0);
            let short_loop = chain_of[a].0 == chain_of[b].0 && chain_of[a].1 < LONG;
            if !short_loop && openings[a].void.dot(&openings[b].void) > 0.0 {
                pairs.push(((at[j] - p).norm(), i, j));
            }
        });
    }
    pairs.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    for (_, i, j) in pairs {
        let ((k, e), (m, f)) = (loose[i], loose[j]);
        if mates[k][e].is_none() && mates[m][f].is_none() {
            mates[k][e] = Some((m, f));
            mates[m][f] = Some((k, e));
        }
    }
}

/// The lines that the ends make, each walked both ways from its first opening.
fn walked(mates: &[Mates]) -> Vec<Chain> {
    let mut used = vec![false; mates.len()];
    let mut chains = Vec::new();
    for start in 0..mates.len() {
        if used[start] {
            continue;
        }
        used[start] = true;
        let (forth, closed) = followed(mates, &mut used, start, 1);
        let mut openings = if closed {
            Vec::new()
        } else {
            followed(mates, &mut used, start, 0).0
        };
        openings.reverse();
        openings.push(start);
        openings.extend(forth);
        chains.push(Chain { openings, closed });
    }
    chains
}

/// The openings that follow `start` out of its `end`, and whether they lead back to it.
fn followed(mates: &[Mates], used: &mut [bool], start: usize, end: usize) -> (Vec<usize>, bool) {
    let (mut at, mut out) = (start, end);
    let mut passed = Vec::new();
    while let Some((next, entry)) = mates[at][out] {
        if used[next] {
            return (passed, next == start);
        }
        used[next] = true;
        passed.push(next);
        (at, out) = (next, 1 - entry);
    }
    (passed, false)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mates_are_walked_to_a_ring_and_to_a_line_from_its_middle() {
        // 0-1-2 is a ring whose second member is turned round; 4-3-5 is a line.
        let mut mates: Vec<Mates> = vec![[None; 2]; 6];
        let mut meet = |a: End, b: End| {
            mates[a.0][a.1] = Some(b);
            mates[b.0][b.1] = Some(a);
        };
        meet((0, 1), (1, 1));
        meet((1, 0), (2, 0));
        meet((2, 1), (0, 0));
        meet((4, 1), (3, 0));
        meet((3, 1), (5, 0));
        let chains = walked(&mates);
        assert_eq!(chains.len(), 2);
        assert!(chains[0].closed && chains[0].openings == [0, 1, 2]);
        assert!(!chains[1].closed && chains[1].openings == [4, 3, 5]);
    }
}
