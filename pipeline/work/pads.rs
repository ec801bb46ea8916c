//! What a region must be moved by as its pads say it, and what they don't say: pads on one line neither show nor undo a lean
//! about that line.

use ::compare::Region;
use ::features::shift::{HOME_MM, Pad, Shift, Spot};
use cloud::{Point, Vector};
use record::verdict::{CANT_TELL, NOT_MEASURED};

/// Pads at which a region leans by less than this share of what it does at the corners of its box don't hold the lean.
const HELD: f64 = 1.0 / 3.0;

/// Whether a region is moved by what its words, or its pads' where it has any, say.
pub(super) fn is_moved(region: &Region, shift: &Shift) -> bool {
    match shift.pads.is_empty() {
        true => is_shimmed(shift),
        false => shift.pads.iter().any(moves) || beside_pads(region, shift).is_some(),
    }
}

/// What a region must be moved by, in words; `None` where nothing is to be moved.
pub(super) fn words(region: &Region, shift: &Shift) -> Option<String> {
    if shift.pads.is_empty() {
        // What sits home and is only dressed has a line for each of its spots.
        let still = ["home", CANT_TELL, "dress only"];
        let is_still = still.iter().any(|words| stays(&shift.words, words));
        return (!is_still).then(|| shift.words.clone());
    }
    let is_silent = |p: &Pad| [CANT_TELL, NOT_MEASURED, "home"].contains(&p.words.as_str());
    let told = |p: &&Pad| !is_silent(p) && !is_told_elsewhere(p, &shift.spots);
    let pads = shift.pads.iter().filter(told);
    let pads: Vec<String> = pads.map(|p| format!("{} at {}", p.words, p.name)).collect();
    let at_pads = (!pads.is_empty()).then(|| pads.join(", "));
    let all: Vec<String> = at_pads.into_iter().chain(beside_pads(region, shift)).collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// What the shims at its pads leave unsaid of a region that has moved; `None` where they say all.
fn beside_pads(region: &Region, shift: &Shift) -> Option<String> {
    if !is_shimmed(shift) {
        return None;
    }
    let place = shift.words.split(':').next()?;
    if leans_past_pads(region, shift) {
        Some(format!(
            "{place}, and its pads don't hold the lean: name pads where it is farthest off"
        ))
    } else {
        let unknown = shift.pads.iter().all(|pad| stays(&pad.words, CANT_TELL));
        unknown.then(|| format!("{place}, but {CANT_TELL} at its pads"))
    }
}

/// Whether the turn of a region carries its corners farther than home, and its pads hardly.
fn leans_past_pads(region: &Region, shift: &Shift) -> bool {
    let among = shift.pads.iter().map(|pad| pad.at.coords).sum::<Vector>() / shift.pads.len().max(1) as f64;
    let farther = |most_mm: f64, at: &Point| most_mm.max(shift.rotation.cross(&(at.coords - among)).norm());
    let pads_mm = shift.pads.iter().map(|pad| &pad.at).fold(0.0, farther);
    let corners_mm = region.bounds.corners().iter().fold(0.0, farther);
    corners_mm > HOME_MM.max(shift.pm_mm) && pads_mm < HELD * corners_mm
}

fn is_shimmed(shift: &Shift) -> bool {
    shift.words.contains(": shim")
}

fn moves(pad: &Pad) -> bool {
    let still = ["home", CANT_TELL, NOT_MEASURED];
    !still.iter().any(|still| stays(&pad.words, still))
}

/// Whether words of a region or a pad say no more than that nothing is to be moved: `home in the middle and leaning` does.
fn stays(words: &str, still: &str) -> bool {
    let rest = words.strip_prefix(still);
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with([':', ',']))
}

/// Whether a pad that is home only has a spot at it, or what its region's twist does, which have lines of their own.
fn is_told_elsewhere(pad: &Pad, spots: &[Spot]) -> bool {
    let reaches = |spot: &Spot| (spot.at - pad.at).norm() <= spot.length_mm;
    let twisted = pad.words.ends_with("with its twist");
    stays(&pad.words, "home") && (twisted || spots.iter().any(reaches))
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::compare::Status;
    use cloud::Bounds;

    fn floor() -> Region {
        Region {
            name: "floor".to_string(),
            status: Status::Worked,
            bounds: Bounds {
                low: Point::new(0.0, 0.0, -5.0),
                high: Point::new(500.0, 220.0, 5.0),
            },
            limit_mm: 1.6,
            outside: None,
            pads: Vec::new(),
        }
    }

    /// Leaning about its left side, 5 mm high at its right one, with pads at these places and what they say.
    fn leaning(pads: &[([f64; 2], &str)]) -> Shift {
        let pad = |(at, words): &([f64; 2], &str)| Pad {
            name: "pad".to_string(),
            at: Point::new(at[0], at[1], 0.0),
            shim_mm: Vector::zeros(),
            pm_mm: 0.1,
            words: words.to_string(),
        };
        Shift {
            translation_mm: Vector::z() * 2.5,
            rotation: Vector::x() * (5.0 / 220.0),
            about: Point::new(250.0, 110.0, 0.0),
            unheld: Vec::new(),
            explained: 1.0,
            pm_mm: 0.1,
            pads: pads.iter().map(pad).collect(),
            spots: Vec::new(),
            shape: None,
            words: "3/32 high in the middle and leaning: shim only".to_string(),
        }
    }

    #[test]
    fn pads_along_the_line_that_it_leans_about_do_not_say_that_it_is_home() {
        let shift = leaning(&[([20.0, 5.0], "home"), ([480.0, 5.0], "home")]);
        let said = "3/32 high in the middle and leaning, and its pads don't hold the lean: name pads where it is farthest off";
        assert!(is_moved(&floor(), &shift));
        assert_eq!(words(&floor(), &shift).unwrap(), said);
        let shift = leaning(&[([20.0, 10.0], "take 1/64 of shim out"), ([480.0, 5.0], "home")]);
        assert_eq!(
            words(&floor(), &shift).unwrap(),
            format!("take 1/64 of shim out at pad; {said}")
        );
    }

    #[test]
    fn pads_on_both_sides_say_all() {
        let shift = leaning(&[([20.0, 20.0], "home"), ([480.0, 200.0], "take 3/16 of shim out")]);
        assert!(is_moved(&floor(), &shift));
        assert_eq!(words(&floor(), &shift).unwrap(), "take 3/16 of shim out at pad");
        let mut still = shift.clone();
        still.words = "home".to_string();
        still.pads[1].words = "home, but the metal there is bent 1/16 proud".to_string();
        assert!(!is_moved(&floor(), &still));
    }

    #[test]
    fn a_region_that_moved_is_told_where_its_pads_cant_tell() {
        let shift = leaning(&[([20.0, 20.0], "can't tell"), ([480.0, 200.0], "can't tell")]);
        assert_eq!(
            words(&floor(), &shift).unwrap(),
            "3/32 high in the middle and leaning, but can't tell at its pads"
        );
    }
}
