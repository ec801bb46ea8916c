//! Labels that point at spots: never over each other, leaders uncrossed, on bare paper where that is near.

use crate::canvas::{Canvas, Face};
use crate::colour::INK;
use crate::ground::{Area, Ground};
use crate::taken::Taken;

/// Height of a line of a label in pixels.
const LINE: f32 = 30.0;
const PAD: f32 = 9.0;
/// Room that is kept between labels, in pixels.
const APART: f32 = 6.0;

/// Radius of a ring where the spot has no size of its own, in pixels.
pub const USUAL_RING: f32 = 16.0;
/// A ring larger than this may have labels within it, in pixels: it goes round much metal.
const LARGE_RING: f32 = 80.0;

/// How much longer a leader may be, in pixels, so that plain metal isn't hidden.
const HIDING: f32 = 140.0;
/// How much longer so that a leader doesn't pass through another's ring.
const THROUGH_RING: f32 = 250.0;
/// How much longer so that leaders don't cross each other or labels: longer than any.
const TANGLED: f32 = 5000.0;
/// How often labels look for better places.
const ROUNDS: usize = 4;

/// A label before it has a place.
pub struct Label {
    /// The spot, in pixels of the sheet.
    pub spot: [f32; 2],
    /// Radius around it from which the leader starts, in pixels.
    pub radius: f32,
    /// Whether a ring is drawn there.
    pub ringed: bool,
    /// First line, bold; then the others.
    pub lines: Vec<String>,
}

/// From the ring to the label, in pixels.
pub(crate) type Leader = [[f32; 2]; 2];

/// A label at its place.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stand {
    area: Area,
    leader: Leader,
}

/// Draws rings, leaders and labels on the area of `ground`, clear of the boxes in `kept_clear`. A label that finds no
/// place is left out; its ring stays. Gives what they take.
pub fn draw(canvas: &mut Canvas, labels: &[Label], kept_clear: &[Area], ground: &Ground) -> Taken {
    for label in labels.iter().filter(|l| l.ringed) {
        canvas.ring(label.spot, label.radius, INK);
    }
    let sizes: Vec<[f32; 2]> = labels.iter().map(|l| size(canvas, l)).collect();
    let stands = Crowd::new(labels, &sizes, kept_clear, ground).stands();
    for stand in stands.iter().flatten() {
        let [start, end] = stand.leader;
        canvas.line(start, end, 6.0, [255, 255, 255]);
        canvas.line(start, end, 3.0, INK);
    }
    for (label, stand) in labels.iter().zip(&stands) {
        let Some([left, top, width, height]) = stand.map(|s| s.area) else {
            continue;
        };
        canvas.rect([left, top], [width, height], [255, 255, 255], 240, Some(INK));
        for (i, line) in label.lines.iter().enumerate() {
            let at = [left + PAD, top + PAD - 3.0 + LINE * i as f32];
            canvas.text(at, LINE, face(i), INK, line);
        }
    }
    let placed = stands.iter().flatten();
    let small = labels.iter().filter(|l| l.ringed && l.radius <= LARGE_RING);
    Taken {
        boxes: placed
            .clone()
            .map(|s| s.area)
            .chain(kept_clear.iter().copied())
            .collect(),
        rings: small.map(|l| around(l.spot, l.radius + APART)).collect(),
        leaders: placed.map(|s| s.leader).collect(),
    }
}

fn face(line: usize) -> Face {
    if line == 0 { Face::Bold } else { Face::Regular }
}

/// Width and height that a label takes.
fn size(canvas: &Canvas, label: &Label) -> [f32; 2] {
    let widths = label
        .lines
        .iter()
        .enumerate()
        .map(|(i, line)| canvas.text_width(LINE, face(i), line));
    [
        widths.fold(0.0, f32::max) + 2.0 * PAD,
        LINE * label.lines.len() as f32 + 2.0 * PAD,
    ]
}

/// Labels that look for places beside each other.
struct Crowd<'a> {
    labels: &'a [Label],
    sizes: &'a [[f32; 2]],
    /// Boxes on which no label may stand.
    clear: Vec<Area>,
    ground: &'a Ground,
}

impl<'a> Crowd<'a> {
    fn new(labels: &'a [Label], sizes: &'a [[f32; 2]], kept_clear: &[Area], ground: &'a Ground) -> Self {
        let small = labels.iter().filter(|l| l.radius <= LARGE_RING);
        let rings = small.map(|l| around(l.spot, l.radius + APART));
        Self {
            labels,
            sizes,
            clear: kept_clear.iter().copied().chain(rings).collect(),
            ground,
        }
    }

    /// Each takes the best place in turn; then again beside all others, and two may exchange their places.
    fn stands(&self) -> Vec<Option<Stand>> {
        let mut stands = vec![None; self.labels.len()];
        for _ in 0..ROUNDS {
            for own in 0..stands.len() {
                self.settle(own, &mut stands);
            }
            for one in 0..stands.len() {
                for other in 0..one {
                    self.exchange(one, other, &mut stands);
                }
            }
        }
        stands
    }

