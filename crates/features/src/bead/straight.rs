//! A bead read from end to end.

use super::relief::Outline;
use super::section::{Course, Laid, Reading, Told};
use super::sheet::{Flat, Sheet};
use super::{Bead, BeadSection, Kind, ends, radius};

/// Level metal that is looked at beyond a wall, mm (3/4 in), and no less than this many spacings.
pub(super) const LEVEL_MM: f64 = 19.05;
const LEVEL_SPACINGS: f64 = 5.0;
/// Farthest that a wall may take, mm (1-1/4 in).
const WALL_MM: f64 = 31.75;
/// More points than this tell no more; one in so many is kept.
pub(super) const PLENTY: usize = 40_000;
/// Other relief is left out as far as its wall runs out, and half as far again as it is wide.
const FOOT: f64 = 1.2;

/// Reads the bead number `which` of the outlines of a sheet. `None` where it can't be read across.
pub(super) fn read(sheet: &Sheet, outlines: &[Outline], which: usize) -> Option<Bead> {
    let outline = &outlines[which];
    let half = outline.length_mm / 2.0;
    let reach_mm = reach(outline.width_mm, sheet.spacing_mm);
    let beyond = half + outline.width_mm + LEVEL_MM + LEVEL_MM;
    let (points, thin) = laid_out(sheet, outlines, which, outline.axis, [beyond, reach_mm]);
    // The ends are round: sections are taken where it is as wide as it gets.
    let inset = |k: usize| {
        if outline.open[k] {
            0.0
        } else {
            outline.width_mm / 2.0
        }
    };
    let course = Course {
        range: [-half + inset(0), half - inset(1)],
        width_mm: outline.width_mm,
        reach_mm,
        spacing_mm: sheet.spacing_mm,
        midline: outline.midline,
        straight: outline.straight,
    };
    let reading = course.read(&points)?;
    let told = find_ends(&reading, &points, [-half, half], outline.open, sheet.spacing_mm);
    let ends = told.map(|end| end.mm);
    let edges = radius::edges(
        &radius::pieces(&reading.cut, &reading.profile),
        &reading.profile,
        thin,
    );
    let lie = Lying::at(sheet, outline, &reading, (ends[0] + ends[1]) / 2.0);
    let sections = reading
        .sections
        .iter()
        .map(|s| BeadSection {
            at: on_sheet(sheet, outline, s.along, reading.midline.at(s.along) + s.off),
            depth_mm: outline.depth_mm.signum() * s.depth * lie.upright,
            width_mm: s.width * lie.across_stretch,
        })
        .collect();
    let place = |along: f64| on_sheet(sheet, outline, along, reading.midline.at(along));
    let at = place((ends[0] + ends[1]) / 2.0);
    Some(Bead {
        kind: Kind::Bead,
        at,
        along: lie.along,
        across: lie.across,
        up: lie.up,
        length_mm: (ends[1] - ends[0]) * lie.along_stretch,
        width_mm: reading.width.mm * lie.across_stretch,
        depth_mm: outline.depth_mm.signum() * reading.depth.mm * lie.upright,
        flat: reading.profile.flat,
        wall: edges.wall,
        outer_radius_mm: edges.outer_mm,
        inner_radius_mm: edges.inner_mm,
        ends: [place(ends[0]), place(ends[1])],
        open: outline.open,
        straight: outline.straight,
        closed: false,
        middle_line: Vec::new(),
        sections,
        pm_depth_mm: reading.depth.pm_mm,
        pm_place_mm: reading.pm_place_mm,
        pm_width_mm: reading.width.pm_mm,
        pm_ends_mm: told.map(|end| end.pm_mm),
    })
}

/// How far to either side of the middle of a relief the sections go, mm.
pub(super) fn reach(width_mm: f64, spacing_mm: f64) -> f64 {
    width_mm.min(width_mm / 2.0 + WALL_MM) + LEVEL_MM.max(LEVEL_SPACINGS * spacing_mm)
}

