//! Setting by datum holes: the owner names holes and says where they are on the reference, the program finds each in both
//! sets, and their centres stand in for named points.
//!
//! A hole can be sought by its place only where the two sets lie on each other already, so that there are two settings: a
//! first one by whatever does, which only tells which hole is which, and the one by the names.

use ::features::holes::Hole;
use ::register::named::distances_apart;
use cloud::named::Datum;
use cloud::named::spelling::Alone;
use cloud::{Unit, Warning};
use compare::Status;

use super::found_holes::{Found, Sought};
use super::found_in_order::held_in_order;
use super::{Setting, by_points, by_surface, refused};
use crate::cli::SetBy;
use crate::job::file::did_you_mean;
use crate::job::{Comparison, DatumHoles};
use crate::stages::gates::unit::{ASKED, all_apart, refuse_sizes};
use crate::stages::scale::Scaled;
use crate::trouble::Trouble;

/// Fewest names that set a part.
const FEWEST: usize = 3;
/// Places nearer to each other than this may be one hole, mm (an inch).
const TOGETHER_MM: f64 = 25.4;
/// What the first setting doubts is told with the second as well: by these the names may stand at the wrong holes.
const DOUBTS: [&str; 5] = [
    "normals-turned",
    "fits-mirrored",
    "poor-match",
    "could-also-lie",
    "lies-either-way",
];

/// Points that were probed in both sets, beside the holes that are found.
struct Probed {
    reference: Vec<Datum>,
    measured: Vec<Datum>,
    /// The names that only one of its tables has, in words to stand behind a reason; nothing where there are none.
    alone: String,
}

impl Probed {
    fn pairs(&self) -> usize {
        let paired = |ours: &&Datum| self.measured.iter().any(|m| m.point.name == ours.point.name);
        self.reference.iter().filter(paired).count()
    }

    fn any_order(&self) -> bool {
        self.reference
            .iter()
            .chain(&self.measured)
            .any(|datum| datum.order.is_some())
    }
}

/// By the holes that `asked` names, found in both sets, and by what was probed besides them. In order or not as the
/// comparison says.
///
/// # Errors
/// Where a name has no place, where no first setting can be had, and where too few of the names are found.
pub fn by_found(
    comparison: &Comparison,
    scaled: &mut Scaled,
    asked: &DatumHoles,
) -> Result<Setting, Trouble> {
    let named = declared(comparison, scaled, asked)?;
    let probed = probed(comparison, scaled, asked)?;
    let (ours, theirs) = by_points::holes_of(scaled);
    let sought = Sought {
        named: &named,
        ours: &ours,
        theirs: &theirs,
    };
    let (known, unseen) = sought.on_reference();
    refuse_unit(comparison, &sought, known.len())?;
    refuse_few(comparison, known.len(), &probed, &unseen)?;
    let first = first(comparison, scaled, &sought, &probed)?;
    let in_order = comparison.set_by == SetBy::Order;
    let (found, missing) = sought.found(&first.reference_from_measured, in_order);
    refuse_few(comparison, found.len(), &probed, &missing)?;
    let (mut reference, mut measured) = if in_order {
        held_in_order(&found, probed.any_order())
    } else {
        found.iter().map(centres).unzip()
    };
    reference.extend(probed.reference.iter().cloned());
    measured.extend(probed.measured.iter().cloned());
    let set = if in_order {
        by_points::set_by_order(&reference, &measured)
    } else {
        by_points::set_by_datums(&reference, &measured)
    };
    let mut setting = set.map_err(|why| {
        Trouble::new(format!(
            "{}: {} on {} by datum holes: {why}{}{}",
            comparison.name,
            comparison.measured.path.display(),
            comparison.reference.path.display(),
            after_semicolon(&missing),
            probed.alone
        ))
    })?;
    let names: Vec<&str> = found.iter().map(|one| one.declared.point.name.as_str()).collect();
    setting.words = if probed.pairs() == 0 {
        format!("{}: datum holes found in both sets", setting.words)
    } else {
        format!(
            "{}; of these {} are datum holes found in both sets",
            setting.words,
            names.join(", ")
        )
    };
    let mut warnings: Vec<Warning> = missing
        .into_iter()
        .map(|words| Warning::new("datum-hole-not-found", words))
        .collect();
    warnings.extend(first.warnings.into_iter().filter(|w| DOUBTS.contains(&w.code)));
    warnings.append(&mut setting.warnings);
    if in_order {
        warnings.extend(contradict(&found));
    }
    setting.warnings = warnings;
    // Which hole is which was told by the first setting, and the names stand or fall with it.
    setting.hand_told = first.hand_told;
    setting.runner_up = first.runner_up;
    Ok(setting)
}

