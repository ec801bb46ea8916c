//! What is pointed at in a picture: features and regions that are not in, pads, worst spots.

use ::draw::Mark;
use ::draw::View;
use cloud::unit::fraction_of_inch;
use cloud::{Bounds, Point};
use compare::figures::sure_enough;
use compare::{Region, Verdict};
use record::verdict::NOT_MEASURED;

use super::Sheet;
use super::pointed::place_of_bead;

/// Most spots that are pointed at in one picture.
const MOST_MARKS: usize = 5;
/// A view points at metal that is turned at least so far toward it (the cosine).
const TOWARD: f64 = 0.5;

impl Sheet<'_> {
    /// What was read at holes, recesses and folds, then the worst spot of each region that is not in; without regions the
    /// worst spots of the whole.
    pub(super) fn marks_of_whole(&self, view: &View) -> Vec<Mark> {
        let reference = &self.scaled.reference;
        let mut marks = self.marks_of_features();
        marks.retain(|mark| mark.choices.iter().any(|(at, _)| self.points_at(view, at)));
        if self.compared.regions.is_empty() {
            let all: Vec<u32> = (0..reference.points().len() as u32).collect();
            let spots = self.spots(&all, self.comparison.limit_mm, MOST_MARKS, Some(view));
            marks.extend(spots.into_iter().map(|choice| Mark {
                choices: vec![choice],
                hidden_too: false,
                ring_mm: None,
            }));
            return marks;
        }
        let mut of_regions: Vec<(f64, Mark)> = Vec::new();
        for r in &self.compared.regions {
            let told_as_fold = self.found.folds.iter().any(|f| f.name == r.region.name);
            if r.verdict == Verdict::Within || told_as_fold {
                continue;
            }
            let mut choices = self.spots(&r.members, r.region.limit_mm, 8, Some(view));
            for (_, lines) in &mut choices {
                lines.push(r.region.name.clone());
            }
            if let Some(s) = &r.figures.spread {
                of_regions.push((
                    s.max_mm.abs().max(s.min_mm.abs()),
                    Mark {
                        choices,
                        hidden_too: false,
                        ring_mm: None,
                    },
                ));
            }
        }
        of_regions.sort_by(|a, b| b.0.total_cmp(&a.0));
        marks.extend(of_regions.into_iter().take(MOST_MARKS + 2).map(|m| m.1));
        marks
    }

    /// Whether a view is one to point at a place in: it looks squarely enough at the metal there, or none that is drawn does. From
    /// behind or edge on a label would stand at nothing.
    fn points_at(&self, view: &View, at: &Point) -> bool {
        let reference = &self.scaled.reference;
        let Some(metal) = reference.near.nearest(at) else {
            return true;
        };
        let normal = reference.normals()[metal.index as usize];
        let squarely = |view: &View| {
            let cosine = normal.dot(&view.toward());
            let turned = if reference.sides_known {
                cosine
            } else {
                cosine.abs()
            };
            turned >= TOWARD
        };
        squarely(view) || !self.views.iter().any(squarely)
    }

    /// Holes, recesses and folds that are not in.
    fn marks_of_features(&self) -> Vec<Mark> {
        let mut marks = Vec::new();
        let mut add = |at: Point, ring_mm: Option<f64>, lines: Vec<String>| {
            marks.push(Mark {
                choices: vec![(at, lines)],
                hidden_too: true,
                ring_mm,
            });
        };
        for r in self
            .found
            .recesses
            .iter()
            .filter(|r| r.verdict != Verdict::Within)
        {
            let mut lines = vec![r.pair.name.clone()];
            lines.extend(
                r.pair
                    .words
                    .iter()
                    .take(3)
                    .map(|w| w.split(';').next().unwrap_or(w).to_string()),
            );
            let [a, b] = r.pair.reference.width_mm;
            add(r.pair.reference.at, Some(a.min(b) / 2.0), lines);
        }
        for b in self.found.beads.iter().filter(|b| b.verdict == Verdict::Outside) {
            if let Some(bead) = b.pair.reference.as_ref().or(b.pair.measured.as_ref()) {
                let words = b
                    .pair
                    .words
                    .iter()
                    .filter(|w| *w != "in its place")
                    .take(2)
                    .cloned();
                let (at, ring_mm) = place_of_bead(bead);
                add(
                    at,
                    ring_mm,
                    [b.pair.name.clone()].into_iter().chain(words).collect(),
                );
            }
        }
        for edge in self.found.edges.iter().filter(|e| e.verdict == Verdict::Outside) {
            if let Some(stretch) = edge.longest_off() {
                let middle = stretch.runs.get(stretch.runs.len() / 2);
                let at = middle.map_or(stretch.from, |&run| edge.runs[run].middle);
                add(at, None, vec![edge.name.clone(), stretch.words.clone()]);
            }
        }
        for h in self.found.holes.iter().filter(|h| h.verdict != Verdict::Within) {
            let hole = h.pair.reference.as_ref().or(h.pair.measured.as_ref());
            let Some(hole) = hole else { continue };
            // Beside the hole: in its middle there is no metal to point at.
            let ring = hole.slot.as_ref().map_or(hole.diameter_mm, |slot| slot.length_mm) / 2.0;
            add(hole.at, Some(ring), vec![h.pair.name.clone(), h.pair.words()]);
        }
        for fold in self.found.folds.iter().filter(|f| f.verdict != Verdict::Within) {
            if let Some(r) = self.compared.regions.iter().find(|r| r.region.name == fold.name) {
                let middle = r.region.bounds.centre();
                let nearest = r
                    .members
                    .iter()
                    .map(|&i| self.scaled.reference.points()[i as usize])
                    .min_by(|a, b| {
                        (a - middle)
                            .norm_squared()
                            .total_cmp(&(b - middle).norm_squared())
                    });
                if let Some(at) = nearest {
                    add(at, None, vec![fold.name.clone(), fold.words.clone()]);
                }
            }
        }
        marks
    }

    pub(super) fn marks_of_region(&self, region: &Region, members: &[u32]) -> Vec<Mark> {
        let shift = self
            .compared
            .regions
            .iter()
            .position(|r| r.region.name == region.name)
            .and_then(|k| self.found.shifts[k].as_ref());
        let pads = shift.map_or(&[][..], |s| &s.pads);
        // Where pads give the answer, or all of it has moved alike, one spot is enough.
        let alike = shift.is_some_and(|s| s.words.contains("all of it"));
        let most = if pads.is_empty() && !alike { 3 } else { 1 };
        let spots = self.spots(members, region.limit_mm, most, None);
        let taken: Vec<Point> = spots.iter().map(|(at, _)| *at).collect();
        let mut marks: Vec<Mark> = spots
            .into_iter()
            .map(|choice| Mark {
                hidden_too: false,
                ring_mm: None,
                choices: vec![choice],
            })
            .collect();
        marks.extend(self.marks_of_edges(region, &taken));
        // A pad that must move has an arrow with its words.
        let still = pads
            .iter()
            .filter(|p| ["can't tell", "home", NOT_MEASURED].contains(&p.words.as_str()));
        marks.extend(still.map(|pad| Mark {
            hidden_too: true,
            ring_mm: None,
            choices: vec![(pad.at, vec![pad.words.clone(), format!("pad {}", pad.name)])],
        }));
        marks
    }

    /// Up to `most` spots that are farthest off and lie apart, each with its figure.
    fn spots(
        &self,
        members: &[u32],
        limit_mm: f64,
        most: usize,
        view: Option<&View>,
    ) -> Vec<(Point, Vec<String>)> {
        let reference = &self.scaled.reference;
        let toward = view.map(View::toward);
        let mut order: Vec<(f64, u32)> = members
            .iter()
            .filter(|&&i| {
                // Only metal that faces the looker, where it is known which side is out.
                toward.is_none_or(|t| {
                    let cosine = reference.normals()[i as usize].dot(&t);
                    cosine > 0.3 || (!reference.sides_known && cosine < -0.3)
                })
            })
            .filter_map(|&i| {
                let (mm, pm) = self.compared.smoothed[i as usize]?;
                sure_enough(pm, limit_mm).then_some((mm, i))
            })
            .collect();
        order.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()).then(a.1.cmp(&b.1)));
        let apart = Bounds::of(members.iter().map(|&i| &reference.points()[i as usize]))
            .map_or(0.0, |b| b.diagonal() / 5.0);
        let mut chosen: Vec<(f64, u32)> = Vec::new();
        for (mm, i) in order {
            // After the worst, only what is out is worth pointing at.
            if chosen.len() == most || (!chosen.is_empty() && mm.abs() <= limit_mm) {
                break;
            }
            let at = reference.points()[i as usize];
            if chosen
                .iter()
                .all(|(_, j)| (reference.points()[*j as usize] - at).norm() > apart)
            {
                chosen.push((mm, i));
            }
        }
        // Where even the worst rounds to nothing there is nothing to point at.
        chosen.retain(|(mm, _)| fraction_of_inch(*mm, 32) != "0");
        let said = |mm: f64| {
            let mut lines = vec![figure(mm)];
            if mm.abs() <= limit_mm {
                lines.push("the most here".to_string());
            }
            lines
        };
        chosen
            .into_iter()
            .map(|(mm, i)| (reference.points()[i as usize], said(mm)))
            .collect()
    }
}

/// `+3/16 in (+4.8 mm)`, with a real minus: the hyphen of a mixed number is none.
fn figure(mm: f64) -> String {
    let inches = fraction_of_inch(mm, 32);
    let sign = if mm < 0.0 { "−" } else { "+" };
    let sign_in = if inches == "0" { "" } else { sign };
    format!("{sign_in}{inches} in ({sign}{:.1} mm)", mm.abs())
}
