//! The tape sheet: a dozen distances between places that a man can tape, foretold, and whether what he read agrees.
//!
//! It is the cheapest guard against a wrong scale, unit, hand or setting at once: a tape knows nothing of any of them.

use cloud::{Point, Vector};

use crate::shell::Known;

/// A place that a tape can be held to.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Its name.
    pub name: String,
    /// Where it is, mm.
    pub at: Point,
    /// How well that is known.
    pub known: Known,
}

/// A distance to be taped.
#[derive(Debug, Clone, PartialEq)]
pub struct Distance {
    /// From which place.
    pub from: String,
    /// To which.
    pub to: String,
    /// What the tape should read, mm.
    pub foretold_mm: f64,
    /// ± of what is foretold, the tape's own left out, mm.
    pub pm_mm: f64,
}

/// Most distances on a sheet.
const MOST: usize = 12;
/// Shorter ones say little of the scale, mm (a foot).
const SHORTEST_MM: f64 = 304.8;
/// Distances within this of one direction see the same fault alike.
const ALIKE_COSINE: f64 = 0.97;

/// What a steel tape may be wrong by, mm: 1/32 in to six feet, 1/16 in to thirty, 1/8 in beyond (NIST Handbook 44, §5.52,
/// maintenance tolerances, by way of the trade's figures).
pub fn tape_pm_mm(length_mm: f64) -> f64 {
    let feet = length_mm / 304.8;
    let inches = if feet <= 6.0 {
        1.0 / 32.0
    } else if feet <= 30.0 {
        1.0 / 16.0
    } else {
        1.0 / 8.0
    };
    inches * 25.4
}

/// Chooses up to a dozen distances: the longest first, each in a direction or from a place that is not on the sheet yet, so
/// that lengths, widths and diagonals all come in.
pub fn sheet(places: &[Held]) -> Vec<Distance> {
    let mut all: Vec<(usize, usize, Vector)> = Vec::new();
    for i in 0..places.len() {
        for j in i + 1..places.len() {
            let along = places[j].at - places[i].at;
            if along.norm() >= SHORTEST_MM {
                all.push((i, j, along));
            }
        }
    }
    all.sort_by(|a, b| {
        b.2.norm()
            .total_cmp(&a.2.norm())
            .then((a.0, a.1).cmp(&(b.0, b.1)))
    });
    let mut chosen: Vec<(usize, usize, Vector)> = Vec::new();
    let mut uses = vec![0usize; places.len()];
    // First what brings in a new direction or a new place, then the longest of the rest.
    for fresh in [true, false] {
        for &(i, j, along) in &all {
            if chosen.len() >= MOST || chosen.iter().any(|c| (c.0, c.1) == (i, j)) {
                continue;
            }
            let new_direction = !chosen
                .iter()
                .any(|c| c.2.normalize().dot(&along.normalize()).abs() > ALIKE_COSINE);
            let new_place = uses[i] == 0 || uses[j] == 0;
            if !fresh || new_direction || new_place {
                uses[i] += 1;
                uses[j] += 1;
                chosen.push((i, j, along));
            }
        }
    }
    chosen
        .into_iter()
        .map(|(i, j, along)| Distance {
            from: places[i].name.clone(),
            to: places[j].name.clone(),
            foretold_mm: along.norm(),
            pm_mm: {
                let [from, to] = [i, j].map(|k| places[k].known.along_mm(&along.normalize()));
                from.hypot(to)
            },
        })
        .collect()
}

/// Whether a reading agrees with what was foretold, within both ±.
pub fn agrees(distance: &Distance, reading_mm: f64) -> bool {
    (reading_mm - distance.foretold_mm).abs() <= distance.pm_mm.hypot(tape_pm_mm(distance.foretold_mm))
}

/// The scale that would explain readings that are all long or all short alike, where it explains them: at least three, and
/// what it leaves of them agrees. One number for all, by least squares.
pub fn scale_of(readings: &[(Distance, f64)]) -> Option<f64> {
    if readings.len() < 3 || readings.iter().all(|(distance, read)| agrees(distance, *read)) {
        return None;
    }
    let above: f64 = readings.iter().map(|(d, read)| d.foretold_mm * read).sum();
    let below: f64 = readings.iter().map(|(d, _)| d.foretold_mm.powi(2)).sum();
    let scale = above / below;
    let explained = readings.iter().all(|(distance, read)| {
        let scaled = Distance {
            foretold_mm: distance.foretold_mm * scale,
            ..distance.clone()
        };
        agrees(&scaled, *read)
    });
    explained.then_some(scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn six() -> Vec<Held> {
        [
            ("H1", 4.0, -14.0, 20.0),
            ("H2", 4.0, 14.0, 20.0),
            ("H3", 46.0, -14.0, 20.0),
            ("H4", 46.0, 14.0, 20.0),
            ("H5", 80.0, -15.5, 26.0),
            ("H6", 80.0, 15.5, 26.0),
        ]
        .into_iter()
        .map(|(name, x, y, z)| Held {
            name: name.to_string(),
            at: Point::new(x, y, z) * 25.4,
            known: Known::alike(0.3),
        })
        .collect()
    }

    #[test]
    fn a_sheet_holds_lengths_widths_and_diagonals_of_every_place() {
        let sheet = sheet(&six());
        assert!((8..=12).contains(&sheet.len()), "{}", sheet.len());
        let has = |a: &str, b: &str| sheet.iter().any(|d| d.from == a && d.to == b);
        assert!(has("H1", "H6") && has("H2", "H5") && has("H5", "H6"));
        for place in six() {
            assert!(sheet.iter().any(|d| d.from == place.name || d.to == place.name));
        }
        let diagonal = sheet.iter().find(|d| d.from == "H1" && d.to == "H6").unwrap();
        let expected = (76.0f64.powi(2) + 29.5f64.powi(2) + 36.0).sqrt() * 25.4;
        assert!((diagonal.foretold_mm - expected).abs() < 1e-9);
        assert!((diagonal.pm_mm - 0.3 * 2f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn readings_agree_within_the_tape_and_a_wrong_scale_is_named() {
        let sheet = sheet(&six());
        let with = |scale: f64| -> Vec<(Distance, f64)> {
            sheet.iter().map(|d| (d.clone(), d.foretold_mm * scale)).collect()
        };
        assert!(with(1.0001).iter().all(|(d, read)| agrees(d, *read)));
        assert_eq!(scale_of(&with(1.0001)), None);
        assert!(!agrees(&sheet[0], sheet[0].foretold_mm + 3.0));
        let scale = scale_of(&with(0.996)).unwrap();
        assert!((scale - 0.996).abs() < 1e-12);
        // One wrong reading is no scale.
        let mut one_wrong = with(1.0);
        one_wrong[0].1 += 12.7;
        assert_eq!(scale_of(&one_wrong), None);
    }
}
