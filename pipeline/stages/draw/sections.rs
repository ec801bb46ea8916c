//! Draws sections: what a plane cuts out of both sets, the deviation drawn larger and said to be.

use ::draw::{SectionPicture, View, usual_magnification};
use cloud::unit::fraction_of_inch;
use cloud::{Bounds, Point, Vector};
use compare::figures::sure_enough;
use record::PictureRecord;

use super::{Pictures, Sheet};
use crate::say;
use crate::stages::features::sections::{PlaneResult, SectionResult};
use crate::stages::features::warmth;
use crate::trouble::Trouble;

/// Most planes of one section that are drawn; they are chosen evenly, and every one is in the table.
const MOST_DRAWN: usize = 12;

/// Lines on paper: right and up, mm.
type Lines = Vec<Vec<[f64; 2]>>;

impl Sheet<'_> {
    /// The pictures of a section, by name.
    pub(super) fn sections(&self, section: &SectionResult) -> Result<Pictures, Trouble> {
        // Numbered as in the table: what cuts nothing has no number.
        let cuts: Vec<&PlaneResult> = section.planes.iter().filter(|p| !p.cuts_nothing()).collect();
        let count = cuts.len();
        let drawn: Vec<usize> = if count <= MOST_DRAWN {
            (0..count).collect()
        } else {
            (0..MOST_DRAWN)
                .map(|k| k * (count - 1) / (MOST_DRAWN - 1))
                .collect()
        };
        let mut pictures = Vec::new();
        for k in drawn {
            let plane = cuts[k];
            let part = say::file_part(&section.name);
            let name = if section.planes.len() == 1 {
                format!("section-{part}.png")
            } else {
                format!("section-{part}-{:02}.png", k + 1)
            };
            let (caption, png) = self.section(section, plane)?;
            pictures.push((PictureRecord { file: name, caption }, png));
        }
        Ok(pictures)
    }

    /// The caption and the picture of one cut.
    fn section(&self, section: &SectionResult, plane: &PlaneResult) -> Result<(String, Vec<u8>), Trouble> {
        let paper = Paper::of(&plane.plane.facing);
        let reference: Lines = plane
            .pair
            .reference
            .iter()
            .map(|line| self.out_to_the_left(line, &paper))
            .collect();
        let measured: Lines = plane
            .pair
            .measured
            .iter()
            .map(|line| line.iter().map(|p| paper.place(p)).collect())
            .collect();
        let limit_mm = self.limit_of_whole();
        let worst = self.worst(plane, &paper);
        let worst_mm = worst.map_or(0.0, |(mm, _)| mm.abs());
        let magnified = usual_magnification(1.5 * worst_mm.max(limit_mm), extent_mm(&reference));
        let place = match plane.along_mm {
            Some(along) => format!(", {} along", say::plain_64ths(along)),
            None => String::new(),
        };
        let said = match (plane.off_mm, worst) {
            (Some((mm, pm)), _) if plane.along_mm.is_some() => {
                format!("{} there, {}", say::signed(mm), say::pm(pm))
            }
            (_, Some((mm, _))) if mm.abs() > limit_mm => format!("{} at the most", say::signed(mm)),
            (_, Some(_)) => "within the limit".to_string(),
            (_, None) => "not seen well enough".to_string(),
        };
        let ends: Vec<String> = plane.ends().map(|short| short.words()).collect();
        let said = if ends.is_empty() {
            said
        } else {
            format!("{}; {said}", ends.join(", "))
        };
        let marks = worst
            .filter(|(mm, _)| mm.abs() > limit_mm)
            .map(|(mm, at)| (at, vec![say::signed(mm), "the most in this cut".to_string()]));
        let ended = plane.ends().map(|short| {
            let length = fraction_of_inch(short.mm, 32);
            let words = vec![format!("ends here, {length} short"), say::pm(short.pm_mm)];
            (paper.place(&short.at), words)
        });
        let beyond: Lines = plane
            .pair
            .beyond
            .iter()
            .map(|stretch| stretch.points.iter().map(|p| paper.place(p)).collect())
            .collect();
        let lengths = plane.pair.reference_length_mm.zip(plane.pair.measured_length_mm);
        let by_warmth = plane.grown_mm.map_or(String::new(), |grown_mm| {
            format!(" ({})", warmth::grown_in_words(grown_mm))
        });
        let along_metal = lengths.map_or(String::new(), |(was, is)| {
            format!(
                "; along the metal {}{by_warmth}, was {}",
                say::plain_64ths(is),
                say::plain_64ths(was)
            )
        });
        let picture = SectionPicture {
            title: format!("{}{place}: {said}", section.name),
            subtitle: format!(
                "{}, cut and seen looking {}{along_metal}",
                self.comparison.name,
                View::direction_name(&plane.plane.facing)
            ),
            set_by: self.set_by(),
            footer: self.footer(),
            reference: &reference,
            measured: &measured,
            beyond: &beyond,
            magnified,
            limit_mm,
            axes: [paper.words(&paper.right), paper.words(&paper.up)],
            marks: marks.into_iter().chain(ended).collect(),
        };
        let caption = format!("{}. {}.", picture.title, picture.subtitle);
        let png = picture.png().map_err(|e| Trouble::system("drawing", &e))?;
        Ok((caption, png))
    }

    /// The largest deviation that is known well enough beside a plane, and where it is on paper.
    fn worst(&self, plane: &PlaneResult, paper: &Paper) -> Option<(f64, [f64; 2])> {
        let (surface, limit_mm) = (&self.scaled.reference, self.limit_of_whole());
        let facing = plane.plane.facing.normalize();
        let lines = &plane.pair.reference;
        let beside = Bounds::of(lines.iter().flatten())?;
        surface
            .points()
            .iter()
            .zip(&self.compared.smoothed)
            .filter(|(at, _)| {
                (*at - plane.plane.through).dot(&facing).abs() < surface.spacing_mm
                    && beside.grown(surface.spacing_mm).contains(at)
            })
            .filter_map(|(at, smoothed)| {
                let (mm, pm) = (*smoothed)?;
                sure_enough(pm, limit_mm).then(|| (mm, paper.place(at)))
            })
            .max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()))
    }

    /// A line of the reference on paper, run so that the outside of its sheet lies to its left.
    fn out_to_the_left(&self, line: &[Point], paper: &Paper) -> Vec<[f64; 2]> {
        let surface = &self.scaled.reference;
        let mut places: Vec<[f64; 2]> = line.iter().map(|p| paper.place(p)).collect();
        let left_of: f64 = line
            .windows(2)
            .filter_map(|pair| {
                let found = surface.near.nearest(&pair[0])?;
                let normal = paper.along(&surface.normals()[found.index as usize]);
                let run = paper.along(&(pair[1] - pair[0]));
                Some(normal[1] * run[0] - normal[0] * run[1])
            })
            .sum();
        if left_of < 0.0 {
            places.reverse();
        }
        places
    }
}

