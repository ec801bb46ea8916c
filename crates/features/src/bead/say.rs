//! What a bead's differences are called: rearward, shallow, narrow, short at the rear, soft.

use cloud::Vector;
use cloud::frame::SIDES;
use cloud::unit::fraction_of_inch;
use compare::verdict::NOT_HELD_MM;

use super::moved::{Moved, ends_pm_mm};
use super::{Bead, Kind};
use crate::words::{PLACE_NOT_HELD, RUNS_ON, crisp_or_soft, displacement};

/// What is not worth saying, mm (1/64 in).
const LEAST_MM: f64 = 25.4 / 64.0;

/// A matched bead in the shop's words, one a finding; `in its place` first where it has not moved.
pub(super) fn words(reference: &Bead, measured: &Bead, moved: &Moved) -> Vec<String> {
    let place_pm = reference.pm_place_mm.hypot(measured.pm_place_mm);
    let mut out = vec![place(&moved.in_sheet, moved.pm_mm)];
    out.extend(swung(reference, moved.swung, place_pm));
    let mut add = |off_mm: f64, pm_mm: f64, more: &str, less: &str| {
        let size = fraction_of_inch(off_mm, 32);
        if size != "0" && off_mm.abs() > pm_mm {
            out.push(format!("{size} {}", if off_mm > 0.0 { more } else { less }));
        }
    };
    let depth = measured.depth_mm.abs() - reference.depth_mm.abs();
    let pm = reference.pm_depth_mm.hypot(measured.pm_depth_mm);
    add(depth, pm, "too deep", "shallow");
    let pm = reference.pm_width_mm.hypot(measured.pm_width_mm);
    add(measured.width_mm - reference.width_mm, pm, "wide", "narrow");
    // Only a recess that is longer than wide has a length of its own.
    let oblong = reference.kind == Kind::Recess && reference.length_mm > 1.2 * reference.width_mm;
    if oblong {
        add(measured.length_mm - reference.length_mm, pm, "long", "short");
    }
    if reference.closed && measured.closed {
        let [pm, _] = ends_pm_mm(reference, measured);
        add(
            measured.length_mm - reference.length_mm,
            pm,
            "larger round",
            "smaller round",
        );
    }
    out.extend(closed(reference, measured));
    out.extend(ends(reference, measured, moved));
    out.extend(edge(reference, measured));
    out.extend(runs_on(reference, measured));
    out
}

/// `1/16 to the right`; `in its place` where the ± hides it.
pub(super) fn place(moved_mm: &Vector, pm_mm: f64) -> String {
    if pm_mm > NOT_HELD_MM {
        return PLACE_NOT_HELD.to_string();
    }
    match displacement(moved_mm, LEAST_MM.max(pm_mm)).as_str() {
        "home" if moved_mm.norm() <= LEAST_MM.max(pm_mm) => "in its place".to_string(),
        // Off askew it may be off by more than its ±, and along no axis.
        "home" => match displacement(moved_mm, LEAST_MM).as_str() {
            "home" => "in its place".to_string(),
            askew => askew.to_string(),
        },
        place => place.to_string(),
    }
}

/// `1/8 to the left from front to rear`: a bead that does not run as it should.
fn swung(reference: &Bead, off_mm: f64, pm_mm: f64) -> Option<String> {
    let off = reference.across * off_mm;
    // The line between the ends is less sure than its middle.
    let least = (4.0 * LEAST_MM).max(3.0 * pm_mm);
    let words = displacement(&off, least);
    let [first, last] = end_names(&reference.along);
    (off_mm.abs() > least && words != "home").then(|| format!("runs {words} from {first} to {last}"))
}

/// A ring that does not close, or a bead that does and should not; nothing where an end was not seen.
fn closed(reference: &Bead, measured: &Bead) -> Option<String> {
    match (reference.closed, measured.closed) {
        (true, false) if measured.open == [false; 2] => {
            Some("does not close, the reference is a ring".to_string())
        }
        (false, true) if reference.open == [false; 2] => {
            Some("closes to a ring, the reference does not".to_string())
        }
        _ => None,
    }
}

