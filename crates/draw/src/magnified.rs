//! A measured line held against a reference line in a cut: where each place stands, and the deviation drawn larger.

/// A place in the plane of a cut, mm.
pub type Place = nalgebra::Vector2<f64>;

/// The reference lines of a cut. Out lies to the left of the way in which each of them runs.
pub struct Reference {
    lines: Vec<Run>,
}

struct Run {
    at: Vec<Place>,
    along_mm: Vec<f64>,
    closed: bool,
}

/// Where a place stands on the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Foot {
    /// Which line.
    pub line: usize,
    /// How far along it, mm.
    pub along_mm: f64,
    /// The nearest place of the reference, mm.
    pub at: Place,
    /// How far the place is from it, mm; positive is proud, to the left.
    pub deviation_mm: f64,
    /// Whether the place lies past an end of the line rather than beside it.
    pub beyond: bool,
}

/// A place of the measured line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Where it is, mm.
    pub place: Place,
    /// Where it stands; `None` where there is no reference.
    pub foot: Option<Foot>,
    /// Where it is drawn, mm.
    pub drawn: Place,
}

impl Sample {
    /// Where it stands, if it stands beside the reference.
    pub fn beside(&self) -> Option<Foot> {
        self.foot.filter(|foot| !foot.beyond)
    }
}

impl Reference {
    /// The reference lines; places that repeat or are not finite are passed over.
    pub fn of(lines: &[Vec<[f64; 2]>]) -> Self {
        let lines = lines.iter().filter_map(|line| {
            let mut at = finite(line);
            at.dedup();
            let (first, last) = (*at.first()?, *at.last()?);
            let mut along_mm = vec![0.0];
            let mut length = 0.0;
            for ends in at.windows(2) {
                length += (ends[1] - ends[0]).norm();
                along_mm.push(length);
            }
            let closed = at.len() > 3 && first == last;
            (at.len() > 1).then_some(Run { at, along_mm, closed })
        });
        Self {
            lines: lines.collect(),
        }
    }

    /// Each line whole.
    pub fn lines(&self) -> impl Iterator<Item = &[Place]> {
        self.lines.iter().map(|line| line.at.as_slice())
    }

    /// The foot of a place on the nearest line.
    pub fn foot(&self, place: Place) -> Option<Foot> {
        let mut nearest: Option<(f64, usize, usize, f64)> = None;
        for (k, line) in self.lines.iter().enumerate() {
            for (i, ends) in line.at.windows(2).enumerate() {
                let way = ends[1] - ends[0];
                let share = (place - ends[0]).dot(&way) / way.norm_squared();
                let away = (place - ends[0] - way * share.clamp(0.0, 1.0)).norm_squared();
                if nearest.is_none_or(|n| away < n.0) {
                    nearest = Some((away, k, i, share));
                }
            }
        }
        let (_, k, i, share) = nearest?;
        let line = &self.lines[k];
        let way = line.at[i + 1] - line.at[i];
        let at = line.at[i] + way * share.clamp(0.0, 1.0);
        // At a corner out is between the outs of both sides.
        let mut out = line.out(i);
        let past_end = !(0.0..=1.0).contains(&share);
        let next = if past_end {
            line.neighbour(i, share > 1.0)
        } else {
            None
        };
        if let Some(next) = next {
            out += line.out(next);
        }
        let off = place - at;
        Some(Foot {
            line: k,
            along_mm: line.along_mm[i] + way.norm() * share.clamp(0.0, 1.0),
            at,
            deviation_mm: off.norm().copysign(off.dot(&out)),
            beyond: past_end && next.is_none(),
        })
    }

    /// Places along a measured line, no farther apart than `step_mm`, each drawn at its foot plus its deviation times
    /// `magnified`. Past an end of the reference the line keeps its true shape and hangs on where it passed the end.
    pub fn samples(&self, line: &[[f64; 2]], magnified: f64, step_mm: f64) -> Vec<Sample> {
        let mut samples: Vec<Sample> = finely(&finite(line), step_mm)
            .into_iter()
            .map(|place| Sample {
                place,
                foot: self.foot(place),
                drawn: place,
            })
            .collect();
        let mut shifts: Vec<Option<Place>> = samples
            .iter()
            .map(|s| s.beside().map(|foot| (s.place - foot.at) * (magnified - 1.0)))
            .collect();
        for i in 1..shifts.len() {
            shifts[i] = shifts[i].or(shifts[i - 1]);
        }
        for i in (1..shifts.len()).rev() {
            shifts[i - 1] = shifts[i - 1].or(shifts[i]);
        }
        for (sample, shift) in samples.iter_mut().zip(shifts) {
            sample.drawn += shift.unwrap_or_else(Place::zeros);
        }
        samples
    }

    /// The stretches of the reference beside which nothing was measured, longer than `least_mm`.
    pub fn unseen(&self, measured: &[Vec<Sample>], least_mm: f64) -> Vec<Vec<Place>> {
        let mut covered: Vec<(usize, [f64; 2])> = Vec::new();
        for pair in measured.iter().flat_map(|run| run.windows(2)) {
            if let (Some(a), Some(b)) = (pair[0].foot, pair[1].foot)
                && a.line == b.line
            {
                let apart_mm = (pair[1].place - pair[0].place).norm();
                let spans = self.lines[a.line].spans(&a, &b, apart_mm);
                covered.extend(spans.into_iter().map(|span| (a.line, span)));
            }
        }
        covered.sort_by(|a, b| a.0.cmp(&b.0).then(a.1[0].total_cmp(&b.1[0])));
        let mut stretches = Vec::new();
        for (k, line) in self.lines.iter().enumerate() {
            let length = line.length_mm();
            let own = covered.iter().filter(|c| c.0 == k).map(|c| c.1);
            let mut end = 0.0f64;
            for [from, to] in own.chain([[length, length]]) {
                if from - end > least_mm {
                    stretches.push(line.between(end, from));
                }
                end = end.max(to);
            }
        }
        stretches
    }
}

