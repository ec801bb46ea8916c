//! Kept metal that no longer lies to itself as it did: which region may have moved, and what that leaves unknown of the setting.

use ::register::icp::Settled;
use ::register::leave_one_out::pieces::{Parted, halves, parted};
use ::register::leave_one_out::{MayHaveMoved, all_but, who_moved};
use cloud::frame::WAYS;
use cloud::{Body, Surface, Vector, Warning};
use compare::{Status, region};

use super::super::scale::Scaled;
use crate::job::Comparison;
use crate::say;

/// Two kept regions that part by no more than this are said to lie as they did, mm (1/64 in) …
const LEAST_MM: f64 = 25.4 / 64.0;
/// … and two halves of one: no sheet that was laid down again is as stiff as that, and its bow parts them by twice itself.
const LEAST_OF_HALVES_MM: f64 = 25.4 / 32.0;
/// The halves of a piece across an axis.
const HALVES: [[&str; 2]; 3] = [["front", "rear"], ["left", "right"], ["lower", "upper"]];

/// Whether the kept regions contradict each other, or one that is kept alone itself, as a warning, and the rms of the kept metal
/// without that, mm. Where they do, the setting by all of it lies off the one by what has not moved, whichever that is, and its
/// ± counts so much.
pub fn against_itself(
    scaled: &Scaled,
    names: &[String],
    kept: &[Vec<bool>],
    done: &mut Settled,
) -> (Option<Warning>, f64) {
    let (reference, measured) = (&scaled.reference, &scaled.measured);
    let moved = who_moved(reference, kept, measured, done);
    let told = may_have_moved(names, &moved);
    let (called, pieces) = match (kept, moved.first()) {
        ([only], _) => match halves(reference, only) {
            Some((halves, axis)) => (HALVES[axis].map(|half| format!("its {half} half")), halves),
            None => return (told, done.rms_mm),
        },
        ([first, second], _) => (
            [names[0].clone(), names[1].clone()],
            [first.clone(), second.clone()],
        ),
        (_, Some(best)) => (
            ["the others".to_string(), names[best.index].clone()],
            [all_but(kept, best.index), kept[best.index].clone()],
        ),
        _ => return (told, done.rms_mm),
    };
    let least_mm = if kept.len() == 1 {
        LEAST_OF_HALVES_MM
    } else {
        LEAST_MM
    };
    let parted = parted(reference, [&pieces[0], &pieces[1]], measured, done);
    let Some(parted) = parted.filter(|parted| parted.off_mm.norm() > least_mm) else {
        return (told, done.rms_mm);
    };
    parted.may_be_right(0, &mut done.motions);
    // One that alone speaks against several has moved, and is not what the set should lie by.
    if moved.len() != 1 {
        parted.may_be_right(1, &mut done.motions);
    }
    (
        told.or_else(|| Some(contradicted(names, &called, &parted))),
        parted.rms_mm,
    )
}

/// Two pieces of which one has moved, and nobody to say which.
fn contradicted(names: &[String], [first, second]: &[String; 2], parted: &Parted) -> Warning {
    let at = parted.at_mm;
    let (who, which, mark) = match names {
        [only] => (
            format!("region {only} is marked as left alone, but its halves, each set by itself, part"),
            "It has bent, or one of the two has moved".to_string(),
            format!("mark the half that was worked, with a box of its own, instead of {only}"),
        ),
        _ => (
            format!(
                "regions {first} and {second} are marked as left alone, but, each set by itself, they part"
            ),
            format!("One of the two has moved, {first} or {second}"),
            "mark the one that was worked".to_string(),
        ),
    };
    Warning::new(
        "may-have-moved",
        format!(
            "{who} by {} at {:.0}, {:.0}, {:.0} mm: {second} lies {} there where {first} puts it. {which}, and what is kept can't tell which. The ± of the setting is widened by it; measure again, {mark}, or name points",
            say::plain_64ths(parted.off_mm.norm()),
            at.x,
            at.y,
            at.z,
            ways(&parted.off_mm)
        ),
    )
}

/// The names of the kept regions that hold usable metal, and which points of the reference are theirs.
pub fn kept_regions(
    comparison: &Comparison,
    reference: &Surface<Body>,
    kept: &[bool],
) -> (Vec<String>, Vec<Vec<bool>>) {
    comparison
        .regions
        .iter()
        .filter(|r| r.status == Status::Kept)
        .filter_map(|r| {
            let mut own = vec![false; kept.len()];
            for i in region::members(r, reference) {
                own[i as usize] = kept[i as usize];
            }
            own.contains(&true).then(|| (r.name.clone(), own))
        })
        .unzip()
}

fn may_have_moved(names: &[String], moved: &[MayHaveMoved]) -> Option<Warning> {
    let lies = |one: &MayHaveMoved| ways(&one.off_mm);
    let words = match moved {
        [] => return None,
        [one] => format!(
            "region {} is marked as left alone, but lies {} where the other kept regions put it, and they agree with each other: it may have moved. Mark it as worked, or look at it",
            names[one.index],
            lies(one)
        ),
        several => {
            let each: Vec<String> = several
                .iter()
                .map(|one| format!("{} {}", names[one.index], lies(one)))
                .collect();
            format!(
                "regions that are marked as left alone no longer lie to each other as they did: where the others put it lies {}. Any of them may have moved, and what is kept can't tell which; a part that has sprung looks the same. Look at them, and mark what was worked",
                each.join(", or ")
            )
        }
    };
    Some(Warning::new("may-have-moved", words))
}

/// `1/8 rearward, 5/64 high`: the ways that matter.
pub(super) fn ways(off_mm: &Vector) -> String {
    let words: Vec<String> = off_mm
        .iter()
        .zip(WAYS)
        .filter(|(by, _)| by.abs() > 0.3 * off_mm.norm())
        .map(|(by, (minus, plus))| {
            let way = if *by > 0.0 { plus } else { minus };
            format!("{} {way}", say::plain_64ths(*by))
        })
        .collect();
    words.join(", ")
}