/// `ends 3/8 short at the rear`.
fn ends(reference: &Bead, measured: &Bead, moved: &Moved) -> Vec<String> {
    let pm = ends_pm_mm(reference, measured).map(|pm| pm.max(2.0 * LEAST_MM));
    let names = end_names(&reference.along);
    (0..2)
        .filter_map(|k| {
            let farther = moved.ends[k]?;
            let long = if k == 0 { -farther } else { farther };
            let size = fraction_of_inch(long, 32);
            (long.abs() > pm[k] && size != "0").then(|| {
                let word = if long > 0.0 { "long" } else { "short" };
                format!("ends {size} {word} at the {}", names[k])
            })
        })
        .collect()
}

/// Of a bead that is cut by the region's box, or was not seen to its end in one of the sets, that there is no end to judge there:
/// where each set is cut is no length of the bead's.
fn runs_on(reference: &Bead, measured: &Bead) -> Option<String> {
    if !reference.runs_on() && !measured.runs_on() {
        return None;
    }
    let names = end_names(&reference.along);
    let at: Vec<&str> = (0..2)
        .filter(|&k| reference.open[k] || measured.open[k])
        .map(|k| names[k])
        .collect();
    Some(format!(
        "{RUNS_ON} its box or what was seen at the {}: no length to compare",
        at.join(" and the ")
    ))
}

/// What the two ends of a direction are called, the one that it comes from first.
fn end_names(along: &Vector) -> [&'static str; 2] {
    let axis = along.iamax();
    let names = SIDES[axis];
    if along[axis] < 0.0 {
        [names[1], names[0]]
    } else {
        names
    }
}

