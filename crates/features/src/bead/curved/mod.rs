//! A bead that bends or closes in itself, read square to its middle line.
//!
//! Its points are laid along the middle line that its outline was followed by, and are read as a straight bead's are: by the
//! profile that all of its sections share. The sections' middles are the next line's nodes. Where the line turns in less than
//! one and a half of its widths there is a corner: the metal inside of it belongs to both legs, so that nothing is read there.

use std::f64::consts::PI;

use cloud::statistics::mean;

use super::outline::{Midline, pointing};
use super::relief::Outline;
use super::section::{Course, Laid, Reading};
use super::sheet::{Flat, Sheet};
use super::straight::{LEVEL_MM, Lying, PLENTY, find_ends, of_others, reach};
use super::{Bead, BeadSection, Kind, radius};

pub(super) mod follow;
pub(super) mod line;
#[cfg(test)]
mod tests;
mod worst;

use follow::{Followed, ON_MM};
use line::Line;

/// Rounds in which the middle line settles.
const ROUNDS: usize = 4;
/// A corner turns by more than this over so many widths, rad: one that is sharp over one, one that is round over two.
const CORNERS: [(f64, f64); 2] = [(1.0, 0.77), (2.0, 1.3)];
/// Distance of the places that are asked whether they turn, and of those of the middle line that is given out, mm.
const ASKED_MM: f64 = 2.0;
/// Share of the sections away from corners that must show the bead.
const SHOWN: f64 = 0.5;

/// Reads the outline number `which` of a sheet along its middle line. `None` where too few sections show it.
pub(super) fn read(sheet: &Sheet, outlines: &[Outline], which: usize, followed: &Followed) -> Option<Bead> {
    let mut pass = Pass::along(sheet, outlines, which, followed.clone())?;
    for _ in 1..ROUNDS {
        pass = Pass::along(sheet, outlines, which, pass.settled()?)?;
    }
    let edges = radius::edges(&pass.walls(), &pass.reading.profile, pass.thin);
    Some(pass.bead(sheet, &outlines[which], edges))
}

/// The relief read along one middle line.
struct Pass {
    followed: Followed,
    course: Course,
    points: Vec<Laid>,
    thin: usize,
    reading: Reading,
}

impl Pass {
    fn along(sheet: &Sheet, outlines: &[Outline], which: usize, followed: Followed) -> Option<Self> {
        let outline = &outlines[which];
        let width_mm = followed.width_mm;
        let reach_mm = reach(width_mm, sheet.spacing_mm);
        let inset = |k: usize| {
            if followed.line.closed || outline.open[k] {
                0.0
            } else {
                width_mm / 2.0
            }
        };
        let range = [followed.range_mm[0] + inset(0), followed.range_mm[1] - inset(1)];
        let course = Course {
            range,
            width_mm,
            reach_mm,
            spacing_mm: sheet.spacing_mm,
            midline: Midline::straight(range[1] - range[0]),
            straight: true,
        };
        let (points, thin) = laid_out(sheet, outlines, which, &followed.line, reach_mm);
        let sharp_mm = sharp(&followed, range);
        // A section lies one width away from a corner with all of its length.
        let away_mm = width_mm + step_mm(&course) / 2.0;
        let away: Vec<bool> = middles(&course)
            .map(|along| is_away(&followed.line, &sharp_mm, along, away_mm))
            .collect();
        let straight: Vec<Laid> = points
            .iter()
            .copied()
            .filter(|p| {
                let section = (p.along - range[0]) / step_mm(&course);
                section >= 0.0 && away.get(section as usize).is_some_and(|away| *away)
            })
            .collect();
        let reading = course.read(&straight)?;
        let wanted = away.iter().filter(|away| **away).count();
        let shown = reading.sections.len() as f64 >= SHOWN * wanted as f64;
        shown.then_some(Self {
            followed,
            course,
            points,
            thin,
            reading,
        })
    }

    /// The place of the middle line as it was read, and so far across from it.
    fn place(&self, along_mm: f64, off_mm: f64) -> Flat {
        self.followed
            .line
            .beside(along_mm, self.reading.midline.at(along_mm) + off_mm)
    }

