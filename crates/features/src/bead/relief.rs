//! Pressed relief, found without help: connected metal that stands off the sheet by more than half of its own depth.
//!
//! It begins at points that stand off the base by a millimetre, and by six times the noise, and grows or shrinks to half the
//! depth that it turns out to have (a threshold with hysteresis, Canny 1986, IEEE PAMI 8, 679-698). It counts when it comes
//! down to the sheet nearly all round within an inch and a quarter, and when its walls are steeper than a dent's or a bow's.

use cloud::statistics::percentile_of_sorted;
use cloud::{Frame, Point, Surface, Vector};

use super::Kind;
use super::curved::follow::Followed;
use super::outline::Midline;
use super::sheet::{self, Flat, Sheet};
use super::skirt::Skirt;

/// Where relief begins: this far off the base, mm, and this many times the noise.
const LEAST_MM: f64 = 1.0;
const NOISES: f64 = 6.0;
/// Points of one relief lie within this many spacings of each other, and this far at least, mm.
pub(super) const LINK_SPACINGS: f64 = 3.0;
pub(super) const LINK_MM: f64 = 3.0;
/// Smallest relief at half depth, mm² (half an inch square), and its fewest points.
const LEAST_AREA_MM2: f64 = 161.0;
const LEAST_POINTS: usize = 12;
/// Its depth is the height that this share of its points stays under.
const DEPTH: f64 = 0.9;
/// Half of the depth and the threshold agree when they are within this share of each other; so many tries are made.
const AGREE: f64 = 0.1;
const TRIES: u32 = 6;
/// Share of the border that must come down to the sheet.
const CLOSED: f64 = 0.6;
/// Narrowest relief in spacings, and the most points that it may have for the area that it covers: a wall that is seen edge
/// on has many more.
const NARROWEST: f64 = 2.0;
const FILLED: f64 = 1.6;

/// The outline of a relief at half depth.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// Bead or recess.
    pub kind: Kind,
    /// Its middle, on the sheet without it, mm.
    pub at: Point,
    /// Unit vector along it: rearward, or to the right or up where it runs so.
    pub along: Vector,
    /// Unit normal of the sheet, to the outside.
    pub up: Vector,
    /// Longest extent, mm; good to a spacing.
    pub length_mm: f64,
    /// Width from the area, mm; good to a spacing.
    pub width_mm: f64,
    /// Depth, mm; above 0 where it is raised to the outside; good to the noise.
    pub depth_mm: f64,
    /// Whether it runs straight.
    pub straight: bool,
    /// Whether it runs out of what is seen at either end.
    pub open: [bool; 2],
    /// Whether it is steep enough to have been pressed: from a quarter to three quarters of its depth it rises by more than 1
    /// in 8 where it is long, by more than 1 in 3 where it is round. A bow or a dent from outside does not.
    pub pressed: bool,
    /// Its points, of those of the set.
    pub points: Vec<u32>,
    pub(super) skirt: Skirt,
    pub(super) area_mm2: f64,
    pub(super) middle: Flat,
    pub(super) axis: Flat,
    pub(super) across_mm: f64,
    pub(super) midline: Midline,
    /// Its middle line, where it bends more than one axis tells, or closes in itself.
    pub(super) followed: Option<Followed>,
}

/// Finds the pressed relief among the points `members` of a set, front to back, left to right.
pub fn found<F: Frame>(surface: &Surface<F>, members: &[u32]) -> Vec<Outline> {
    let mut found = Vec::new();
    for sheet in sheet::laid(surface, members) {
        for mut outline in outlines(&sheet).into_iter().filter(|o| o.pressed) {
            for point in &mut outline.points {
                *point = sheet.number[*point as usize];
            }
            found.push(outline);
        }
    }
    super::front_to_back(&mut found, |o: &Outline| o.at);
    found
}

