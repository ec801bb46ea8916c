//! Where a thing is on the part, as a man finds it with a rule: its side, its region, and how far from a named place.

use cloud::frame::TOWARD;
use cloud::unit::fraction_of_inch;
use record::Record;
use record::figured::TaskRecord;
use record::found::{BeadRecord, EdgeRecord, FoldStretchRecord, StretchRecord};

use crate::words::whence::{PARTS, nearest, told, way};

/// A part that does not reach this far to both sides has no left and right of its own (four inches), mm.
const LEAST_SIDE_MM: f64 = 101.6;
/// Nearer than this to the middle of the part a thing stands on neither side, as a share of its width.
const MIDDLE: f64 = 0.05;
/// How far beside the box of its region a thing may lie (a quarter inch), mm.
const BESIDE_MM: f64 = 6.35;
/// What the sides are called.
const LEFT: &str = "left side";
const RIGHT: &str = "right side";
/// Most stretches of an edge that are placed.
const MOST_STRETCHES: usize = 3;

/// A point of one of the sets, in the reference's frame.
#[derive(Debug, Clone, Copy)]
struct Spot {
    at_mm: [f64; 3],
    /// Whether it was found there, and does not only belong there.
    measured: bool,
}

impl Spot {
    /// Where a thing is; where it belongs, if the measured part does not have it.
    fn of(measured: Option<[f64; 3]>, reference: Option<[f64; 3]>) -> Option<Self> {
        let found = measured.map(|at_mm| Self {
            at_mm,
            measured: true,
        });
        found.or(reference.map(|at_mm| Self {
            at_mm,
            measured: false,
        }))
    }
}

/// Where the thing is that a task is about: a hole, a bead, a recess, a stretch of an edge, extra metal; nothing of what is
/// told otherwise.
pub(crate) fn of_task(record: &Record, task: &TaskRecord) -> Option<String> {
    match task.figure.split_once('/')? {
        ("edges", name) => {
            let edge = record.edges.iter().find(|e| e.name == name)?;
            of_stretches(record, edge, &stretches(record, edge, task))
        }
        (kind, name) => of(record, kind, name),
    }
}

/// What there is to do, with the place of what it is about behind it, where that is known.
pub(crate) fn placed(words: &str, place: Option<String>) -> String {
    place.map_or(words.to_string(), |place| format!("{words}. Where: {place}."))
}

/// Where a hole, a bead, a recess or a piece of extra metal is.
fn of(record: &Record, kind: &str, name: &str) -> Option<String> {
    match kind {
        "holes" => {
            let hole = record.holes.iter().find(|h| h.name == name)?;
            let spot = Spot::of(hole.measured_at_mm, hole.reference_at_mm)?;
            let region = region_at(record, spot.at_mm);
            let mut parts = on(record, spot.at_mm, region);
            let (whence, zero) = origin(record, spot, region, name);
            parts.push(told(&whence, zero, spot.at_mm));
            Some(parts.join(", "))
        }
        "beads" => {
            let bead = record.beads.iter().find(|b| b.name == name)?;
            let at = |bead: &Option<BeadRecord>| bead.as_ref().map(|b| b.at_mm);
            let spot = Spot::of(at(&bead.measured), at(&bead.reference))?;
            let shape = bead.measured.as_ref().or(bead.reference.as_ref())?;
            Some(words(record, spot, Some(&bead.region), &run(shape)))
        }
        "recesses" => {
            let recess = record.recesses.iter().find(|r| r.name == name)?;
            let spot = Spot::of(Some(recess.measured.at_mm), None)?;
            Some(words(record, spot, region_at(record, spot.at_mm), ""))
        }
        "extra" => {
            let piece = record.extra.iter().find(|e| e.name == name)?;
            let spot = Spot::of(Some(piece.at_mm), None)?;
            Some(words(record, spot, region_at(record, spot.at_mm), ""))
        }
        _ => None,
    }
}

/// Where a thing that both have belongs, and which way and how much it was moved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Moved {
    /// `from H3: 2 rearward, 1 up`, from the same place from which it is told where it is.
    pub belongs: String,
    /// `1/8 rearward (3.2 mm)`.
    pub by: String,
}