    /// The line through the middles of the sections; where there is none, in a corner, it stays.
    fn settled(&self) -> Option<Followed> {
        let closed = self.followed.line.closed;
        let step = step_mm(&self.course);
        let nodes: Vec<Flat> = middles(&self.course)
            .map(|along| {
                let read = self
                    .reading
                    .sections
                    .iter()
                    .find(|s| (s.along - along).abs() < step / 2.0);
                match read {
                    Some(section) => self.place(along, section.off),
                    None => self.followed.line.beside(along, 0.0),
                }
            })
            .collect();
        let width_mm = self.followed.width_mm;
        let line = Line::through(&nodes, closed, 2.0 * width_mm + ON_MM)?;
        let range_mm = if closed {
            [0.0, line.round_mm()]
        } else {
            let ruler = line.ruler();
            let [first, last] = self.followed.range_mm.map(|along| self.place(along, 0.0));
            [ruler.laid(&first)?.0, ruler.laid(&last)?.0]
        };
        Some(Followed {
            line,
            range_mm,
            width_mm,
        })
    }

    /// The pieces of both walls, corners left out.
    fn walls(&self) -> Vec<radius::Piece> {
        let cut: Vec<_> = self
            .reading
            .cut
            .iter()
            .filter(|c| !c.is_empty())
            .cloned()
            .collect();
        radius::pieces(&cut, &self.reading.profile)
    }

    fn bead(&self, sheet: &Sheet, outline: &Outline, edges: radius::Edges) -> Bead {
        let (reading, closed) = (&self.reading, self.followed.line.closed);
        let sign = outline.depth_mm.signum();
        let on_sheet = |flat: &Flat| sheet.lie.point(flat, sheet.base.at(flat));
        let lying = self.lying();
        let lies: Vec<Lying> = lying
            .iter()
            .map(|(at, way)| Lying::under(sheet, at, way))
            .collect();
        let average = |of: fn(&Lying) -> f64| mean(&lies.iter().map(of).collect::<Vec<f64>>());
        let sections: Vec<BeadSection> = reading
            .sections
            .iter()
            .zip(&lies)
            .map(|(s, lie)| BeadSection {
                at: on_sheet(&self.place(s.along, s.off)),
                depth_mm: sign * s.depth * lie.upright,
                width_mm: s.width * lie.across_stretch,
            })
            .collect();
        // A ring has none.
        let open = if closed { [true; 2] } else { outline.open };
        let about_mm = self.followed.range_mm;
        let told = find_ends(reading, &self.points, about_mm, open, sheet.spacing_mm);
        let range = told.map(|end| end.mm);
        let middle_line = self.middle_line(range);
        let form = if closed {
            self.ring(outline, &middle_line)
        } else {
            self.bent(outline, range)
        };
        let lie = Lying::under(sheet, &form.middle, &form.axis);
        let bead = Bead {
            kind: Kind::Bead,
            at: on_sheet(&form.middle),
            along: lie.along,
            across: lie.across,
            up: lie.up,
            length_mm: form.length_mm * average(|l| l.along_stretch),
            width_mm: reading.width.mm * average(|l| l.across_stretch),
            depth_mm: sign * reading.depth.mm * average(|l| l.upright),
            flat: reading.profile.flat,
            wall: edges.wall,
            outer_radius_mm: edges.outer_mm,
            inner_radius_mm: edges.inner_mm,
            ends: form.ends.map(|end| on_sheet(&end)),
            open,
            straight: false,
            closed,
            middle_line: middle_line.iter().map(on_sheet).collect(),
            sections,
            pm_depth_mm: reading.depth.pm_mm,
            // The line follows the sections' middles, so that these tell nothing by themselves. A middle is half as unsure as
            // a width, which stands on the same two walls.
            pm_place_mm: reading.width.pm_mm / 2.0 * worst::direction(&lying, closed),
            pm_width_mm: reading.width.pm_mm,
            pm_ends_mm: if closed {
                [reading.width.pm_mm; 2]
            } else {
                told.map(|end| end.pm_mm)
            },
        };
        let forward = pointing(sheet, form.axis).dot(&form.axis) > 0.0;
        if forward { bead } else { bead.turned_round() }
    }

    /// Where the sections lie, and the direction of the line there.
    fn lying(&self) -> Vec<(Flat, Flat)> {
        self.reading
            .sections
            .iter()
            .map(|s| (self.place(s.along, s.off), self.followed.line.at(s.along).1))
            .collect()
    }

    /// Places of the middle line from end to end; of a ring the first is not repeated.
    fn middle_line(&self, range: [f64; 2]) -> Vec<Flat> {
        let length = range[1] - range[0];
        let count = ((length / ASKED_MM).ceil() as usize).max(4);
        let last = if self.followed.line.closed {
            count - 1
        } else {
            count
        };
        (0..=last)
            .map(|k| self.place(range[0] + length * k as f64 / count as f64, 0.0))
            .collect()
    }