    fn settle(&self, own: usize, stands: &mut [Option<Stand>]) {
        let others = all_but(stands, own, own);
        let mut best = stands[own].and_then(|s| self.at(own, s.area, &others));
        for area in candidates(&self.labels[own], self.sizes[own], self.ground.area()) {
            if let Some(found) = self.at(own, area, &others)
                && best.is_none_or(|(least, _)| found.0 < least)
            {
                best = Some(found);
            }
        }
        stands[own] = best.map(|(_, stand)| stand);
    }

    fn exchange(&self, one: usize, other: usize, stands: &mut [Option<Stand>]) {
        let (Some(mine), Some(yours)) = (stands[one], stands[other]) else {
            return;
        };
        let others = all_but(stands, one, other);
        let both = |a: Area, b: Area| {
            let (first_cost, first) = self.at(one, a, &others)?;
            let with: Vec<Stand> = others.iter().copied().chain([first]).collect();
            let (second_cost, second) = self.at(other, b, &with)?;
            Some((first_cost + second_cost, first, second))
        };
        let now = both(mine.area, yours.area);
        let then = both(
            centred(&yours.area, self.sizes[one]),
            centred(&mine.area, self.sizes[other]),
        );
        if let (Some(now), Some(then)) = (now, then)
            && then.0 < now.0 - 0.01
        {
            stands[one] = Some(then.1);
            stands[other] = Some(then.2);
        }
    }

    /// What a place costs in pixels of leader: near, hiding little, tangled with nothing; `None` where it isn't free.
    fn at(&self, own: usize, area: Area, others: &[Stand]) -> Option<(f32, Stand)> {
        let grown = [
            area[0] - APART,
            area[1] - APART,
            area[2] + 2.0 * APART,
            area[3] + 2.0 * APART,
        ];
        let free = inside(&area, &self.ground.area())
            && self.clear.iter().all(|c| !overlap(c, &grown))
            && others.iter().all(|s| !overlap(&s.area, &grown));
        if !free {
            return None;
        }
        let leader = leader(&self.labels[own], &area);
        let length = (leader[1][0] - leader[0][0]).hypot(leader[1][1] - leader[0][1]);
        let stand = Stand { area, leader };
        let cost = length + HIDING * self.ground.hidden_by(&area) + self.tangle(own, &stand, others);
        Some((cost, stand))
    }

    fn tangle(&self, own: usize, stand: &Stand, others: &[Stand]) -> f32 {
        let tangled = others
            .iter()
            .filter(|other| {
                cross(&stand.leader, &other.leader)
                    || passes_through(&stand.leader, &other.area)
                    || passes_through(&other.leader, &stand.area)
            })
            .count();
        let rings = self
            .labels
            .iter()
            .enumerate()
            .filter(|(i, l)| *i != own && l.radius <= LARGE_RING)
            .filter(|(_, l)| passes_through(&stand.leader, &around(l.spot, l.radius)))
            .count();
        TANGLED * tangled as f32 + THROUGH_RING * rings as f32
    }
}

/// The places that are taken by others than these two.
fn all_but(stands: &[Option<Stand>], one: usize, other: usize) -> Vec<Stand> {
    let kept = |i: usize| i != one && i != other;
    stands
        .iter()
        .enumerate()
        .filter_map(|(i, stand)| stand.filter(|_| kept(i)))
        .collect()
}

/// A box of a size on the middle of another.
fn centred(on: &Area, size: [f32; 2]) -> Area {
    [
        on[0] + (on[2] - size[0]) / 2.0,
        on[1] + (on[3] - size[1]) / 2.0,
        size[0],
        size[1],
    ]
}

/// Boxes around a spot: ring by ring, outward first, then to both sides in turn.
fn candidates(label: &Label, size: [f32; 2], area: Area) -> Vec<Area> {
    let spot = label.spot;
    let outward = (spot[1] - area[1] - area[3] / 2.0).atan2(spot[0] - area[0] - area[2] / 2.0);
    let mut found = Vec::with_capacity(20 * 16);
    for ring in 0..20 {
        let reach = label.radius + 39.0 + 42.0 * ring as f32;
        for k in 0..16 {
            let turn = if k % 2 == 0 { k / 2 } else { -(k + 1) / 2 };
            let angle = outward + std::f32::consts::TAU * turn as f32 / 16.0;
            let (dx, dy) = (angle.cos(), angle.sin());
            let left = spot[0] + dx * (reach + size[0] / 2.0 * dx.abs()) - size[0] / 2.0;
            let top = spot[1] + dy * (reach + size[1] / 2.0 * dy.abs()) - size[1] / 2.0;
            found.push([left, top, size[0], size[1]]);
        }
    }
    found
}

/// From the ring to the nearest place of the label.
fn leader(label: &Label, area: &Area) -> Leader {
    let spot = label.spot;
    let end = [
        spot[0].clamp(area[0], area[0] + area[2]),
        spot[1].clamp(area[1], area[1] + area[3]),
    ];
    let (dx, dy) = (end[0] - spot[0], end[1] - spot[1]);
    let length = dx.hypot(dy).max(1.0);
    let start = [
        spot[0] + dx / length * label.radius,
        spot[1] + dy / length * label.radius,
    ];
    [start, end]
}

