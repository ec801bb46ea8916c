//! The beads and recesses of two sets, matched.
//!
//! Both are found by the same finder on the plane of the reference's sheet. Relief that is too gentle to have been pressed
//! still matches pressed relief of the other set, so that a bead pressed far too shallow is shallow and not missing; alone it
//! says nothing. A bead is missing only where the measured set shows metal in its place.

use crate::pairing::nearest_first;
use cloud::statistics::median;
use cloud::{Body, Motion, Scan, Surface, Vector};

use super::curved::follow::Followed;
use super::moved::moved;
use super::relief::Outline;
use super::sheet::Sheet;
use super::{Bead, front_to_back, read_one, relief, say, sheet};

/// Farthest that a bead may lie across from its place and still be the same, mm (an inch).
const ACROSS_MM: f64 = 25.4;
/// Farthest that a recess may lie from its place, mm (two inches); it may have no more in common.
const APART_MM: f64 = 50.8;
/// Two beads are the same when at least this share of the shorter lies beside the longer.
const BESIDE: f64 = 0.3;
/// Least cosine between their directions.
const PARALLEL: f64 = 0.9;
/// Places of a bead that are looked at, and the share that must show metal for the bead to be missing.
const LOOKED_AT: usize = 9;
const SEEN: f64 = 0.8;
/// Farthest that a point may lie from such a place, in spacings.
const SHOWS: f64 = 2.5;

/// A bead or a recess of both sets, or of one: missing where the measured set has none and shows the metal, extra where the
/// reference has none.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// `bead 1`, `recess 1`: counted front to back and left to right within the region.
    pub name: String,
    /// In the reference.
    pub reference: Option<Bead>,
    /// In the measured set, in the reference's frame.
    pub measured: Option<Bead>,
    /// How it has moved in the sheet, mm: across, and along where both ends show it; nothing where one is missing.
    pub moved_mm: Vector,
    /// ± of the move, the way it has moved (half the 95 % band), mm; where one is missing, of the other's place. The setting's share
    /// is not in it before it is counted in.
    pub pm_mm: f64,
    /// `1/8 rearward`, `1/32 shallow`, one a finding.
    pub words: Vec<String>,
}

impl Pair {
    /// The same with the ± that the setting brings into its place, mm, counted in: what that hides has not been seen to move.
    pub fn with_setting(mut self, setting_pm_mm: f64) -> Self {
        self.pm_mm = self.pm_mm.hypot(setting_pm_mm);
        if self.reference.is_some()
            && self.measured.is_some()
            && let Some(place) = self.words.first_mut()
        {
            *place = say::place(&self.moved_mm, self.pm_mm);
        }
        self
    }

    /// ± of the move by the two readings alone, mm; `None` where one of the two is missing.
    pub fn read_pm_mm(&self) -> Option<f64> {
        let (ours, theirs) = self.reference.as_ref().zip(self.measured.as_ref())?;
        moved(ours, theirs).map(|moved| moved.pm_mm)
    }
}

/// Finds the beads and recesses among the points `members` of the reference and in the measured metal over them, and matches
/// them, front to back. The reference's normals are to the outside. Where the measured set was not seen, or can't be read
/// across, a bead is left out, and so it is where only one of the two could be followed round its bends.
pub fn matched(
    reference: &Surface<Body>,
    members: &[u32],
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Body>,
) -> Vec<Pair> {
    let mut pairs = Vec::new();
    for ours in sheet::laid(reference, members) {
        if let Some(theirs) = ours.of_measured(measured, reference_from_measured) {
            pairs.extend(matched_on(&ours, &theirs));
        }
    }
    let bead = |pair: &Pair| {
        pair.reference
            .as_ref()
            .or(pair.measured.as_ref())
            .map(|b| (b.kind, b.at))
    };
    front_to_back(&mut pairs, |pair| {
        bead(pair).map_or(cloud::Point::origin(), |b| b.1)
    });
    let mut counts = [0usize; 2];
    for pair in &mut pairs {
        if let Some((kind, _)) = bead(pair) {
            counts[kind as usize] += 1;
            pair.name = format!("{} {}", kind.word(), counts[kind as usize]);
        }
    }
    pairs
}

