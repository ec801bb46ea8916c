//! Thin metal in a dense set: points that lie as far apart as strays do, and yet have a sheet of their own kind around them.
//!
//! A fine scan is joined with probed points or with a coarse second scan, and photographs give points where there is texture.
//! What tells such points from strays is not how far their neighbours are but how these lie: in one plane, on all sides, and with as
//! much room around each of them. Strays fill space, and beside a dense sheet their neighbours are its points, which have no room.
//! Points vouch for each other: one stays that several planes of its neighbours go through, so that the last row before a dense
//! patch stays, and so does the one at a fold.

use rayon::prelude::*;

use super::spread;
use crate::eigen::{eigenvalues, flattest_direction};
use crate::{Near, Point, Vector};

/// Neighbours through which a plane is laid, and how many of them may be strays or of the next wall.
const AROUND: usize = 12;
const LEFT_OUT: usize = 3;
/// How often the plane is laid, each time through those that lay nearest to the last one.
const TURNS: usize = 3;
/// Neighbours have as much room where their sixth lies no nearer than this part of one's own. So many of the twelve must: in the corner
/// of a probed grid that goes on from a fine scan the others are the scan's.
const ROOM: f64 = 0.4;
const WITH_ROOM: usize = 7;
/// How far the plane's points, and the point itself, may lie off it, as shares of the distance to the twelfth: a fender of 400 mm
/// radius that is probed every inch bows by less.
const FLAT: f64 = 0.05;
const OFF: f64 = 0.1;
/// A neighbour lies in the sheet where it lies off the plane by no more than this share of the same.
const IN_SHEET: f64 = 0.12;
/// So many neighbours must vouch for a point.
const WITNESSES: u8 = 3;
/// Fewer that vouch for each other are no sheet: beside a panel strays fill no more than a slab, and a dozen lie in one plane by
/// chance.
const FEWEST_TOGETHER: u32 = 30;

/// Takes back which of `points` are `stray` where they belong to a thin sheet. `sixth_mm` is the distance to each point's sixth
/// neighbour, 0 where it has close ones; only points whose sixth lies beyond `empty_mm` vouch.
pub(super) fn take_back(points: &[Point], near: &Near, sixth_mm: &[f32], empty_mm: f64, stray: &mut [bool]) {
    if !stray.contains(&true) {
        return;
    }
    let alone: Vec<u32> = (0..points.len() as u32)
        .filter(|&i| f64::from(sixth_mm[i as usize]) > empty_mm)
        .collect();
    let seen_as_strays = &*stray;
    let vouched_for: Vec<(u32, u32)> = alone
        .par_iter()
        .with_min_len(256)
        .flat_map_iter(|&i| {
            let mut sheet = in_sheet_with(i as usize, points, near, sixth_mm);
            sheet.retain(|&j| seen_as_strays[j as usize]);
            sheet.into_iter().map(move |j| (i, j))
        })
        .collect();
    let mut witnesses = vec![0u8; points.len()];
    for (_, j) in &vouched_for {
        let count = &mut witnesses[*j as usize];
        *count = count.saturating_add(1);
    }
    let lies_in_one = |i: u32| seen_as_strays[i as usize] && witnesses[i as usize] >= WITNESSES;
    let mut group: Vec<u32> = (0..points.len() as u32).collect();
    for &(i, j) in vouched_for
        .iter()
        .filter(|(i, j)| lies_in_one(*i) && lies_in_one(*j))
    {
        let (a, b) = (first_of(&mut group, i), first_of(&mut group, j));
        group[a.max(b) as usize] = a.min(b);
    }
    let in_one: Vec<u32> = (0..points.len() as u32).filter(|&i| lies_in_one(i)).collect();
    let mut together = vec![0u32; points.len()];
    for &i in &in_one {
        together[first_of(&mut group, i) as usize] += 1;
    }
    for i in in_one {
        stray[i as usize] = together[first_of(&mut group, i) as usize] < FEWEST_TOGETHER;
    }
}

/// The first of the group that a point belongs to (Tarjan 1975, JACM 22(2), with halved paths).
fn first_of(group: &mut [u32], mut i: u32) -> u32 {
    while group[i as usize] != i {
        group[i as usize] = group[group[i as usize] as usize];
        i = group[i as usize];
    }
    i
}

