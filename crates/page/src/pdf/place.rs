//! Where a thing is on the part, as a man finds it with a rule: its side, its region, and how far from a named place.

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
pub(super) fn of_task(record: &Record, task: &TaskRecord) -> Option<String> {
    match task.figure.split_once('/')? {
        ("edges", name) => {
            let edge = record.edges.iter().find(|e| e.name == name)?;
            of_stretches(record, edge, &stretches(record, edge, task))
        }
        (kind, name) => of(record, kind, name),
    }
}

/// Where a hole, a bead, a recess or a piece of extra metal is.
pub(super) fn of(record: &Record, kind: &str, name: &str) -> Option<String> {
    match kind {
        "holes" => {
            let hole = record.holes.iter().find(|h| h.name == name)?;
            let spot = Spot::of(hole.measured_at_mm, hole.reference_at_mm)?;
            Some(words(record, spot, region_at(record, spot.at_mm), ""))
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

fn of_stretches(record: &Record, edge: &EdgeRecord, stretches: &[&StretchRecord]) -> Option<String> {
    let first = stretches.first()?;
    let spot = Spot {
        at_mm: first.from_mm,
        measured: false,
    };
    let region = edge.region.as_deref().or(region_at(record, first.from_mm));
    let (whence, zero) = origin(record, spot, region);
    let ends: Vec<String> = stretches
        .iter()
        .map(|s| format!("{} to {}", away(zero, s.from_mm), away(zero, s.to_mm)))
        .collect();
    let mut parts = on(record, spot.at_mm, region);
    parts.push(format!("from {whence}: {}", ends.join("; ")));
    Some(parts.join(", "))
}

/// Where a stretch of the fold of a flange begins and ends.
pub(super) fn of_fold(record: &Record, flange: &str, stretch: &FoldStretchRecord) -> String {
    let spot = Spot {
        at_mm: stretch.from_mm,
        measured: false,
    };
    let (whence, zero) = origin(record, spot, Some(flange));
    let mut parts = on(record, spot.at_mm, Some(flange));
    parts.push(format!(
        "from {whence}: {} to {}",
        away(zero, stretch.from_mm),
        away(zero, stretch.to_mm)
    ));
    parts.join(", ")
}

fn words(record: &Record, spot: Spot, region: Option<&str>, shape: &str) -> String {
    let mut parts = on(record, spot.at_mm, region);
    let (whence, zero) = origin(record, spot, region);
    parts.push(told(&whence, zero, spot.at_mm));
    if !shape.is_empty() {
        parts.push(shape.to_string());
    }
    parts.join(", ")
}

/// Its side, where the part has two, and its region.
fn on(record: &Record, at_mm: [f64; 3], region: Option<&str>) -> Vec<String> {
    let side = side(record, at_mm[1]).map(String::from);
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
        y if y < 0.0 => "left side",
        _ => "right side",
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
/// reference.
fn origin(record: &Record, spot: Spot, region: Option<&str>) -> (String, [f64; 3]) {
    let places = record.places.iter().map(|place| {
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
    format!("{} long {way}", fraction_of_inch(bead.length_mm, PARTS))
}

#[cfg(test)]
mod tests {
    use super::super::tape::made_place;
    use super::*;
    use crate::made;

    fn from<T: serde::de::DeserializeOwned>(json: &str) -> T {
        serde_json::from_str(json).unwrap()
    }

    #[test]
    fn a_hole_is_placed_from_the_reference_s_zero_and_better_from_a_named_place() {
        let mut record = made::record();
        // 546.2 mm are 21.504 in, 279.4 are 11.
        let hole = of(&record, "holes", "hole 1").unwrap();
        assert_eq!(hole, "from the reference's zero: 21-1/2 rearward, 11 up");
        record.places = vec![
            made_place("far", [0.0; 3]),
            made_place("H4", [546.2 + 50.8, 25.4, 279.4]),
        ];
        let hole = of(&record, "holes", "hole 1").unwrap();
        assert_eq!(hole, "from H4: 2 forward, 1 to the left");
        record.holes[0].measured_at_mm = Some([598.0, 25.4, 279.4]);
        assert_eq!(of(&record, "holes", "hole 1").unwrap(), "at H4");
        record.holes[0].measured_at_mm = None;
        record.holes[0].reference_at_mm = None;
        assert_eq!(of(&record, "holes", "hole 1"), None);
    }

    #[test]
    fn a_part_with_two_sides_has_them_named_and_so_is_the_smallest_region() {
        let mut record = made::record();
        record.setting.predicted_pm_mm =
            from(r#"[{"at_mm": [0, -600, 0], "pm_mm": 0.1}, {"at_mm": [2000, 600, 0], "pm_mm": 0.1}]"#);
        record.holes[0].measured_at_mm = Some([254.0, 254.0, 10.0]);
        assert_eq!(
            of(&record, "holes", "hole 1").unwrap(),
            "right side, on right <floor>, from pad front inner: 6-1/16 rearward, 6-1/16 to the right, 3/8 up"
        );
        let mut pan = record.made_with.regions["right <floor>"].clone();
        pan.corners_mm = [[250.0, 250.0, 0.0], [260.0, 260.0, 20.0]];
        record.made_with.regions.insert("drain".to_string(), pan);
        record.holes[0].measured_at_mm = Some([254.0, 254.0, 0.0]);
        assert!(of(&record, "holes", "hole 1").unwrap().contains("on drain,"));
        for (across, side) in [(-254.0, "left side"), (20.0, "in the middle")] {
            record.holes[0].measured_at_mm = Some([254.0, across, 0.0]);
            assert!(of(&record, "holes", "hole 1").unwrap().starts_with(side));
        }
    }

    #[test]
    fn a_bead_is_told_with_its_run_and_one_that_is_missing_where_it_belongs() {
        let mut record = made::record();
        record.beads = from(
            r#"[{"name": "floor bead 1", "region": "floor", "state": "missing", "pm_mm": 0.2, "verdict": "outside",
              "reference": {"at_mm": [254, 0, 0], "ends_mm": [[0, 0, 0], [508, 0, 0]], "length_mm": 508, "width_mm": 32,
                "depth_mm": 6.3}, "words": ["missing"]}]"#,
        );
        assert_eq!(
            of(&record, "beads", "floor bead 1").unwrap(),
            "on floor, from the reference's zero: 10 rearward, 20 long fore and aft"
        );
        let ring = record.beads[0].reference.as_mut().unwrap();
        (ring.ring, ring.length_mm) = (true, 101.6);
        assert_eq!(
            of(&record, "beads", "floor bead 1").unwrap(),
            "on floor, from the reference's zero: 10 rearward, a ring 4 across"
        );
        let recess = r#"{"at_mm": [0, 0, 127], "depth_mm": 9.5, "width_mm": [120, 200], "wall_deg": 80}"#;
        record.recesses = from(&format!(
            r#"[{{"name": "recess", "reference": {recess}, "measured": {recess}, "moved_mm": [0, 0, 0], "pm_mm": 0.2,
              "verdict": "outside", "words": []}}]"#
        ));
        assert_eq!(
            of(&record, "recesses", "recess").unwrap(),
            "from the reference's zero: 5 up"
        );
    }

    #[test]
    fn each_task_of_an_edge_has_the_stretch_in_its_turn() {
        let mut record = made::record();
        record.edges = from(
            r#"[{"name": "rear", "length_mm": 50, "closed": false, "verdict": "outside", "words": [], "runs": [], "stretches": [
              {"from_mm": [0, 254, 0], "to_mm": [0, 508, 0], "length_mm": 254, "short_mm": -2, "pm_mm": 0.3, "words": "1/16 long"},
              {"from_mm": [0, 762, 0], "to_mm": [0, 1016, 0], "length_mm": 254, "short_mm": -2, "pm_mm": 0.3,
                "words": "1/16 long"}]}]"#,
        );
        let mut task = record.work[0].clone();
        task.figure = "edges/rear".to_string();
        task.words = "rear: trim: 1/16 long".to_string();
        record.work = vec![task.clone(), task];
        let placed: Vec<String> = record.work.iter().filter_map(|t| of_task(&record, t)).collect();
        assert_eq!(
            placed,
            [
                // From its pad at (100, 100, 0).
                "on right <floor>, from pad front inner: 3-15/16 forward, 6-1/16 to the right to 3-15/16 forward, \
                 16-1/16 to the right"
                    .to_string(),
                "from the reference's zero: 30 to the right to 40 to the right".to_string()
            ]
        );
        // One task for all of them has them all.
        record.work.pop();
        let all = of_task(&record, &record.work[0]).unwrap();
        assert!(
            all.contains("16-1/16 to the right; 3-15/16 forward, 26-1/16 to the right"),
            "{all}"
        );
        record.work[0].figure = "verdict".to_string();
        assert_eq!(of_task(&record, &record.work[0]), None);
    }
}
