//! Every place of a record that can be flown to: holes, named places, pads, spots, edges, beads, recesses.

use serde_json::{Value, json};

use cloud::unit::{fraction_of_inch, signed_32nds, signed_decimal};
use record::Record;
use record::found::{EdgeRecord, StretchRecord};
use record::verdict::NOT_MEASURED;

use crate::tables::spots::WHOLE;

/// All of them, kind by kind; their ids are those of the figures in the list of what there is to do.
pub fn all(record: &Record) -> Vec<Value> {
    let mut marks = Vec::new();
    let mut add = |kind: &str, id: &str, name: &str, at_mm: Option<[f64; 3]>, words: &str| {
        if let Some(at) = at_mm {
            let list = if kind == "recess" {
                "recesses".to_string()
            } else {
                format!("{kind}s")
            };
            marks.push(json!({
                "id": format!("{list}/{id}"), "kind": kind, "name": name, "at": at, "words": words,
            }));
        }
    };
    for region in &record.regions {
        for pad in region.shift.iter().flat_map(|shift| &shift.pads) {
            let id = format!("{}/{}", region.name, pad.name);
            let name = format!("{}, {}", region.name, pad.name);
            let words = match pad.words == NOT_MEASURED {
                true => pad.words.clone(),
                false => {
                    let pm = crate::words::pm(pad.pm_mm);
                    format!("{}; {pm}: of the region's move as it comes out here", pad.words)
                }
            };
            add("pad", &id, &name, Some(pad.at_mm), &words);
        }
    }
    let of_regions = record.regions.iter().filter_map(|region| {
        let spots = &region.shape.as_ref()?.spots;
        Some((region.name.as_str(), spots))
    });
    for (of, spots) in of_regions.chain([(WHOLE, &record.spots)]) {
        for (k, spot) in spots.iter().enumerate() {
            let id = format!("{of}/{}", k + 1);
            let name = format!("{of}, spot {}", k + 1);
            let mut words = format!(
                "{} ({} mm)",
                signed_32nds(spot.off_mm),
                signed_decimal(spot.off_mm, 1)
            );
            if let (Some(length), Some(width)) = (spot.length_mm, spot.width_mm) {
                let size = |mm: f64| fraction_of_inch(mm, 4);
                words.push_str(&format!(" over {} × {} in", size(length), size(width)));
            }
            add("spot", &id, &name, Some(spot.at_mm), &words);
        }
    }
    for edge in &record.edges {
        // The list of work names an edge; the first stretch answers for it.
        for (k, stretch) in edge.stretches.iter().enumerate() {
            let further = if k == 0 {
                String::new()
            } else {
                format!("/{}", k + 1)
            };
            let id = format!("{}{further}", edge.name);
            add(
                "edge",
                &id,
                &edge.name,
                Some(along(edge, stretch)),
                &stretch.words,
            );
        }
        if edge.stretches.is_empty() {
            let middle = edge
                .runs
                .get(edge.runs.len() / 2)
                .map(|run| between(&run.from_mm, &run.to_mm));
            add("edge", &edge.name, &edge.name, middle, &edge.words.join("; "));
        }
    }
    for hole in &record.holes {
        let at = hole.reference_at_mm.or(hole.measured_at_mm);
        add("hole", &hole.name, &hole.name, at, &hole.words);
    }
    for bead in &record.beads {
        let at = bead
            .reference
            .as_ref()
            .or(bead.measured.as_ref())
            .map(|b| b.at_mm);
        add("bead", &bead.name, &bead.name, at, &bead.words.join("; "));
    }
    for recess in &record.recesses {
        let at = Some(recess.reference.at_mm);
        add("recess", &recess.name, &recess.name, at, &recess.words.join("; "));
    }
    for place in &record.places {
        let words = format!("moved {:.1} mm, ±{:.1} mm", length(&place.moved_mm), place.pm_mm);
        add(
            "place",
            &place.name,
            &place.name,
            Some(place.reference_at_mm),
            &words,
        );
    }
    marks
}

/// The middle of a stretch on the metal: that of the run nearest to half way between its ends, since an edge may bend.
fn along(edge: &EdgeRecord, stretch: &StretchRecord) -> [f64; 3] {
    let from = edge
        .runs
        .iter()
        .position(|run| far(&run.from_mm, &stretch.from_mm) < 1e-3);
    let to = edge
        .runs
        .iter()
        .position(|run| far(&run.to_mm, &stretch.to_mm) < 1e-3);
    match (from, to) {
        (Some(from), Some(to)) if from <= to => {
            let run = &edge.runs[(from + to) / 2];
            between(&run.from_mm, &run.to_mm)
        }
        _ => between(&stretch.from_mm, &stretch.to_mm),
    }
}

fn between(a: &[f64; 3], b: &[f64; 3]) -> [f64; 3] {
    std::array::from_fn(|axis| f64::midpoint(a[axis], b[axis]))
}

fn far(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    length(&std::array::from_fn(|axis| a[axis] - b[axis]))
}

fn length(v: &[f64; 3]) -> f64 {
    v.iter().map(|c| c * c).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use record::found::RunRecord;

    fn run(from: [f64; 3], to: [f64; 3]) -> RunRecord {
        RunRecord {
            from_mm: from,
            to_mm: to,
            short_mm: Some(5.5),
            pm_mm: Some(0.2),
        }
    }

    fn stretch(from: [f64; 3], to: [f64; 3]) -> StretchRecord {
        StretchRecord {
            from_mm: from,
            to_mm: to,
            length_mm: 20.0,
            short_mm: 5.5,
            pm_mm: 0.2,
            height_mm: None,
            moved_with: None,
            not_out: false,
            words: "7/32 short".to_string(),
        }
    }

    /// Round a corner: the middle of the chord would lie beside the metal.
    fn bent() -> EdgeRecord {
        let at = [
            [0.0, 0.0, 0.0],
            [10.0, 0.0, 0.0],
            [10.0, 2.0, 0.0],
            [10.0, 12.0, 0.0],
        ];
        EdgeRecord {
            name: "rear edge".to_string(),
            region: None,
            length_mm: 22.0,
            closed: false,
            straightness_mm: None,
            verdict: "outside".into(),
            words: vec!["short".to_string()],
            stretches: vec![stretch(at[0], at[3]), stretch(at[2], at[3])],
            runs: vec![run(at[0], at[1]), run(at[1], at[2]), run(at[2], at[3])],
        }
    }

    #[test]
    fn a_stretch_round_a_corner_is_pointed_at_on_the_metal() {
        let edge = bent();
        assert_eq!(along(&edge, &edge.stretches[0]), [10.0, 1.0, 0.0]);
        let strange = stretch([0.0, 0.0, 1.0], [4.0, 0.0, 1.0]);
        assert_eq!(along(&edge, &strange), [2.0, 0.0, 1.0]);
    }

    #[test]
    fn ids_are_those_of_the_work() {
        let mut record = made::record();
        record.edges = vec![bent()];
        let marks = all(&record);
        let ids: Vec<&str> = marks.iter().map(|m| m["id"].as_str().unwrap()).collect();
        assert_eq!(
            ids,
            [
                "pads/right <floor>/front inner",
                "edges/rear edge",
                "edges/rear edge/2",
                "holes/hole 1"
            ]
        );
        assert_eq!(marks[3]["at"], json!([546.1, 0.0, 279.4]));
        assert_eq!(
            marks[0]["words"],
            "take 3/16 of shim out; ±0.05 mm: of the region's move as it comes out here"
        );
    }
}