/// The neighbours that lie in one thin sheet with a point; none where it lies in none itself.
fn in_sheet_with(i: usize, points: &[Point], near: &Near, sixth_mm: &[f32]) -> Vec<u32> {
    let around = near.nearest_n(&points[i], AROUND + 1);
    let Some(last) = around.get(AROUND) else {
        return Vec::new();
    };
    let reach_mm = last.squared_mm2.sqrt();
    let around = &around[1..];
    let room_mm = ROOM * f64::from(sixth_mm[i]);
    let with_room = around
        .iter()
        .filter(|n| f64::from(sixth_mm[n.index as usize]) >= room_mm);
    if with_room.count() < WITH_ROOM {
        return Vec::new();
    }
    let way = |j: u32| points[j as usize] - points[i];
    let Some(normal) = plane(around.iter().map(|n| way(n.index)).collect(), reach_mm) else {
        return Vec::new();
    };
    around
        .iter()
        .map(|n| n.index)
        .filter(|&j| way(j).dot(&normal).abs() <= IN_SHEET * reach_mm)
        .collect()
}

/// The normal of the plane in which most of a point's neighbours lie with it; `None` where they lie in none.
fn plane(mut offsets: Vec<Vector>, reach_mm: f64) -> Option<Vector> {
    let mut used = offsets.len();
    for _ in 1..TURNS {
        let (mean, spread) = spread(&offsets[..used]);
        let normal = flattest_direction(&spread);
        let off = |offset: &Vector| (offset - mean).dot(&normal).abs();
        offsets.sort_by(|a, b| off(a).total_cmp(&off(b)));
        used = offsets.len() - LEFT_OUT;
    }
    let (mean, spread) = spread(&offsets[..used]);
    let normal = flattest_direction(&spread);
    let roughness_mm = eigenvalues(&spread)[0].max(0.0).sqrt();
    let lies_in_it = roughness_mm <= FLAT * reach_mm && mean.dot(&normal).abs() <= OFF * reach_mm;
    lies_in_it.then_some(normal)
}

#[cfg(test)]
mod tests {
    use super::super::strays;
    use super::*;
    use crate::made::uniform;

    /// A square of 100 mm, scanned at 1 mm.
    fn scanned() -> impl Iterator<Item = Point> {
        (0..10_000).map(|i| Point::new(f64::from(i % 100), f64::from(i / 100), 0.0))
    }

    /// Probed points on from its edge, 12 mm apart and bowed by a radius of 400 mm, and up a wall behind them.
    fn probed() -> impl Iterator<Item = Point> {
        let skin = (0..160).map(|i| {
            let (x, y) = (12.0 * f64::from(i % 16 + 1), 12.0 * f64::from(i / 16));
            Point::new(99.0 + x, y, x * x / 800.0)
        });
        let wall = (0..50).map(|i| {
            let (y, z) = (12.0 * f64::from(i % 10), 12.0 * f64::from(i / 10 + 1));
            Point::new(291.0, y, 46.08 + z)
        });
        skin.chain(wall)
    }

    /// What lies on the scanned sheet can't be told from it.
    fn is_off(point: &Point) -> bool {
        point.z.abs() > 3.0
    }

    fn found(points: &[Point]) -> Vec<bool> {
        strays(points, &Near::new(points), 1.0, &|_| true)
    }

    /// Until points vouched for each other all of these were dropped: their sixth neighbour lies over twelve spacings away.
    #[test]
    fn probed_metal_beside_a_fine_scan_is_no_stray() {
        let points: Vec<Point> = scanned().chain(probed()).collect();
        let found = found(&points);
        assert!(found[..10_000].iter().all(|stray| !stray));
        let lost = found[10_000..].iter().filter(|stray| **stray).count();
        assert!(lost <= 4, "{lost} of 210");
    }

    /// As many strays to the space as a fifth of the scan comes to in the box of a tub: they vouch for nobody.
    #[test]
    fn strays_vouch_for_none_of_their_kind_and_hide_no_probed_metal() {
        let count = 600;
        let strays = (0..count).map(|i| {
            let at = |k: u64| uniform(3 * i + k);
            Point::new(400.0 * at(0) - 50.0, 200.0 * at(1) - 50.0, 600.0 * at(2) - 300.0)
        });
        let alone: Vec<Point> = scanned().chain(strays.clone()).collect();
        let dropped = |points: &[Point]| {
            let found = found(points);
            let last = points.len() - count as usize;
            let told = points.iter().zip(&found).skip(last).filter(|(p, _)| is_off(p));
            let kept = told.filter(|(_, stray)| !**stray).count();
            (kept, found[10_000..last].iter().filter(|stray| **stray).count())
        };
        assert!(dropped(&alone).0 <= 6, "{:?}", dropped(&alone));
        let with_probed: Vec<Point> = scanned().chain(probed()).chain(strays).collect();
        let (kept, lost) = dropped(&with_probed);
        assert!(kept <= 12 && lost <= 12, "{kept} strays kept, {lost} of 210 lost");
    }
}
