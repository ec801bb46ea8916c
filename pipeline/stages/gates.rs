//! What has to be cleared up before any answer: doubts about units, hand, face, layers, drift, axes and setting withhold
//! every verdict until the owner says that he has looked.

pub mod alike;
pub mod holes;
pub mod unit;

use ::features::holes::Missing;
use cloud::doubled::{Doubled, doubled};
use cloud::drift::drift;
use cloud::statistics::percentile_of_sorted;
use cloud::{Body, Frame, Scan, Surface, Warning};

use super::features::Found;
use super::register::Setting;
use crate::job::Comparison;
use crate::say;

/// A doubt that withholds every verdict.
pub struct Gate {
    /// The code of the warning that raises it.
    pub code: &'static str,
    /// The word under `answered` that says that the owner has looked.
    pub answer: &'static str,
    /// What he is asked.
    pub question: &'static str,
}

/// All of them.
pub const GATES: [Gate; 14] = [
    gate("unit-doubtful", "unit", "is the unit right?"),
    gate("unit-ratio", "unit", "is the unit right?"),
    gate("fits-mirrored", "hand", HAND),
    gate("hand-doubtful", "hand", HAND),
    gate("lies-either-way", "way", "does it lie the right way round?"),
    gate("face-unknown", "face", "which face of the sheet was measured?"),
    gate("doubled-layer", "layers", "are there two layers in one set?"),
    gate("drifts", "drift", "did the set drift while it was measured?"),
    gate("axes-doubtful", "axes", "is X rearward, Y right and Z up?"),
    gate(
        "not-settled",
        "rest",
        "did the set slide? It did not come to rest: name points, or keep metal that holds it.",
    ),
    gate(
        "holes-disagree",
        "holes",
        "did the set slide, or has the whole skin? Most of its holes lie off alike: set it by holes, or name points.",
    ),
    gate(
        "holes-against-points",
        "holes",
        "was a stop or a line point knocked? Most of the other holes lie off alike: probe those points again, or set it by holes.",
    ),
    gate(
        "points-contradict",
        "holes",
        "which of its points or datum holes moved? They no longer lie to each other as on the reference: set it by those that agree.",
    ),
    gate(
        "metal-against-points",
        "holes",
        "is a point or datum hole not where it was? All of the metal lies off alike as they set it: look at them, or set it by the metal.",
    ),
];

const HAND: &str = "is it the right hand?";

/// What a part that its shape does not tell from its mirror image says of its hand by its holes and pressings: some are
/// missing, and some stand where the reference has none.
pub fn hand_doubtful(setting: &Setting, found: &Found) -> Option<Warning> {
    // A hole that the other set may have and not show says nothing.
    let told = found
        .holes
        .iter()
        .filter(|h| h.pair.missing != Some(Missing::TooSmall));
    let holes = one_sided(told.map(|h| (&h.pair.reference, &h.pair.measured)));
    let beads = one_sided(found.beads.iter().map(|b| (&b.pair.reference, &b.pair.measured)));
    let (missing, extra) = (holes.missing + beads.missing, holes.extra + beads.extra);
    (!setting.hand_told && missing > 0 && extra > 0).then(|| {
        Warning::new(
            "hand-doubtful",
            format!(
                "nothing in its shape tells left hand from right, and of its holes and pressings {missing} are missing while {extra} stand where the reference has none: is it the other hand, or are two axes swapped in the file?"
            ),
        )
    })
}

/// What only one of the two sets has.
struct OneSided {
    missing: usize,
    extra: usize,
}

/// Counted over pairs of the reference's and the measured set's.
fn one_sided<'a, T: 'a>(pairs: impl Iterator<Item = (&'a Option<T>, &'a Option<T>)>) -> OneSided {
    let mut alone = OneSided { missing: 0, extra: 0 };
    for (reference, measured) in pairs {
        alone.missing += usize::from(reference.is_some() && measured.is_none());
        alone.extra += usize::from(reference.is_none() && measured.is_some());
    }
    alone
}

const fn gate(code: &'static str, answer: &'static str, question: &'static str) -> Gate {
    Gate {
        code,
        answer,
        question,
    }
}

