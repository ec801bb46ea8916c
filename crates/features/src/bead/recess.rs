//! A recess or a dish read across: a round one along eight of its diameters, any other along and across through its middle.

use nalgebra::Matrix2;

use super::outline::Midline;
use super::profile::Profile;
use super::relief::Outline;
use super::section::{Course, Cut, Fitted, Laid, Reading, Told, fitted, told};
use super::sheet::{Flat, Sheet};
use super::straight::{Lying, laid_out, reach};
use super::{Bead, BeadSection, Kind, radius};

/// A recess is round when its extents differ by less than this ratio and it fills less than this share of their box; a disc
/// fills 0.785, and points at random somewhat more or less.
const ROUND: f64 = 1.2;
const ROUND_FILL: f64 = 0.95;
/// Diameters that a round one is read along.
const DIAMETERS: usize = 8;
/// Rounds in which its centre settles.
const ROUNDS: usize = 3;
/// Share of the length and of the width, about the middle, that the others are read on: their corners are round.
const MIDDLE: f64 = 0.5;

/// Reads the recess number `which` of the outlines of a sheet. `None` where it can't be read across.
pub(super) fn read(sheet: &Sheet, outlines: &[Outline], which: usize) -> Option<Bead> {
    let outline = &outlines[which];
    let (length, width) = (outline.length_mm, outline.across_mm);
    let alike = length.max(width) < ROUND * length.min(width);
    if alike && outline.area_mm2 < ROUND_FILL * length * width {
        read_round(sheet, outlines, which)
    } else {
        read_along_and_across(sheet, outlines, which)
    }
}

/// One way through a recess.
struct Way {
    reading: Reading,
    edges: Vec<radius::Piece>,
    thin: usize,
}

fn read_along_and_across(sheet: &Sheet, outlines: &[Outline], which: usize) -> Option<Bead> {
    let outline = &outlines[which];
    let way = |axis: Flat, length_mm: f64, width_mm: f64| {
        let reach_mm = reach(width_mm, sheet.spacing_mm);
        let half = MIDDLE * length_mm / 2.0;
        let (points, thin) = laid_out(sheet, outlines, which, axis, [half, reach_mm]);
        let course = Course {
            range: [-half, half],
            width_mm,
            reach_mm,
            spacing_mm: sheet.spacing_mm,
            midline: Midline::straight(2.0 * half),
            straight: true,
        };
        let reading = course.read(&points)?;
        let edges = radius::pieces(&reading.cut, &reading.profile);
        Some(Way { reading, edges, thin })
    };
    let (axis, side) = (outline.axis, outline.side());
    // The outline's middle is that of its points, across.
    let across = way(axis, outline.length_mm, outline.across_mm)?;
    let along = way(side, outline.across_mm, outline.length_mm)?;
    // The second way looks along −axis to its left: its across is −along.
    let middle =
        outline.middle + side * across.reading.midline.at(0.0) - axis * along.reading.midline.at(0.0);
    let thin = across.thin.max(along.thin);
    let profile = &across.reading.profile;
    let pieces: Vec<radius::Piece> = across.edges.into_iter().chain(along.edges).collect();
    let edges = radius::edges(&pieces, profile, thin);
    let depth = Told {
        mm: f64::midpoint(across.reading.depth.mm, along.reading.depth.mm),
        pm_mm: across.reading.depth.pm_mm.max(along.reading.depth.pm_mm),
    };
    let sections = across
        .reading
        .sections
        .iter()
        .map(|s| {
            let aside = across.reading.midline.at(s.along) + s.off;
            (outline.middle + axis * s.along + side * aside, *s)
        })
        .collect();
    Some(assembled(
        sheet,
        outline,
        Parts {
            middle,
            axis,
            length: along.reading.width,
            width: across.reading.width,
            depth,
            pm_place_mm: across.reading.pm_place_mm.max(along.reading.pm_place_mm),
            flat: profile.flat,
            edges,
            sections,
        },
    ))
}