/// The square around a spot.
pub(crate) fn around(spot: [f32; 2], radius: f32) -> Area {
    [spot[0] - radius, spot[1] - radius, 2.0 * radius, 2.0 * radius]
}

pub(crate) fn overlap(a: &Area, b: &Area) -> bool {
    a[0] < b[0] + b[2] && b[0] < a[0] + a[2] && a[1] < b[1] + b[3] && b[1] < a[1] + a[3]
}

pub(crate) fn inside(a: &Area, b: &Area) -> bool {
    a[0] >= b[0] && a[1] >= b[1] && a[0] + a[2] <= b[0] + b[2] && a[1] + a[3] <= b[1] + b[3]
}

fn cross(one: &Leader, other: &Leader) -> bool {
    let side = |line: &Leader, p: [f32; 2]| {
        (line[1][0] - line[0][0]) * (p[1] - line[0][1]) - (line[1][1] - line[0][1]) * (p[0] - line[0][0])
    };
    side(one, other[0]) * side(one, other[1]) < 0.0 && side(other, one[0]) * side(other, one[1]) < 0.0
}

/// Whether a leader passes through a box: what is left of it when it is clipped (Liang & Barsky 1984, ACM TOG 3(1) 1-22).
pub(crate) fn passes_through(leader: &Leader, area: &Area) -> bool {
    let (mut enters, mut leaves) = (0.0f32, 1.0f32);
    for k in 0..2 {
        let way = leader[1][k] - leader[0][k];
        let (low, high) = (area[k] - leader[0][k], area[k] + area[k + 2] - leader[0][k]);
        if way == 0.0 {
            if low >= 0.0 || high <= 0.0 {
                return false;
            }
            continue;
        }
        let (near, far) = if way > 0.0 {
            (low / way, high / way)
        } else {
            (high / way, low / way)
        };
        enters = enters.max(near);
        leaves = leaves.min(far);
    }
    enters < leaves
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::METAL;

    const AREA: Area = [0.0, 0.0, 1000.0, 700.0];

    fn at(spot: [f32; 2]) -> Label {
        Label {
            spot,
            radius: USUAL_RING,
            ringed: true,
            lines: vec!["+3/16 in".to_string()],
        }
    }

    fn placed(labels: &[Label]) -> Vec<Stand> {
        let sizes = vec![[180.0, 60.0]; labels.len()];
        let ground = Ground::bare(AREA);
        let stands = Crowd::new(labels, &sizes, &[], &ground).stands();
        stands.into_iter().map(Option::unwrap).collect()
    }

    #[test]
    fn labels_stay_inside_and_apart_and_untangled() {
        let close: Vec<Label> = (0..12).map(|k| at([480.0 + 5.0 * k as f32, 350.0])).collect();
        let spread: Vec<Label> = (0..8)
            .map(|k| at([350.0 + 90.0 * (k % 4) as f32, 300.0 + 90.0 * (k / 4) as f32]))
            .collect();
        // Where the rings lie one on the other, leaders may have to cross; labels never overlap.
        for (labels, may_tangle) in [(close, true), (spread, false)] {
            let stands = placed(&labels);
            for (i, one) in stands.iter().enumerate() {
                assert!(inside(&one.area, &AREA));
                for other in &stands[..i] {
                    assert!(!overlap(&one.area, &other.area));
                    let tangled = cross(&one.leader, &other.leader)
                        || passes_through(&one.leader, &other.area)
                        || passes_through(&other.leader, &one.area);
                    assert!(may_tangle || !tangled, "{one:?} {other:?}");
                }
            }
        }
    }

    #[test]
    fn a_label_stands_on_bare_paper_and_clear_of_what_is_kept_clear() {
        let mut ground = Ground::bare(AREA);
        for x in 0..250 {
            for y in 0..350 {
                ground.note([2.0 * x as f32, 2.0 * y as f32], METAL);
            }
        }
        // Outward is to the left, over the metal; bare paper begins 60 to the right.
        let labels = [at([440.0, 350.0])];
        let sizes = [[180.0, 60.0]];
        let alone = Crowd::new(&labels, &sizes, &[], &ground).stands()[0].unwrap();
        // The metal's last pixels may lie under its border.
        assert!(ground.hidden_by(&alone.area) < 0.1, "{alone:?}");
        let taken = [500.0, 200.0, 200.0, 300.0];
        let moved = Crowd::new(&labels, &sizes, &[taken], &ground).stands()[0].unwrap();
        assert!(!overlap(&moved.area, &taken), "{moved:?}");
    }

    #[test]
    fn a_leader_through_a_box_is_noticed() {
        let area = [10.0, 10.0, 20.0, 20.0];
        assert!(passes_through(&[[0.0, 20.0], [40.0, 20.0]], &area));
        assert!(passes_through(&[[0.0, 0.0], [15.0, 15.0]], &area));
        assert!(!passes_through(&[[0.0, 20.0], [9.0, 20.0]], &area));
        assert!(!passes_through(&[[0.0, 35.0], [40.0, 35.0]], &area));
    }
}