/// The pairs of one sheet, without their names.
fn matched_on(ours: &Sheet, theirs: &Sheet) -> Vec<Pair> {
    let (mut our_outlines, mut their_outlines) = (relief::outlines(ours), relief::outlines(theirs));
    let partners = partners(&our_outlines, &their_outlines);
    // A bead that bends just as much as one axis tells is read along it in one set and round its bend in the other by chance.
    for &(i, j) in &partners {
        let (one, other) = (&mut our_outlines[i], &mut their_outlines[j]);
        match (one.followed.is_some(), other.followed.is_some()) {
            (true, false) => other.follow_bends(theirs),
            (false, true) => one.follow_bends(ours),
            _ => {}
        }
    }
    let mut pairs = Vec::new();
    for (i, outline) in our_outlines.iter().enumerate() {
        let partner = partners
            .iter()
            .find(|(ours, _)| *ours == i)
            .map(|(_, theirs)| *theirs);
        let pressed = outline.pressed || partner.is_some_and(|j| their_outlines[j].pressed);
        if !pressed {
            continue;
        }
        let Some(bead) = read_one(ours, &our_outlines, i) else {
            continue;
        };
        match partner {
            Some(j) => {
                if let Some(measured) = read_one(theirs, &their_outlines, j) {
                    let pieces = 1 + pieces(outline, &their_outlines, &partners);
                    pairs.extend(both(bead, measured, pieces));
                }
            }
            // Metal that rust has parted in the reference is there where the measured bead runs on through it.
            None if their_outlines.iter().any(|whole| is_piece(whole, outline)) => {}
            None if shows(theirs, outline) => pairs.push(alone(Some(bead), None, "missing")),
            None => {}
        }
    }
    for (j, outline) in their_outlines.iter().enumerate() {
        let known = partners.iter().any(|(_, theirs)| *theirs == j)
            || our_outlines.iter().any(|ours| is_piece(ours, outline));
        if known || !outline.pressed || !shows(ours, outline) {
            continue;
        }
        if let Some(bead) = read_one(theirs, &their_outlines, j) {
            pairs.push(alone(None, Some(bead), "extra: the reference has none"));
        }
    }
    pairs
}

/// Which outlines belong together: the nearest two first, each once.
fn partners(ours: &[Outline], theirs: &[Outline]) -> Vec<(usize, usize)> {
    let gaps = (0..ours.len())
        .flat_map(|i| (0..theirs.len()).map(move |j| (i, j)))
        .filter_map(|(i, j)| Some((gap(&ours[i], &theirs[j])?, i, j)))
        .collect();
    nearest_first(gaps)
}

/// How far two outlines are from being one, mm; `None` where they can't be.
fn gap(ours: &Outline, theirs: &Outline) -> Option<f64> {
    if ours.depth_mm * theirs.depth_mm < 0.0 {
        return None;
    }
    let (along, across) = ours.laid(&theirs.middle);
    let in_one_place = || {
        let apart = along.hypot(across);
        (apart < APART_MM.max(0.3 * ours.length_mm) && alike(ours, theirs)).then_some(apart)
    };
    match (&ours.followed, &theirs.followed) {
        (Some(a), Some(b)) if a.length_mm() < b.length_mm() => return beside(b, a.length_mm(), ours),
        (Some(a), Some(b)) => return beside(a, b.length_mm(), theirs),
        // The other may be a piece of it, or not have been followed.
        (Some(a), None) => return beside(a, theirs.length_mm, theirs).or_else(in_one_place),
        (None, Some(b)) => return beside(b, ours.length_mm, ours).or_else(in_one_place),
        (None, None) => {}
    }
    if ours.kind != super::Kind::Bead || theirs.kind != super::Kind::Bead {
        return in_one_place();
    }
    let aside = (across
        - ours
            .midline
            .at(along.clamp(-ours.length_mm / 2.0, ours.length_mm / 2.0)))
    .abs();
    let beside = (ours.length_mm + theirs.length_mm) / 2.0 - along.abs();
    let shorter = ours.length_mm.min(theirs.length_mm);
    let parallel = ours.axis.dot(&theirs.axis).abs() > PARALLEL;
    // The ends count little: a bead may be short.
    (parallel && aside < ACROSS_MM && beside > BESIDE * shorter).then(|| aside + 0.02 * along.abs())
}