impl Run {
    fn length_mm(&self) -> f64 {
        self.along_mm.last().copied().unwrap_or(0.0)
    }

    /// Out of a piece: to the left of its way.
    fn out(&self, i: usize) -> Place {
        let way = (self.at[i + 1] - self.at[i]).normalize();
        Place::new(-way.y, way.x)
    }

    /// The piece after or before another.
    fn neighbour(&self, i: usize, after: bool) -> Option<usize> {
        let last = self.at.len() - 2;
        match (after, i) {
            (true, i) if i < last => Some(i + 1),
            (false, i) if i > 0 => Some(i - 1),
            (true, _) => self.closed.then_some(0),
            (false, _) => self.closed.then_some(last),
        }
    }

    /// What two neighbouring places of a measured line cover of the reference. On the inside of a corner the foot jumps
    /// by up to a few deviations; what it jumps farther was not seen.
    fn spans(&self, a: &Foot, b: &Foot, apart_mm: f64) -> Vec<[f64; 2]> {
        let (from, to) = (a.along_mm.min(b.along_mm), a.along_mm.max(b.along_mm));
        let most = 1.5 * apart_mm + 4.0 * a.deviation_mm.abs().max(b.deviation_mm.abs());
        if to - from <= most {
            vec![[from, to]]
        } else if self.closed && self.length_mm() - (to - from) <= most {
            vec![[0.0, from], [to, self.length_mm()]]
        } else {
            Vec::new()
        }
    }

    fn between(&self, from_mm: f64, to_mm: f64) -> Vec<Place> {
        let ends = |mm: f64| {
            let after = self.along_mm.partition_point(|a| *a <= mm);
            let i = after.clamp(1, self.at.len() - 1);
            let share = (mm - self.along_mm[i - 1]) / (self.along_mm[i] - self.along_mm[i - 1]);
            self.at[i - 1] + (self.at[i] - self.at[i - 1]) * share
        };
        let inner = self.at.iter().zip(&self.along_mm);
        let inner = inner
            .filter(|(_, mm)| **mm > from_mm && **mm < to_mm)
            .map(|(at, _)| *at);
        std::iter::once(ends(from_mm))
            .chain(inner)
            .chain([ends(to_mm)])
            .collect()
    }
}

/// Leaves out what folds over itself: on the inside of a corner a deviation that is drawn larger overshoots and comes
/// back, against the way of the metal. The line goes over at the two places on both sides that lie nearest each other.
pub fn without_folds(samples: &[Sample]) -> Vec<Sample> {
    let apart = |a: &Sample, b: &Sample| (b.drawn - a.drawn).norm();
    let back = |a: &Sample, b: &Sample| (b.drawn - a.drawn).dot(&(b.place - a.place)) < 0.0;
    let mut kept: Vec<Sample> = Vec::with_capacity(samples.len());
    let mut i = 0;
    while i < samples.len() {
        kept.push(samples[i]);
        let mut turn = i;
        while turn + 1 < samples.len() && back(&samples[turn], &samples[turn + 1]) {
            turn += 1;
        }
        if turn == i {
            i += 1;
            continue;
        }
        let length: f64 = samples[i..=turn].windows(2).map(|p| apart(&p[0], &p[1])).sum();
        let before = steps_within(kept.windows(2).rev().map(|p| apart(&p[0], &p[1])), 2.0 * length);
        let after = steps_within(
            samples[turn..].windows(2).map(|p| apart(&p[0], &p[1])),
            2.0 * length,
        );
        let mut best = (f64::INFINITY, kept.len() - 1, turn);
        for (a, from) in kept.iter().enumerate().skip(kept.len() - 1 - before) {
            for (b, to) in samples.iter().enumerate().take(turn + after + 1).skip(turn) {
                let gap = apart(from, to);
                if gap < best.0 {
                    best = (gap, a, b);
                }
            }
        }
        kept.truncate(best.1 + 1);
        i = best.2;
    }
    kept
}

/// How many steps can be gone before they are longer than `length` together.
fn steps_within(steps: impl Iterator<Item = f64>, length: f64) -> usize {
    let mut left = length;
    let gone = steps.take_while(|step| {
        left -= step;
        left >= 0.0
    });
    gone.count()
}

/// Places along a line, those of the line among them, no farther apart than asked for.
pub fn finely(line: &[Place], step_mm: f64) -> Vec<Place> {
    let mut places: Vec<Place> = line.first().copied().into_iter().collect();
    for ends in line.windows(2) {
        let way = ends[1] - ends[0];
        let pieces = (way.norm() / step_mm).ceil().clamp(1.0, 10_000.0) as usize;
        places.extend((1..=pieces).map(|k| ends[0] + way * (k as f64 / pieces as f64)));
    }
    places
}

fn finite(line: &[[f64; 2]]) -> Vec<Place> {
    let whole = line.iter().filter(|at| at.iter().all(|c| c.is_finite()));
    whole.map(|at| Place::from(*at)).collect()
}

#[cfg(test)]
mod tests;