    /// A ring's middle is the mean of the places of its middle line, which are equally far apart; its size is what it measures
    /// across, the mean over all directions: once round divided by pi (Cauchy's theorem, for what bulges out all round). Both
    /// take every section alike, where extents would hang on the few that lie farthest out.
    fn ring(&self, outline: &Outline, middle_line: &[Flat]) -> Form {
        let middle = middle_line.iter().sum::<Flat>() / middle_line.len() as f64;
        let next = middle_line.iter().cycle().skip(1);
        let round_mm: f64 = middle_line.iter().zip(next).map(|(a, b)| (b - a).norm()).sum();
        let along = || middle_line.iter().map(|p| (p - middle).dot(&outline.axis));
        let faces = [
            along().fold(f64::INFINITY, f64::min),
            along().fold(f64::NEG_INFINITY, f64::max),
        ];
        Form {
            middle,
            axis: outline.axis,
            length_mm: round_mm / PI,
            ends: faces.map(|along| middle + outline.axis * along),
        }
    }

    /// A bent bead's middle is half way along it; it points from end to end.
    fn bent(&self, outline: &Outline, range: [f64; 2]) -> Form {
        let ends = range.map(|along| self.place(along, 0.0));
        Form {
            middle: self.place(f64::midpoint(range[0], range[1]), 0.0),
            axis: (ends[1] - ends[0]).try_normalize(1e-9).unwrap_or(outline.axis),
            length_mm: range[1] - range[0],
            ends,
        }
    }
}

/// How a bead lies as a whole, on the plane.
struct Form {
    middle: Flat,
    axis: Flat,
    length_mm: f64,
    ends: [Flat; 2],
}

/// The middles of the sections of a course along, mm.
fn middles(course: &Course) -> impl Iterator<Item = f64> {
    let (from, step) = (course.range[0], step_mm(course));
    (0..course.count()).map(move |k| from + (k as f64 + 0.5) * step)
}

/// How long the sections of a course are along, mm.
fn step_mm(course: &Course) -> f64 {
    (course.range[1] - course.range[0]) / course.count() as f64
}

/// Where a middle line turns sharply, mm along.
fn sharp(followed: &Followed, range: [f64; 2]) -> Vec<f64> {
    let count = ((range[1] - range[0]) / ASKED_MM).max(1.0) as usize;
    (0..=count)
        .map(|k| range[0] + k as f64 * ASKED_MM)
        .filter(|along| {
            let turns = |widths: f64| followed.line.turns(*along, widths * followed.width_mm).abs();
            CORNERS.iter().any(|(widths, corner)| turns(*widths) > *corner)
        })
        .collect()
}

/// Whether a place along lies so far away from where the line turns sharply.
fn is_away(line: &Line, sharp_mm: &[f64], along_mm: f64, away_mm: f64) -> bool {
    sharp_mm
        .iter()
        .all(|sharp| line.apart_mm(*sharp, along_mm) > away_mm)
}

/// The points beside a line up to `reach_mm` to either side, those of other relief and of the rim left out, with the height to
/// the outline's own side; and how many points each one stands for.
fn laid_out(
    sheet: &Sheet,
    outlines: &[Outline],
    which: usize,
    line: &Line,
    reach_mm: f64,
) -> (Vec<Laid>, usize) {
    let outline = &outlines[which];
    let sign = outline.depth_mm.signum();
    let ruler = line.ruler();
    let beyond = reach_mm + 2.0 * LEVEL_MM;
    let near = |p: &Flat| {
        let (along, across) = outline.laid(p);
        along.abs() < outline.length_mm / 2.0 + beyond && across.abs() < outline.across_mm + beyond
    };
    let mut points: Vec<Laid> = Vec::new();
    for i in (0..sheet.len()).filter(|&i| !sheet.rim[i] && near(&sheet.flat[i])) {
        let Some((along, across)) = ruler.laid(&sheet.flat[i]) else {
            continue;
        };
        if across.abs() < reach_mm && !of_others(sheet, outlines, which, i) {
            points.push(Laid {
                along,
                across,
                height: sign * sheet.height_mm[i],
            });
        }
    }
    let thin = points.len().div_ceil(PLENTY).max(1);
    (points.into_iter().step_by(thin).collect(), thin)
}