/// How a hole, a bead or a recess was moved; nothing of what stands in its place, or is of one set only.
pub(crate) fn moved(record: &Record, kind: &str, name: &str) -> Option<Moved> {
    let (reference_mm, measured_mm, moved_mm, region) = match kind {
        "holes" => {
            let hole = record.holes.iter().find(|h| h.name == name)?;
            (hole.reference_at_mm?, hole.measured_at_mm?, hole.offset_mm?, None)
        }
        "beads" => {
            let bead = record.beads.iter().find(|b| b.name == name)?;
            let (ours, theirs) = bead.reference.as_ref().zip(bead.measured.as_ref())?;
            (
                ours.at_mm,
                theirs.at_mm,
                bead.moved_mm?,
                Some(bead.region.as_str()),
            )
        }
        "recesses" => {
            let recess = record.recesses.iter().find(|r| r.name == name)?;
            (
                recess.reference.at_mm,
                recess.measured.at_mm,
                recess.moved_mm,
                None,
            )
        }
        _ => return None,
    };
    let by = by(moved_mm)?;
    let is = Spot {
        at_mm: measured_mm,
        measured: true,
    };
    let region = region.or_else(|| region_at(record, measured_mm));
    let (whence, zero) = origin(record, is, region, name);
    // A named place lies in each set where that has it; everything else lies where it lies in both.
    let mut places = record.places.iter();
    let zero = places
        .find(|place| place.name == whence)
        .map_or(zero, |place| place.reference_at_mm);
    Some(Moved {
        belongs: told(&whence, zero, reference_mm),
        by,
    })
}

/// The way of a move along the axes of the reference, to the nearest 32nd, and its length; parts under a third of the largest
/// are left out, and so is a move that shows along no axis.
fn by(moved_mm: [f64; 3]) -> Option<String> {
    let largest = moved_mm.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
    let parts: Vec<String> = (0..3)
        .filter(|&k| moved_mm[k].abs() > largest / 3.0)
        .map(|k| {
            (
                fraction_of_inch(moved_mm[k], 32),
                TOWARD[k][usize::from(moved_mm[k] > 0.0)],
            )
        })
        .filter(|(inches, _)| inches != "0")
        .map(|(inches, way)| format!("{inches} {way}"))
        .collect();
    let length_mm = moved_mm.iter().map(|mm| mm * mm).sum::<f64>().sqrt();
    (!parts.is_empty()).then(|| format!("{} ({length_mm:.1} mm)", parts.join(" and ")))
}

/// The stretches that a task is about: where an edge has a task for each, the one in its turn.
fn stretches<'r>(record: &'r Record, edge: &'r EdgeRecord, task: &TaskRecord) -> Vec<&'r StretchRecord> {
    let alike: Vec<&TaskRecord> = record
        .work
        .iter()
        .filter(|t| t.who == task.who && t.figure == task.figure)
        .collect();
    let turn = alike.iter().position(|t| std::ptr::eq(*t, task));
    if alike.len() == edge.stretches.len()
        && let Some(own) = turn.and_then(|k| edge.stretches.get(k))
    {
        return vec![own];
    }
    let told = edge.stretches.iter().filter(|s| task.words.contains(&s.words));
    told.take(MOST_STRETCHES).collect()
}

/// Where stretches of an edge begin and end.
pub(super) fn of_stretches(
    record: &Record,
    edge: &EdgeRecord,
    stretches: &[&StretchRecord],
) -> Option<String> {
    let first = stretches.first()?;
    let spot = Spot {
        at_mm: first.from_mm,
        measured: false,
    };
    let region = edge.region.as_deref().or(region_at(record, first.from_mm));
    let (whence, zero) = origin(record, spot, region, "");
    let ends: Vec<String> = stretches
        .iter()
        .map(|s| format!("{} to {}", away(zero, s.from_mm), away(zero, s.to_mm)))
        .collect();
    let all = stretches.iter().flat_map(|s| [s.from_mm[1], s.to_mm[1]]);
    let mut parts = over(record, all, region);
    parts.push(format!("from {whence}: {}", ends.join("; ")));
    Some(parts.join(", "))
}

/// Where a stretch of the fold of a flange begins and ends.
pub(super) fn of_fold(record: &Record, flange: &str, stretch: &FoldStretchRecord) -> String {
    let spot = Spot {
        at_mm: stretch.from_mm,
        measured: false,
    };
    let (whence, zero) = origin(record, spot, Some(flange), "");
    let ends = [stretch.from_mm[1], stretch.to_mm[1]];
    let mut parts = over(record, ends.into_iter(), Some(flange));
    parts.push(format!(
        "from {whence}: {} to {}",
        away(zero, stretch.from_mm),
        away(zero, stretch.to_mm)
    ));
    parts.join(", ")
}

fn words(record: &Record, spot: Spot, region: Option<&str>, shape: &str) -> String {
    let mut parts = on(record, spot.at_mm, region);
    let (whence, zero) = origin(record, spot, region, "");
    parts.push(told(&whence, zero, spot.at_mm));
    if !shape.is_empty() {
        parts.push(shape.to_string());
    }
    parts.join(", ")
}