/// The names with their places on the reference, and what the table declares of them.
fn declared(comparison: &Comparison, scaled: &Scaled, asked: &DatumHoles) -> Result<Vec<Datum>, Trouble> {
    let table = match &asked.table {
        Some(table) => by_points::read_one(&table.path, table.unit, &scaled.reference_from)?,
        None => Vec::new(),
    };
    let place = |name: &str| {
        let in_table = table.iter().find(|d| d.point.name == name).cloned();
        let places = &comparison.asked.places;
        in_table.or_else(|| places.iter().find(|p| p.name == name).cloned().map(Datum::from))
    };
    let nowhere = |name: &str| {
        let in_places = comparison.asked.places.iter().map(|p| p.name.as_str());
        let known = table.iter().map(|d| d.point.name.as_str()).chain(in_places);
        let meant = did_you_mean(name, known);
        let table = asked.table.as_ref();
        Trouble::new(format!(
            "{}: \"datum_holes\" names \"{name}\", which stands neither in {} nor in [places]{meant}; write its place there, or take the name out",
            comparison.name,
            table.map_or_else(|| "a table".to_string(), |t| t.path.display().to_string())
        ))
    };
    asked
        .names
        .iter()
        .map(|name| place(name).ok_or_else(|| nowhere(name)))
        .collect()
}

/// What the tables of points hold besides the holes; nothing where there are none.
fn probed(comparison: &Comparison, scaled: &Scaled, asked: &DatumHoles) -> Result<Probed, Trouble> {
    let (mut reference, mut measured) = match &comparison.points {
        Some(_) => {
            let (_, reference, measured) = by_points::read(comparison, scaled)?;
            (reference, measured)
        }
        None => (Vec::new(), Vec::new()),
    };
    let tables = comparison.points.as_ref();
    let called = tables.map(|tables| [&tables.reference, &tables.measured].map(|p| p.display().to_string()));
    let besides = |datum: &Datum| !asked.names.contains(&datum.point.name);
    reference.retain(besides);
    measured.retain(besides);
    let alone = called.map_or(String::new(), |[ours, theirs]| {
        by_points::told(&Alone::of(&reference, &measured), &ours, &theirs)
    });
    Ok(Probed {
        reference,
        measured,
        alone,
    })
}

/// The first setting: by what was probed where that is enough; else by all holes without names where those leave no doubt;
/// else by the metal. Where two can be had, the one by which more of the names have their holes.
fn first(
    comparison: &Comparison,
    scaled: &mut Scaled,
    sought: &Sought<'_>,
    probed: &Probed,
) -> Result<Setting, Trouble> {
    if let Ok(setting) = by_points::set_by_datums(&probed.reference, &probed.measured) {
        return Ok(setting);
    }
    let count = |setting: &Setting| sought.found(&setting.reference_from_measured, true).0.len();
    let by_holes = match by_points::set_by_holes(sought.ours, sought.theirs) {
        Ok(setting) if leaves_no_doubt(&setting, count(&setting), sought) => return Ok(setting),
        other => other,
    };
    match (by_holes, by_metal(comparison, scaled)) {
        (Ok(mut holes), Ok(metal)) => {
            if count(&metal) >= count(&holes) {
                return Ok(metal);
            }
            // The normals stay turned, whichever setting is taken.
            let turned = metal.warnings.into_iter().filter(|w| w.code == "normals-turned");
            holes.warnings.extend(turned);
            Ok(holes)
        }
        (Ok(one), Err(_)) | (Err(_), Ok(one)) => Ok(one),
        (Err(holes), Err(metal)) => Err(Trouble::new(format!(
            "{}: its datum holes can be told from other holes only where the two sets roughly lie on each other, and that could not be had. By all holes without names: {holes}. By the metal: {metal}. Give tables of points as well, or mark what was left alone as kept",
            comparison.name
        ))),
    }
}