/// The questions that are open, each once, in the order of the gates; empty where verdicts may be given. `answered` holds
/// the words for those that the owner has looked at.
pub fn withheld(warnings: &[Warning], answered: &[String]) -> Vec<&'static str> {
    let mut open = Vec::new();
    for gate in &GATES {
        let raised = warnings.iter().any(|w| w.code == gate.code);
        let looked_at = answered.iter().any(|a| a == gate.answer);
        if raised && !looked_at && !open.contains(&gate.question) {
            open.push(gate.question);
        }
    }
    open
}

/// Looks at both sets, before they are set on each other.
pub fn gates(comparison: &Comparison, reference: &Surface<Body>, measured: &Surface<Scan>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let sets = [&comparison.reference, &comparison.measured];
    let ((first, second), (first_drift, second_drift)) = rayon::join(
        || rayon::join(|| doubled(reference), || doubled(measured)),
        || rayon::join(|| drift(reference), || drift(measured)),
    );
    let layers = [first, second];
    let drifts = [first_drift, second_drift];
    // A file held against itself or its own mirror image is looked at once.
    let seen = usize::from(sets[0].path == sets[1].path);
    for ((set, layers), drift) in sets.iter().zip(&layers).zip(&drifts).skip(seen) {
        let name = &set.name;
        if let Some(layers) = layers {
            warnings.push(Warning::new("doubled-layer", in_words(name, layers)));
        }
        if let Some(drift) = drift {
            warnings.push(Warning::new(
                "drifts",
                format!(
                    "{name}: what stands first in the file and what stands last lie {} apart where both show the same metal, at {} places: the set drifted or was knocked while it was measured; measure it again, in shorter pieces",
                    say::plain_64ths(drift.step_mm),
                    drift.places
                ),
            ));
        }
    }
    let silent = comparison.reference.face.is_none() && comparison.measured.face.is_none();
    let thickness = layers
        .iter()
        .flatten()
        .find(|layers| SHEET_MM.contains(&layers.step_mm));
    if let (true, Some(layers)) = (silent, thickness) {
        warnings.push(Warning::new(
            "face-unknown",
            format!(
                "a thickness of {} shows, and neither set says which face of the sheet it shows: declare face = \"outside\" or \"inside\" in each [[set]]",
                say::plain_64ths(layers.step_mm)
            ),
        ));
    }
    warnings.extend(axes_doubtful(&comparison.reference.name, reference));
    warnings
}

/// What sheet of a car is thick, mm: from 30 gauge to a doubled chassis leg.
const SHEET_MM: std::ops::RangeInclusive<f64> = 0.3..=3.5;

fn in_words(name: &str, layers: &Doubled) -> String {
    format!(
        "{name}: over {:.0} % of it two layers lie {} apart: the same sheet measured twice in frames that differ, or both of its faces in one file; leave one of them out",
        100.0 * layers.share,
        say::plain_64ths(layers.step_mm)
    )
}

/// A set is as large as a shell when its longest side and its next are longer than this, mm.
const SHELL_MM: (f64, f64) = (1_500.0, 700.0);
/// A side that is longer than X by this factor is really longer.
const LONGER: f64 = 1.25;
/// A wall that is larger than the largest floor by this factor is really larger.
const LARGER: f64 = 1.5;
/// A normal this near to an axis faces along it, and flat areas are told apart in steps of this, mm.
const FACING: f64 = 0.95;
const STEP_MM: f64 = 10.0;