/// The points beside the outline number `which`, laid along `axis` through its middle up to `reach_mm` (along, across) to
/// either side, those of other relief and of the rim left out, with the height to the outline's own side; and how many points
/// each one stands for.
pub(super) fn laid_out(
    sheet: &Sheet,
    outlines: &[Outline],
    which: usize,
    axis: Flat,
    reach_mm: [f64; 2],
) -> (Vec<Laid>, usize) {
    let outline = &outlines[which];
    let (sign, side) = (outline.depth_mm.signum(), Flat::new(-axis.y, axis.x));
    let near = |p: &Flat| {
        let d = p - outline.middle;
        let (along, across) = (d.dot(&axis), d.dot(&side));
        // A bent bead strays from its axis.
        let bend = if outline.straight {
            0.0
        } else {
            outline.midline.at(along)
        };
        (along.abs() < reach_mm[0] && (across - bend).abs() < reach_mm[1]).then_some((along, across))
    };
    let mut points: Vec<Laid> = Vec::new();
    for i in 0..sheet.len() {
        let Some((along, across)) = near(&sheet.flat[i]) else {
            continue;
        };
        if sheet.rim[i] || of_others(sheet, outlines, which, i) {
            continue;
        }
        points.push(Laid {
            along,
            across,
            height: sign * sheet.height_mm[i],
        });
    }
    let thin = points.len().div_ceil(PLENTY).max(1);
    if thin > 1 {
        points = points.into_iter().step_by(thin).collect();
    }
    (points, thin)
}

/// Whether a point lies on other relief or its foot, and not on this one.
pub(super) fn of_others(sheet: &Sheet, outlines: &[Outline], which: usize, i: usize) -> bool {
    let at = sheet.flat[i];
    let taken = outlines
        .iter()
        .enumerate()
        .any(|(k, other)| k != which && other.covers(&at, FOOT * other.skirt.run_mm + sheet.spacing_mm));
    taken && outlines[which].points.binary_search(&(i as u32)).is_err()
}

/// The place on the sheet without its relief, mm.
fn on_sheet(sheet: &Sheet, outline: &Outline, along: f64, across: f64) -> cloud::Point {
    let flat = outline.middle + outline.axis * along + outline.side() * across;
    sheet.lie.point(&flat, sheet.base.at(&flat))
}

/// Where the bead ends along, first and last, looked for about where the outline does; where it runs out of what is seen, or too
/// few points show it, there, which is good to a spacing.
pub(super) fn find_ends(
    reading: &Reading,
    points: &[Laid],
    about_mm: [f64; 2],
    open: [bool; 2],
    spacing_mm: f64,
) -> [Told; 2] {
    let profile = &reading.profile;
    let beside: Vec<Laid> = points
        .iter()
        .map(|p| Laid {
            along: p.along,
            across: p.across - reading.midline.at(p.along),
            height: p.height - profile.base[0],
        })
        .collect();
    // Both sides of the profile, which need not be alike.
    let shape = |across: f64| (profile.at(across) + profile.at(-across)) / 2.0;
    let run = ends::Run {
        profile: &shape,
        depth_mm: reading.depth.mm,
        width_mm: profile.width_mm,
        scatter_mm: profile.scatter_mm,
    };
    [(-1.0, 0), (1.0, 1)].map(|(direction, k): (f64, usize)| {
        let about = about_mm[k];
        let found = match open[k] {
            true => None,
            false => ends::end(&run, &beside, direction, about),
        };
        found.unwrap_or(Told {
            mm: about,
            pm_mm: spacing_mm,
        })
    })
}

/// How the sheet lies under the middle of a relief, and what the plane that it is laid on makes of lengths there.
pub(super) struct Lying {
    pub along: cloud::Vector,
    pub across: cloud::Vector,
    pub up: cloud::Vector,
    /// Cosine between the sheet's normal and the plane's.
    pub upright: f64,
    pub along_stretch: f64,
    pub across_stretch: f64,
}

impl Lying {
    fn at(sheet: &Sheet, outline: &Outline, reading: &Reading, along: f64) -> Self {
        let lean = reading.midline.lean(along);
        let axis = (outline.axis + outline.side() * lean).normalize();
        let middle = outline.middle + outline.axis * along + outline.side() * reading.midline.at(along);
        Self::under(sheet, &middle, &axis)
    }

    /// Of the sheet at a place, along a direction of the plane.
    pub fn under(sheet: &Sheet, at: &Flat, axis: &Flat) -> Self {
        let slope = sheet.base.slope(at);
        let side = Flat::new(-axis.y, axis.x);
        let along = sheet.lie.direction(axis, slope.dot(axis));
        let up = sheet.lie.direction(&-slope, 1.0).normalize();
        let along_stretch = along.norm();
        let along = along / along_stretch;
        Self {
            along,
            across: up.cross(&along),
            upright: up.dot(&sheet.lie.up),
            up,
            along_stretch,
            across_stretch: slope.dot(&side).hypot(1.0),
        }
    }
}