/// The edge between sheet and wall, where it differs or can't be told; a round top has none.
fn edge(reference: &Bead, measured: &Bead) -> Option<String> {
    match (reference.flat, measured.flat) {
        (false, false) => return None,
        (true, false) => return Some("round-topped, the reference has a flat floor".to_string()),
        (false, true) => return Some("flat-floored, the reference has a round top".to_string()),
        (true, true) => {}
    }
    match (reference.outer_radius_mm, measured.outer_radius_mm) {
        (_, None) => Some("edge radius: can't tell, use a radius gauge".to_string()),
        (None, Some(theirs)) => Some(format!(
            "edge radius {} {}; the reference's can't be told, use a radius gauge",
            fraction_of_inch(theirs, 32),
            crisp_or_soft(theirs)
        )),
        (Some(ours), Some(theirs)) if (ours - theirs).abs() > LEAST_MM => Some(format!(
            "edge radius {} {} for {} {}",
            fraction_of_inch(theirs, 32),
            crisp_or_soft(theirs),
            fraction_of_inch(ours, 32),
            crisp_or_soft(ours)
        )),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Point;

    fn bead() -> Bead {
        Bead {
            kind: Kind::Bead,
            at: Point::origin(),
            along: Vector::x(),
            across: Vector::y(),
            up: Vector::z(),
            length_mm: 900.0,
            width_mm: 15.9,
            depth_mm: 6.35,
            flat: true,
            wall: Some(0.9),
            outer_radius_mm: Some(1.6),
            inner_radius_mm: None,
            ends: [Point::new(-450.0, 0.0, 0.0), Point::new(450.0, 0.0, 0.0)],
            open: [false; 2],
            straight: true,
            closed: false,
            middle_line: Vec::new(),
            sections: Vec::new(),
            pm_depth_mm: 0.05,
            pm_place_mm: 0.05,
            pm_width_mm: 0.1,
            pm_ends_mm: [0.4; 2],
        }
    }

    #[test]
    fn a_bead_is_told_as_in_the_shop() {
        let moved = Moved {
            in_sheet: Vector::new(0.0, 1.6, 0.0),
            ends: [Some(0.2), Some(-9.5)],
            pm_mm: 0.07,
            swung: 0.3,
        };
        let measured = Bead {
            depth_mm: 5.55,
            width_mm: 14.3,
            outer_radius_mm: Some(4.8),
            ..bead()
        };
        assert_eq!(
            words(&bead(), &measured, &moved),
            [
                "1/16 to the right",
                "1/32 shallow",
                "1/16 narrow",
                "ends 3/8 short at the rear",
                "edge radius 3/16 (soft) for 1/16 (crisp)",
            ]
        );
    }

    #[test]
    fn a_move_along_is_told_no_better_than_the_ends_are_known() {
        for (pm_end_mm, said) in [(1.0, "3/32 rearward"), (3.0, "in its place")] {
            let ours = Bead {
                pm_ends_mm: [pm_end_mm; 2],
                ..bead()
            };
            let theirs = Bead {
                ends: ours.ends.map(|end| end + Vector::x() * 2.0),
                ..ours.clone()
            };
            let moved = crate::bead::moved::moved(&ours, &theirs).unwrap();
            assert_eq!(words(&ours, &theirs, &moved), [said]);
            // Of what has moved along, the ± is that of the mean of four ends.
            let pm_mm = if moved.in_sheet.norm() > 0.0 {
                pm_end_mm
            } else {
                0.05_f64.hypot(0.05)
            };
            assert!((moved.pm_mm - pm_mm).abs() < 1e-9, "{}", moved.pm_mm);
        }
    }

    #[test]
    fn nothing_is_said_of_what_is_as_it_should_be() {
        let still = Moved {
            in_sheet: Vector::new(0.2, 0.1, 0.0),
            ends: [None; 2],
            pm_mm: 0.07,
            swung: 0.0,
        };
        assert_eq!(words(&bead(), &bead(), &still), ["in its place"]);
        let coarse = Bead {
            outer_radius_mm: None,
            depth_mm: 6.8,
            pm_depth_mm: 0.6,
            ..bead()
        };
        assert_eq!(
            words(&bead(), &coarse, &still),
            ["in its place", "edge radius: can't tell, use a radius gauge"]
        );
    }

    #[test]
    fn a_bead_that_is_cut_by_its_box_has_no_length_to_compare() {
        let moved = Moved {
            in_sheet: Vector::zeros(),
            ends: [None; 2],
            pm_mm: 0.07,
            swung: 0.0,
        };
        // The measured set goes on half an inch beyond the box.
        let longer = Bead {
            length_mm: 912.7,
            ..bead()
        };
        let cut = |open: [bool; 2]| Bead { open, ..bead() };
        let told = "runs on beyond its box or what was seen at the";
        for (open, at) in [([false, true], "rear"), ([true, true], "front and the rear")] {
            let said = words(&cut(open), &longer, &moved);
            assert_eq!(said[1], format!("{told} {at}: no length to compare"));
        }
        let ring = Bead {
            closed: true,
            ..cut([true; 2])
        };
        assert_eq!(words(&ring, &ring, &moved), ["in its place"]);
    }

    #[test]
    fn a_place_is_told_no_better_than_the_setting_is_known() {
        let moved = Vector::new(0.0, 1.6, 0.0);
        assert_eq!(place(&moved, 0.1), "1/16 to the right");
        assert_eq!(place(&moved, 2.0), "in its place");
        assert_eq!(place(&moved, 1_000.0), PLACE_NOT_HELD);
        // Each way within the ± and both together beyond it.
        let askew = Vector::new(1.6, 1.6, 0.0);
        assert_eq!(place(&askew, 2.0), "1/16 rearward and 1/16 to the right");
    }

    #[test]
    fn a_ring_is_told_by_its_size_and_whether_it_closes() {
        let still = Moved {
            in_sheet: Vector::zeros(),
            ends: [None; 2],
            pm_mm: 0.07,
            swung: 0.0,
        };
        let ring = Bead {
            closed: true,
            open: [true; 2],
            length_mm: 100.0,
            ..bead()
        };
        let small = Bead {
            length_mm: 96.8,
            ..ring.clone()
        };
        assert_eq!(words(&ring, &small, &still)[1], "1/8 smaller round");
        let said = words(&ring, &bead(), &still);
        assert_eq!(said[1], "does not close, the reference is a ring");
    }

    #[test]
    fn a_bead_that_swings_is_told() {
        let moved = Moved {
            in_sheet: Vector::zeros(),
            ends: [None; 2],
            pm_mm: 0.07,
            swung: -3.2,
        };
        let said = words(&bead(), &bead(), &moved);
        assert_eq!(said[1], "runs 1/8 to the left from front to rear");
    }
}