/// Four holes or more that match in one way only, and bring most of the names to their holes.
fn leaves_no_doubt(setting: &Setting, found: usize, sought: &Sought<'_>) -> bool {
    let one_way = setting.warnings.iter().all(|w| w.code != "could-also-lie");
    one_way && setting.pairs > FEWEST && found >= FEWEST && 2 * found > sought.on_reference().0.len()
}

/// By what was left alone, or by everything where nothing is marked as kept.
fn by_metal(comparison: &Comparison, scaled: &mut Scaled) -> Result<Setting, Trouble> {
    refuse_sizes(comparison, scaled)?;
    let any_kept = comparison.regions.iter().any(|r| r.status == Status::Kept);
    let set = if any_kept {
        by_surface::left_alone(comparison, scaled, None)
    } else {
        by_surface::all_over(comparison, scaled)
    };
    set.map_err(|why| refused(comparison, scaled, &why))
}

/// Refuses places of names of which too few have a hole of the reference, where they would with the lengths of another unit.
///
/// # Errors
/// With the question and the two units.
fn refuse_unit(comparison: &Comparison, sought: &Sought<'_>, known: usize) -> Result<(), Trouble> {
    if known >= FEWEST {
        return Ok(());
    }
    let as_if = |(read, really): (Unit, Unit)| {
        let mut named = sought.named.to_vec();
        for datum in &mut named {
            datum.point.at_mm *= really.in_mm() / read.in_mm();
        }
        let holes = Sought {
            named: &named,
            ours: sought.ours,
            theirs: sought.theirs,
        };
        let count = if any_together(&named) {
            0
        } else {
            holes.on_reference().0.len()
        };
        (count, read, really)
    };
    let (holes, read, really) =
        all_apart()
            .map(as_if)
            .fold((0, Unit::Millimetre, Unit::Millimetre), |most, next| {
                if next.0 > most.0 { next } else { most }
            });
    if holes < FEWEST || holes <= known {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "{}: {ASKED} only {known} of the names under \"datum_holes\" have a hole of the reference where they stand, and {holes} would if their places were in {really} instead of {read}; say the unit in the heads of the table, as in \"x ({really})\", or check \"units\" in the job file",
        comparison.name
    )))
}

/// Whether two places lie so near to each other that one hole could be meant by both.
fn any_together(named: &[Datum]) -> bool {
    let place = |datum: &Datum| datum.point.at_mm;
    let near = |a: &Datum, b: &Datum| (place(a) - place(b)).norm() < TOGETHER_MM;
    named
        .iter()
        .enumerate()
        .any(|(k, a)| named[k + 1..].iter().any(|b| near(a, b)))
}

fn refuse_few(
    comparison: &Comparison,
    holes: usize,
    probed: &Probed,
    missing: &[String],
) -> Result<(), Trouble> {
    let left = holes + probed.pairs();
    if left >= FEWEST {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "{}: {} on {} by datum holes: only {left} of the names can be had in both sets, at least {FEWEST} are needed{}{}. Name other holes, or give tables of points for the rest",
        comparison.name,
        comparison.measured.path.display(),
        comparison.reference.path.display(),
        after_semicolon(missing),
        probed.alone
    )))
}

/// The question of round datum holes that no longer lie to each other as they did: in order most of them hold too little to show
/// it. A slot may lie anywhere along its length.
fn contradict(found: &[Found<'_>]) -> Option<Warning> {
    let (ours, theirs): (Vec<Datum>, Vec<Datum>) = found
        .iter()
        .filter(|one| one.ours.slot.is_none())
        .map(centres)
        .unzip();
    distances_apart(&ours, &theirs).map(|words| {
        Warning::new(
            "points-contradict",
            format!(
                "the datum holes no longer lie to each other as on the reference; {words}. One that holds the set in order and is out of place puts all of the metal wrong: look which of them moved, and set it by those that did not, or by what was left alone"
            ),
        )
    })
}

fn after_semicolon(missing: &[String]) -> String {
    missing.iter().map(|words| format!("; {words}")).collect()
}

/// The centres of a hole in both sets under its name. A ± counts along all three axes, so that it is the larger of the
/// hole's two.
fn centres(one: &Found<'_>) -> (Datum, Datum) {
    let pm_mm = |hole: &Hole| hole.place_pm_mm.max(hole.normal_pm_mm);
    one.datums(&one.declared.point.name, pm_mm)
}