fn read_round(sheet: &Sheet, outlines: &[Outline], which: usize) -> Option<Bead> {
    let outline = &outlines[which];
    let across_mm = f64::midpoint(outline.length_mm, outline.across_mm);
    let reach_mm = reach(across_mm, sheet.spacing_mm);
    let (points, thin) = laid_out(sheet, outlines, which, outline.axis, [reach_mm, reach_mm]);
    let mut off = Flat::zeros();
    let mut last = None;
    for _ in 0..ROUNDS {
        let cut = wedges(&points, &off, reach_mm);
        // Either end of a diameter shows the same wall.
        let both: Vec<(f64, f64)> = cut
            .iter()
            .flatten()
            .flat_map(|&(across, height)| [(across, height), (-across, height)])
            .collect();
        let profile = Profile::pooled(&both, across_mm, reach_mm)?;
        let sections: Vec<Fitted> = cut
            .iter()
            .enumerate()
            .filter_map(|(k, section)| {
                fitted(section, &profile).map(|f| Fitted {
                    along: angle_of(k),
                    ..f
                })
            })
            .collect();
        let step = centre_of(&sections)?;
        off += step;
        last = Some((profile, sections, cut, step));
    }
    let (profile, sections, cut, step) = last?;
    let telling = |figures: Vec<f64>, shared_mm: f64| {
        told(&figures, 1, shared_mm, profile.scatter_mm, sheet.spacing_mm)
    };
    let depth = telling(
        sections.iter().map(|s| s.depth).collect(),
        profile.unsure.depth_mm,
    )?;
    let width = telling(
        sections.iter().map(|s| s.width).collect(),
        profile.unsure.width_mm,
    )?;
    // What a diameter's middle lies off the common centre; each tells of one direction of two.
    let rest: Vec<f64> = sections
        .iter()
        .map(|s| s.off - step.dot(&facing(s.along)))
        .collect();
    let place = telling(rest, profile.unsure.place_mm)?;
    let pieces: Vec<radius::Piece> = cut
        .chunks(2)
        .flat_map(|some| wall_pieces(some, &profile))
        .collect();
    Some(assembled(
        sheet,
        outline,
        Parts {
            middle: outline.middle + outline.axis * off.x + outline.side() * off.y,
            axis: outline.axis,
            length: width,
            width,
            depth,
            pm_place_mm: place.pm_mm * std::f64::consts::SQRT_2,
            flat: profile.flat,
            edges: radius::edges(&pieces, &profile, thin),
            sections: Vec::new(),
        },
    ))
}

/// The angle of the diameter number `k`, rad.
fn angle_of(k: usize) -> f64 {
    (k as f64 + 0.5) * std::f64::consts::PI / DIAMETERS as f64
}

fn facing(angle: f64) -> Flat {
    Flat::new(angle.cos(), angle.sin())
}

/// The points as (way along their diameter from the centre, height), diameter by diameter.
fn wedges(points: &[Laid], centre: &Flat, reach_mm: f64) -> Cut {
    let mut cut = vec![Vec::new(); DIAMETERS];
    for p in points {
        let d = Flat::new(p.along, p.across) - centre;
        let way = d.norm();
        if way >= reach_mm {
            continue;
        }
        let turn = d.y.atan2(d.x).rem_euclid(std::f64::consts::TAU) / std::f64::consts::PI;
        let (share, sign) = if turn < 1.0 {
            (turn, 1.0)
        } else {
            (turn - 1.0, -1.0)
        };
        let k = ((share * DIAMETERS as f64) as usize).min(DIAMETERS - 1);
        cut[k].push((sign * way, p.height));
    }
    cut
}

/// The point that the middles of the diameters mark, by least squares.
fn centre_of(sections: &[Fitted]) -> Option<Flat> {
    let (mut matrix, mut right) = (Matrix2::zeros(), Flat::zeros());
    for section in sections {
        let way = facing(section.along);
        matrix += way * way.transpose();
        right += way * section.off;
    }
    let inverse = matrix.try_inverse()?;
    (sections.len() >= 3).then(|| inverse * right)
}