/// The paper of a section: what is to its right and what is up on it.
struct Paper {
    right: Vector,
    up: Vector,
}

impl Paper {
    /// Looking along `facing`, with the body's up upward; a level cut is seen from above with forward to the left.
    fn of(facing: &Vector) -> Self {
        if facing.z.abs() > 0.9 {
            return Self {
                right: Vector::x(),
                up: Vector::y(),
            };
        }
        let up = (Vector::z() - facing * facing.z).normalize();
        Self {
            right: facing.cross(&up),
            up,
        }
    }

    fn along(&self, vector: &Vector) -> [f64; 2] {
        [self.right.dot(vector), self.up.dot(vector)]
    }

    fn place(&self, point: &Point) -> [f64; 2] {
        self.along(&point.coords)
    }

    fn words(&self, direction: &Vector) -> (&'static str, &'static str) {
        (View::direction_name(&-direction), View::direction_name(direction))
    }
}

fn extent_mm(lines: &Lines) -> f64 {
    let all = || lines.iter().flatten();
    let span = |k: usize| {
        let low = all().map(|p| p[k]).fold(f64::INFINITY, f64::min);
        let high = all().map(|p| p[k]).fold(f64::NEG_INFINITY, f64::max);
        high - low
    };
    span(0).max(span(1))
}