/// The relief of one sheet, its pieces joined; what was not pressed is marked. Points are numbered within the sheet.
pub(super) fn outlines(sheet: &Sheet) -> Vec<Outline> {
    let mut owned = vec![false; sheet.len()];
    let mut outlines = Vec::new();
    for sign in [1.0, -1.0] {
        for (core, depth_mm) in cores(sheet, sign, &mut owned) {
            let outline = Outline::around(sheet, core, sign * depth_mm);
            outlines.extend(outline.filter(|o| {
                let box_mm2 = o.length_mm * (o.across_mm + sheet.spacing_mm);
                o.skirt.closed >= CLOSED
                    && o.width_mm > NARROWEST * sheet.spacing_mm
                    && o.area_mm2 < FILLED * box_mm2
            }));
        }
    }
    joined(sheet, outlines)
}

/// The connected metal over half of its own depth, raised or sunk, each with its depth as a positive number.
fn cores(sheet: &Sheet, sign: f64, owned: &mut [bool]) -> Vec<(Vec<u32>, f64)> {
    let over = |i: u32, least: f64| sign * sheet.height_mm[i as usize] > least && !sheet.rim[i as usize];
    let least = LEAST_MM.max(NOISES * sheet.noise_mm);
    let seeds: Vec<u32> = (0..sheet.len() as u32).filter(|&i| over(i, least)).collect();
    let small = |group: &[u32], share: f64| {
        let area = group.len() as f64 * sheet.spacing_mm.powi(2);
        area < share * LEAST_AREA_MM2 || (group.len() as f64) < share * LEAST_POINTS as f64
    };
    let mut work: Vec<(Vec<u32>, u32)> = grown(sheet, &seeds, |i| over(i, least))
        .into_iter()
        .filter(|group| !small(group, 0.25))
        .map(|group| (group, 0))
        .collect();
    work.reverse();
    let mut cores = Vec::new();
    while let Some((group, tries)) = work.pop() {
        let half = depth_of(sheet, &group) / 2.0;
        for core in grown(sheet, &group, |i| over(i, half)) {
            if small(&core, 1.0) {
                continue;
            }
            let depth = depth_of(sheet, &core);
            if (depth / 2.0 - half).abs() > AGREE * half && tries < TRIES {
                work.push((core, tries + 1));
                continue;
            }
            let known = core.iter().filter(|&&i| owned[i as usize]).count();
            if known * 3 > core.len() || depth / 2.0 < 3.0 * sheet.noise_mm {
                continue;
            }
            for &i in &core {
                owned[i as usize] = true;
            }
            cores.push((core, depth));
        }
    }
    cores
}

/// The depth of a group of points: what nearly all of them stay under.
fn depth_of(sheet: &Sheet, group: &[u32]) -> f64 {
    let mut heights: Vec<f64> = group.iter().map(|&i| sheet.height_mm[i as usize].abs()).collect();
    heights.sort_by(f64::total_cmp);
    percentile_of_sorted(&heights, DEPTH)
}

/// The connected groups of points for which `within` says yes that hold any of `from`, each in ascending order.
fn grown(sheet: &Sheet, from: &[u32], within: impl Fn(u32) -> bool) -> Vec<Vec<u32>> {
    let link = (LINK_SPACINGS * sheet.spacing_mm).max(LINK_MM);
    let mut met = vec![false; sheet.len()];
    let mut groups = Vec::new();
    for &start in from {
        if met[start as usize] || !within(start) {
            continue;
        }
        met[start as usize] = true;
        let mut group = vec![start];
        let mut next = 0;
        while next < group.len() {
            let at = sheet.flat[group[next] as usize];
            next += 1;
            sheet.visit_within(&at, link, |n| {
                if !met[n] && within(n as u32) {
                    met[n] = true;
                    group.push(n as u32);
                }
            });
        }
        group.sort_unstable();
        groups.push(group);
    }
    groups
}

/// Joins the pieces of beads until no two belong together.
fn joined(sheet: &Sheet, mut outlines: Vec<Outline>) -> Vec<Outline> {
    let pair = |outlines: &[Outline]| {
        (0..outlines.len())
            .flat_map(|i| (i + 1..outlines.len()).map(move |j| (i, j)))
            .find_map(|(i, j)| Some((i, j, outlines[i].joined_with(&outlines[j], sheet)?)))
    };
    while let Some((i, j, whole)) = pair(&outlines) {
        outlines.remove(j);
        outlines[i] = whole;
    }
    outlines
}