/// The two walls of some diameters.
fn wall_pieces(cut: &[Vec<(f64, f64)>], profile: &Profile) -> Vec<radius::Piece> {
    [-1.0, 1.0]
        .into_iter()
        .map(|side| radius::Piece {
            points: cut
                .iter()
                .flatten()
                .map(|(way, height)| {
                    let inward = profile.width_mm / 2.0 - side * way;
                    (inward, height - profile.base[0])
                })
                .collect(),
            sections: cut.len() as f64,
        })
        .collect()
}

/// What was read, on the plane.
struct Parts {
    middle: Flat,
    axis: Flat,
    length: Told,
    width: Told,
    depth: Told,
    pm_place_mm: f64,
    flat: bool,
    edges: radius::Edges,
    sections: Vec<(Flat, Fitted)>,
}

fn assembled(sheet: &Sheet, outline: &Outline, parts: Parts) -> Bead {
    let lie = Lying::under(sheet, &parts.middle, &parts.axis);
    let sign = outline.depth_mm.signum();
    let point = |flat: Flat| sheet.lie.point(&flat, sheet.base.at(&flat));
    let half = parts.axis * (parts.length.mm / 2.0);
    Bead {
        kind: Kind::Recess,
        at: point(parts.middle),
        along: lie.along,
        across: lie.across,
        up: lie.up,
        length_mm: parts.length.mm * lie.along_stretch,
        width_mm: parts.width.mm * lie.across_stretch,
        depth_mm: sign * parts.depth.mm * lie.upright,
        flat: parts.flat,
        wall: parts.edges.wall,
        outer_radius_mm: parts.edges.outer_mm,
        inner_radius_mm: parts.edges.inner_mm,
        ends: [point(parts.middle - half), point(parts.middle + half)],
        open: [false; 2],
        straight: true,
        closed: false,
        middle_line: Vec::new(),
        sections: parts
            .sections
            .into_iter()
            .map(|(flat, s)| BeadSection {
                at: point(flat),
                depth_mm: sign * s.depth * lie.upright,
                width_mm: s.width * lie.across_stretch,
            })
            .collect(),
        pm_depth_mm: parts.depth.pm_mm,
        pm_place_mm: parts.pm_place_mm,
        pm_width_mm: parts.width.pm_mm.max(parts.length.pm_mm),
        pm_ends_mm: [parts.length.pm_mm / 2.0 + parts.pm_place_mm; 2],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    #[test]
    fn the_middles_of_diameters_give_the_centre() {
        let centre = Flat::new(1.2, -0.7);
        let sections: Vec<Fitted> = (0..DIAMETERS)
            .map(|k| Fitted {
                along: angle_of(k),
                off: centre.dot(&facing(angle_of(k))),
                depth: 8.0,
                width: 90.0,
            })
            .collect();
        assert!((centre_of(&sections).unwrap() - centre).norm() < 1e-12);
        assert!(centre_of(&sections[..2]).is_none());
    }

    #[test]
    fn a_point_falls_on_its_diameter_with_its_side() {
        let points: Vec<Laid> = (0..2000u64)
            .map(|i| Laid {
                along: 100.0 * uniform(2 * i) - 50.0,
                across: 100.0 * uniform(2 * i + 1) - 50.0,
                height: 0.0,
            })
            .collect();
        let cut = wedges(&points, &Flat::zeros(), 60.0);
        let inside = points.iter().filter(|p| p.along.hypot(p.across) < 60.0).count();
        assert_eq!(cut.iter().map(Vec::len).sum::<usize>(), inside);
        // The far end of a diameter is below nothing.
        let at = |way: f64| {
            let d = facing(angle_of(3)) * way;
            Laid {
                along: d.x,
                across: d.y,
                height: way,
            }
        };
        let cut = wedges(&[at(10.0), at(-20.0)], &Flat::zeros(), 60.0);
        let [(near, _), (far, height)] = cut[3][..] else {
            panic!("{cut:?}")
        };
        assert!((near - 10.0).abs() < 1e-9 && (far + 20.0).abs() < 1e-9 && height == -20.0);
    }
}
