//! The tape sheet: some distances between named places, from point to point, for the next shop to repeat.

use record::figured::PlaceRecord;

/// Nearer than this a hook of a tape is no help (four inches; common practice, no source), mm.
const LEAST_MM: f64 = 101.6;

/// A distance between two places, and half its 95 % band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading<'a> {
    pub from: &'a str,
    pub to: &'a str,
    pub mm: f64,
    pub pm_mm: f64,
}

/// At most so many distances as they were measured: always between the places that were taken least so far, and of those the
/// longest, so that every place is read and the long diagonals come first.
pub(super) fn readings(places: &[PlaceRecord], most: usize) -> Vec<Reading<'_>> {
    let mut pairs: Vec<(usize, usize, f64)> = Vec::new();
    for (i, a) in places.iter().enumerate() {
        for (j, b) in places.iter().enumerate().skip(i + 1) {
            let mm = apart(a.measured_at_mm, b.measured_at_mm);
            if mm >= LEAST_MM {
                pairs.push((i, j, mm));
            }
        }
    }
    let mut taken = vec![0_usize; places.len()];
    let mut out = Vec::new();
    while out.len() < most {
        let times = |pair: &(usize, usize, f64)| taken[pair.0] + taken[pair.1];
        let next = pairs
            .iter()
            .enumerate()
            .min_by(|a, b| times(a.1).cmp(&times(b.1)).then(b.1.2.total_cmp(&a.1.2)));
        let Some((k, &(i, j, mm))) = next else { break };
        pairs.remove(k);
        taken[i] += 1;
        taken[j] += 1;
        let (a, b) = (&places[i], &places[j]);
        out.push(Reading {
            from: &a.name,
            to: &b.name,
            mm,
            pm_mm: a.pm_to_mm(b),
        });
    }
    out
}

fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1]).hypot(a[2] - b[2])
}

#[cfg(test)]
pub(super) fn made_place(name: &str, at: [f64; 3]) -> PlaceRecord {
    PlaceRecord {
        name: name.to_string(),
        reference_at_mm: at,
        measured_at_mm: at,
        moved_mm: [0.0; 3],
        pm_mm: 0.3,
        axis: None,
        pm_out_mm: None,
        pm_along_mm: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A table of 3000 by 4000, whose diagonals are 5000.
    fn corners() -> Vec<PlaceRecord> {
        [
            ("FL", 0.0, 0.0),
            ("FR", 0.0, 3000.0),
            ("RL", 4000.0, 0.0),
            ("RR", 4000.0, 3000.0),
        ]
        .map(|(name, x, y)| made_place(name, [x, y, 0.0]))
        .to_vec()
    }

    #[test]
    fn both_diagonals_come_first_and_then_the_long_sides() {
        let places = corners();
        let read = readings(&places, 12);
        assert_eq!(read.len(), 6);
        let first: Vec<(&str, &str)> = read.iter().map(|r| (r.from, r.to)).take(2).collect();
        assert_eq!(first, [("FL", "RR"), ("FR", "RL")]);
        let lengths: Vec<f64> = read.iter().map(|r| r.mm).collect();
        assert_eq!(lengths, [5000.0, 5000.0, 4000.0, 4000.0, 3000.0, 3000.0]);
        assert!((read[0].pm_mm - 0.3 * 2.0_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn no_more_than_asked_and_none_between_neighbours() {
        assert_eq!(readings(&corners(), 2).len(), 2);
        let near = [made_place("a", [0.0; 3]), made_place("b", [50.0, 0.0, 0.0])];
        assert!(readings(&near, 12).is_empty());
        assert!(readings(&[], 12).is_empty());
    }
}