/// Whether a reference as large as a shell lies otherwise than X rearward and Z up: its longest side is not X, or its
/// largest flat area does not face up. Told only where it is plain.
fn axes_doubtful(name: &str, reference: &Surface<Body>) -> Option<Warning> {
    let sides: Vec<f64> = (0..3).map(|axis| side_mm(reference, axis)).collect();
    let mut by_length = sides.clone();
    by_length.sort_unstable_by(|a, b| b.total_cmp(a));
    if by_length[0] < SHELL_MM.0 || by_length[1] < SHELL_MM.1 {
        return None;
    }
    let areas: Vec<usize> = (0..3).map(|axis| largest_flat(reference, axis)).collect();
    let letter = |axis: usize| ["X", "Y", "Z"][axis];
    let longest = (1..3).max_by(|&a, &b| sides[a].total_cmp(&sides[b]))?;
    let largest = (0..2).max_by_key(|&axis| areas[axis])?;
    let mut doubts = Vec::new();
    if sides[longest] > LONGER * sides[0] {
        doubts.push(format!("its longest side lies along {}", letter(longest)));
    }
    if areas[largest] as f64 > LARGER * areas[2] as f64 {
        doubts.push(format!("its largest flat area faces along {}", letter(largest)));
    }
    (!doubts.is_empty()).then(|| {
        Warning::new(
            "axes-doubtful",
            format!(
                "{name}: {}; a shell lies with X rearward, Y right as seated and Z up. Say which axis points up (up = \"y\" in the [[set]]), or export it again",
                doubts.join(", and ")
            ),
        )
    })
}

/// The length of a side of the box around a set, a few strays left out, mm.
fn side_mm<F: Frame>(surface: &Surface<F>, axis: usize) -> f64 {
    let every = surface.points().len().div_ceil(20_000).max(1);
    let mut places: Vec<f64> = surface.points().iter().step_by(every).map(|p| p[axis]).collect();
    places.sort_unstable_by(f64::total_cmp);
    percentile_of_sorted(&places, 0.995) - percentile_of_sorted(&places, 0.005)
}

/// Points of the largest flat area that faces along an axis, in two neighbouring steps.
fn largest_flat<F: Frame>(surface: &Surface<F>, axis: usize) -> usize {
    let Some(bounds) = surface.cloud.bounds() else {
        return 0;
    };
    let steps = (bounds.size()[axis] / STEP_MM) as usize + 2;
    let mut counts = vec![0usize; steps.min(1_000_000)];
    for (point, normal) in surface.points().iter().zip(surface.normals()) {
        let step = ((point[axis] - bounds.low[axis]) / STEP_MM) as usize;
        if normal[axis].abs() > FACING
            && let Some(count) = counts.get_mut(step)
        {
            *count += 1;
        }
    }
    counts.windows(2).map(|pair| pair[0] + pair[1]).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Cloud, Point};

    #[test]
    fn a_question_stays_open_until_it_is_answered() {
        let warnings = [
            Warning::new("unit-ratio", ""),
            Warning::new("unit-doubtful", ""),
            Warning::new("fits-mirrored", ""),
            Warning::new("coarse", ""),
        ];
        assert_eq!(
            withheld(&warnings, &[]),
            ["is the unit right?", "is it the right hand?"]
        );
        assert_eq!(
            withheld(&warnings, &["unit".to_string()]),
            ["is it the right hand?"]
        );
        let both = ["unit".to_string(), "hand".to_string()];
        assert!(withheld(&warnings, &both).is_empty());
    }

    #[test]
    fn every_gate_has_its_word_among_the_questions() {
        for gate in &GATES {
            assert!(crate::job::QUESTIONS.contains(&gate.answer), "{}", gate.answer);
        }
    }

    /// A floor of 2000 × 1400 mm with a wall of 2000 × 500 on one side, its axes put in `order`.
    fn shell(order: [usize; 3]) -> Surface<Body> {
        let lattice =
            |a: usize, b: usize| (0..a * b).map(move |i| ((i % a) as f64 * 20.0, (i / a) as f64 * 20.0));
        let floor = lattice(100, 70).map(|(x, y)| [x, y, 0.0]);
        let wall = lattice(100, 25).map(|(x, z)| [x, 1400.0, z]);
        let points = floor
            .chain(wall)
            .map(|p| Point::from(order.map(|axis| p[axis])))
            .collect();
        Surface::new(Cloud::from_points(points), None).unwrap().0
    }

    #[test]
    fn a_shell_on_its_side_is_told_and_one_on_its_feet_is_not() {
        assert_eq!(axes_doubtful("shell", &shell([0, 1, 2])), None);
        let words = |order| axes_doubtful("shell", &shell(order)).unwrap().words;
        assert!(words([0, 2, 1]).contains("faces along Y"), "{}", words([0, 2, 1]));
        assert!(
            words([1, 0, 2]).contains("longest side lies along Y"),
            "{}",
            words([1, 0, 2])
        );
    }
}