/// Its side, where the part has two, and its region.
fn on(record: &Record, at_mm: [f64; 3], region: Option<&str>) -> Vec<String> {
    over(record, std::iter::once(at_mm[1]), region)
}

/// What goes over from one place to another, by how far across they lie: its side where all of it is on one, and its region.
fn over(record: &Record, across_mm: impl Iterator<Item = f64>, region: Option<&str>) -> Vec<String> {
    let sides: Vec<&str> = across_mm.filter_map(|y| side(record, y)).collect();
    let side = match [LEFT, RIGHT].map(|one| sides.contains(&one)) {
        [true, true] => Some("over both sides"),
        [true, false] => Some(LEFT),
        [false, true] => Some(RIGHT),
        [false, false] => sides.first().copied(),
    };
    let side = side.map(String::from);
    side.into_iter()
        .chain(region.map(|name| format!("on {name}")))
        .collect()
}

/// Left and right as seated; the record knows the corners of the part by the ± of the setting there.
fn side(record: &Record, across_mm: f64) -> Option<&'static str> {
    let corners = || record.setting.predicted_pm_mm.iter().map(|p| p.at_mm[1]);
    let left = corners().reduce(f64::min)?;
    let right = corners().reduce(f64::max)?;
    if left > -LEAST_SIDE_MM || right < LEAST_SIDE_MM {
        return None;
    }
    Some(match across_mm {
        y if y.abs() < MIDDLE * (right - left) => "in the middle",
        y if y < 0.0 => LEFT,
        _ => RIGHT,
    })
}

/// The smallest region whose box holds a point.
fn region_at(record: &Record, at_mm: [f64; 3]) -> Option<&str> {
    let holds = |[low, high]: &[[f64; 3]; 2]| {
        (0..3).all(|k| {
            let (a, b) = (low[k].min(high[k]), low[k].max(high[k]));
            at_mm[k] > a - BESIDE_MM && at_mm[k] < b + BESIDE_MM
        })
    };
    let room = |[low, high]: &[[f64; 3]; 2]| -> f64 { (0..3).map(|k| (high[k] - low[k]).abs()).product() };
    record
        .made_with
        .regions
        .iter()
        .filter(|(_, region)| holds(&region.corners_mm))
        .min_by(|a, b| room(&a.1.corners_mm).total_cmp(&room(&b.1.corners_mm)))
        .map(|(name, _)| name.as_str())
}

/// The named place, or the pad of its own region, that lies nearest, as it is in the same set; without one the zero of the
/// reference. A hole that is `called` for a place is not told from itself.
fn origin(record: &Record, spot: Spot, region: Option<&str>, called: &str) -> (String, [f64; 3]) {
    let own = |name: &str| called.strip_prefix("hole ") == Some(name);
    let others = record.places.iter().filter(|place| !own(&place.name));
    let places = others.map(|place| {
        let at_mm = if spot.measured {
            place.measured_at_mm
        } else {
            place.reference_at_mm
        };
        (place.name.clone(), at_mm)
    });
    let of_region = record.regions.iter().filter(|r| region == Some(r.name.as_str()));
    let pads = of_region.filter_map(|r| r.shift.as_ref()).flat_map(|shift| {
        let pads = shift.pads.iter();
        pads.map(|pad| (format!("pad {}", pad.name), pad.at_mm))
    });
    nearest(places.chain(pads), spot.at_mm).unwrap_or_else(|| ("the reference's zero".to_string(), [0.0; 3]))
}

/// One end of a stretch; `there` where it is no way off.
fn away(from_mm: [f64; 3], to_mm: [f64; 3]) -> String {
    way(from_mm, to_mm).unwrap_or_else(|| "there".to_string())
}

/// `36 long fore and aft`, where a bead has a length of its own; `a ring 4 across`, which runs no one way.
fn run(bead: &BeadRecord) -> String {
    if bead.ring {
        return format!("a ring {} across", fraction_of_inch(bead.length_mm, PARTS));
    }
    if bead.length_mm < 1.5 * bead.width_mm {
        return String::new();
    }
    let [a, b] = bead.ends_mm;
    let along: [f64; 3] = [0, 1, 2].map(|k| (b[k] - a[k]).abs());
    let way = if along[0] >= along[1] && along[0] >= along[2] {
        "fore and aft"
    } else if along[1] >= along[2] {
        "across"
    } else {
        "up and down"
    };
    if bead.runs_on {
        return format!("running {way}");
    }
    format!("{} long {way}", fraction_of_inch(bead.length_mm, PARTS))
}

#[cfg(test)]
mod tests;