/// How far the places of another outline lie from a middle line, mm, median; `None` where that is too far for the two to be
/// one, or the other too short.
fn beside(line: &Followed, length_mm: f64, other: &Outline) -> Option<f64> {
    let mut off: Vec<f64> = (0..LOOKED_AT)
        .map(|k| line.passes_mm(&other.place(share(k), 0.0)))
        .collect();
    let off = median(&mut off);
    (off < ACROSS_MM && length_mm > BESIDE * line.length_mm()).then_some(off)
}

/// How far along the place number `k` is that is looked at.
fn share(k: usize) -> f64 {
    (k as f64 + 0.5) / LOOKED_AT as f64
}

/// Whether two recesses, or a recess and a bead, are near enough in size to be one.
fn alike(ours: &Outline, theirs: &Outline) -> bool {
    (1.0 / 3.0..3.0).contains(&(ours.length_mm / theirs.length_mm))
}

/// How many more pieces of a bead the measured set shows than the one that was matched.
fn pieces(ours: &Outline, theirs: &[Outline], partners: &[(usize, usize)]) -> usize {
    let free = |j: &usize| partners.iter().all(|(_, theirs)| theirs != j);
    (0..theirs.len())
        .filter(free)
        .filter(|&j| is_piece(ours, &theirs[j]))
        .count()
}

/// Whether an outline lies on the other's metal.
fn is_piece(ours: &Outline, theirs: &Outline) -> bool {
    if let Some(followed) = &ours.followed {
        let middle = theirs.place(0.5, 0.0);
        return ours.depth_mm * theirs.depth_mm > 0.0
            && ours.covers(&middle, ours.width_mm / 2.0)
            && theirs.length_mm < followed.length_mm();
    }
    let (along, across) = ours.laid(&theirs.middle);
    ours.depth_mm * theirs.depth_mm > 0.0
        && along.abs() < ours.length_mm / 2.0
        && (across - ours.midline.at(along)).abs() < ours.across_mm.min(2.0 * ours.width_mm) / 2.0
        && theirs.length_mm < ours.length_mm
}

/// Whether a sheet shows metal where an outline lies.
fn shows(sheet: &Sheet, outline: &Outline) -> bool {
    let reach = SHOWS * sheet.spacing_mm;
    let mut hits = 0;
    for k in 0..LOOKED_AT {
        for side in [-0.5, 0.0, 0.5] {
            let at = outline.place(share(k), side * outline.width_mm);
            hits += usize::from(sheet.nearest(&at, reach).is_some());
        }
    }
    hits as f64 >= SEEN * 3.0 * LOOKED_AT as f64
}

fn alone(reference: Option<Bead>, measured: Option<Bead>, word: &str) -> Pair {
    Pair {
        name: String::new(),
        pm_mm: reference
            .as_ref()
            .or(measured.as_ref())
            .map_or(0.0, |b| b.pm_place_mm),
        reference,
        measured,
        moved_mm: Vector::zeros(),
        words: vec![word.to_string()],
    }
}

/// `None` where one of the two was followed round bends and the other was not: such readings can't be held against each other.
fn both(reference: Bead, measured: Bead, pieces: usize) -> Option<Pair> {
    if reference.middle_line.is_empty() != measured.middle_line.is_empty() {
        return None;
    }
    let measured = if measured.along.dot(&reference.along) < 0.0 {
        measured.turned_round()
    } else {
        measured
    };
    let moved = moved(&reference, &measured)?;
    let mut words = say::words(&reference, &measured, &moved);
    if pieces > 1 {
        words.push(format!("in {pieces} pieces"));
    }
    Some(Pair {
        name: String::new(),
        moved_mm: moved.in_sheet,
        pm_mm: moved.pm_mm,
        reference: Some(reference),
        measured: Some(measured),
        words,
    })
}
