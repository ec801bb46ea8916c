//! What found holes hold in a setting in order: a round hole the two ways across its axis, a slot the one across its length,
//! and any of them its sheet along its axis.
//!
//! Where the owner gives no order, the holes make one as a fixture does: the sheet in which most of them lie first, then the
//! first round hole, then a slot (or the hole that lies farthest off) across the line to it, which holds the turn. Ways are
//! those of the body's axes, to which each axis and each slot is nearest.

use ::features::holes::Hole;
use cloud::Vector;
use cloud::named::Datum;

use super::found_holes::Found;

/// The datums of the holes for a setting in order, of the reference and of the measured set. Where points that were probed
/// give an order already (`probed_order`), the sheet is theirs to hold.
pub fn held_in_order(found: &[Found<'_>], probed_order: bool) -> (Vec<Datum>, Vec<Datum>) {
    let mut datums: Vec<(Datum, Datum)> = Vec::new();
    if found.iter().any(|one| one.declared.order.is_some()) {
        for one in found {
            let usual = if one.declared.order == Some(1) {
                only(largest(&one.ours.axis))
            } else {
                across(&one.ours)
            };
            let holds = one.declared.holds.unwrap_or(usual);
            datums.push(datum(one, &one.declared.point.name, one.declared.order, holds));
        }
        return datums.into_iter().unzip();
    }
    let (main, sheet) = main_sheet(found);
    if !probed_order {
        for one in &sheet {
            let name = format!("plane at {}", one.declared.point.name);
            datums.push(datum(one, &name, Some(1), only(main)));
        }
    }
    let round = sheet.iter().find(|one| one.ours.slot.is_none());
    if let Some(first) = round.or(sheet.first()) {
        let name = &first.declared.point.name;
        datums.push(datum(first, name, Some(2), across(&first.ours)));
        if let Some((second, way)) = holds_turn(first, &sheet, main) {
            let name = &second.declared.point.name;
            datums.push(datum(second, name, Some(3), only(way)));
        }
    }
    datums.into_iter().unzip()
}

/// The body's axis along which most holes have theirs, up before across before fore and aft; and those holes.
fn main_sheet<'f, 'a>(found: &'f [Found<'a>]) -> (usize, Vec<&'f Found<'a>>) {
    let count = |k: usize| found.iter().filter(|one| largest(&one.ours.axis) == k).count();
    let main = (0..3).max_by_key(|&k| count(k)).unwrap_or(2);
    let sheet = found.iter().filter(|one| largest(&one.ours.axis) == main);
    (main, sheet.collect())
}

/// The hole that holds the turn about the first one, and the way in which it does: across the line between the two, as far
/// from it as any; a slot that holds that way goes before round holes.
fn holds_turn<'f, 'a>(
    first: &Found<'_>,
    sheet: &[&'f Found<'a>],
    main: usize,
) -> Option<(&'f Found<'a>, usize)> {
    let off = |one: &Found<'_>| {
        let mut line = one.ours.at - first.ours.at;
        line[main] = 0.0;
        line
    };
    let way = |one: &Found<'_>| largest(&unit(main).cross(&off(one)));
    let rank = |one: &Found<'_>| {
        let is_made_for_it = one.ours.slot.is_some() && across(&one.ours)[way(one)];
        (is_made_for_it, off(one).norm())
    };
    let others = sheet.iter().filter(|one| off(one).norm() > 0.0);
    let second = *others.max_by(|a, b| {
        let (a, b) = (rank(a), rank(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    })?;
    Some((second, way(second)))
}

/// A hole under a name that holds some ways, each set's centre with the ± that counts along them.
fn datum(one: &Found<'_>, name: &str, order: Option<u8>, holds: [bool; 3]) -> (Datum, Datum) {
    let normal = largest(&one.ours.axis);
    let any_across = (0..3).any(|k| k != normal && holds[k]);
    let pm_mm = |hole: &Hole| match (any_across, holds[normal]) {
        (true, false) => hole.place_pm_mm,
        (false, true) => hole.normal_pm_mm,
        _ => hole.place_pm_mm.max(hole.normal_pm_mm),
    };
    let (mut ours, theirs) = one.datums(name, pm_mm);
    ours.order = order;
    ours.holds = Some(holds);
    (ours, theirs)
}

/// Across the axis: both ways of a round hole, of a slot the one across its length.
fn across(hole: &Hole) -> [bool; 3] {
    let normal = largest(&hole.axis);
    match &hole.slot {
        Some(slot) => {
            let mut way = hole.axis.cross(&slot.along);
            way[normal] = 0.0;
            only(largest(&way))
        }
        None => only(normal).map(|along| !along),
    }
}

fn only(axis: usize) -> [bool; 3] {
    [0, 1, 2].map(|k| k == axis)
}

fn unit(axis: usize) -> Vector {
    Vector::from_fn(|k, _| if k == axis { 1.0 } else { 0.0 })
}

/// The body's axis to which a direction is nearest.
fn largest(way: &Vector) -> usize {
    (0..3)
        .max_by(|&a, &b| way[a].abs().total_cmp(&way[b].abs()))
        .unwrap_or(2)
}

#[cfg(test)]
mod tests {
    use super::super::found_holes::made;
    use super::*;

    fn held(holes: &[Hole], declared: &[Datum], probed_order: bool) -> Vec<String> {
        let found: Vec<Found<'_>> = holes
            .iter()
            .zip(declared)
            .map(|(hole, declared)| Found {
                declared,
                ours: *hole,
                theirs: *hole,
            })
            .collect();
        let (ours, theirs) = held_in_order(&found, probed_order);
        assert_eq!(ours.len(), theirs.len());
        let text = |d: &Datum| {
            let holds = d.holds.unwrap().map(|h| if h { "1" } else { "0" }).concat();
            format!("{} {:?} {holds} {}", d.point.name, d.order, d.pm_mm.unwrap())
        };
        ours.iter().map(text).collect()
    }

    fn fixture() -> (Vec<Hole>, Vec<Datum>) {
        let holes = vec![
            made::hole(300.0, 20.0, 10.0, Some(Vector::x())),
            made::hole(0.0, 0.0, 10.0, None),
            made::hole(0.0, 400.0, 10.0, None),
        ];
        let named = vec![
            made::datum("S", 0.0, 0.0),
            made::datum("H1", 0.0, 0.0),
            made::datum("H2", 0.0, 0.0),
        ];
        (holes, named)
    }

    #[test]
    fn without_an_order_the_sheet_comes_first_then_a_hole_then_the_slot() {
        let (mut holes, named) = fixture();
        let expected = [
            "plane at S Some(1) 001 0.05",
            "plane at H1 Some(1) 001 0.05",
            "plane at H2 Some(1) 001 0.05",
            "H1 Some(2) 110 0.2",
            "S Some(3) 010 0.2",
        ];
        assert_eq!(held(&holes, &named, false), expected);
        assert_eq!(held(&holes, &named, true), expected[3..]);
        // A slot that lies across the line to the first hole lets it turn; the farthest hole is taken then.
        if let Some(slot) = &mut holes[0].slot {
            slot.along = Vector::y();
        }
        assert_eq!(held(&holes, &named, true)[1], "H2 Some(3) 100 0.2");
    }

    #[test]
    fn an_order_that_is_given_is_kept_and_holds_what_the_hole_can() {
        let (holes, mut named) = fixture();
        named[0].order = Some(3);
        named[1].order = Some(1);
        named[1].pm_mm = Some(0.4);
        named[2].order = Some(2);
        assert_eq!(
            held(&holes, &named, false),
            ["S Some(3) 010 0.2", "H1 Some(1) 001 0.4", "H2 Some(2) 110 0.2"]
        );
        named[2].holds = Some([true, false, true]);
        named[0].order = None;
        assert_eq!(
            held(&holes, &named, false),
            ["S None 010 0.2", "H1 Some(1) 001 0.4", "H2 Some(2) 101 0.2"]
        );
    }
}
