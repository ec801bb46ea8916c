//! What a bar's bend carries: how its section at a place has moved and turned, and all that is in the metal there with it.

use cloud::statistics::median;
use cloud::{Point, Vector};

use super::{Bar, Inch};

/// Inches this near to a place tell of it, mm (half a foot): a dent in a few of them is no bend of the bar.
const NEAR_MM: f64 = 6.0 * 25.4;

impl Bar {
    /// How the metal at a place has moved with the section of the bar there, mm; nothing along ways that no face shows.
    pub fn moved(&self, at: &Point) -> Vector {
        let arm = at - self.origin;
        let at_mm = arm.dot(&self.along);
        let across = arm - self.along * at_mm;
        let [level, upright] = [0, 1].map(|d| self.read_at(at_mm, |inch| inch.offset_mm[d]));
        let roll = self.read_at(at_mm, |inch| inch.roll_deg).to_radians();
        self.across[0] * level + self.across[1] * upright + self.along.cross(&across) * roll
    }

    /// What the inches near a place show there: the line of the median of their slopes (Theil 1950, Sen 1968), which few of them
    /// don't bend.
    fn read_at(&self, at_mm: f64, shown: impl Fn(&Inch) -> Option<f64>) -> f64 {
        let near = self
            .inches
            .iter()
            .filter(|inch| (inch.at_mm - at_mm).abs() <= NEAR_MM);
        let near: Vec<(f64, f64)> = near
            .filter_map(|inch| Some((inch.at_mm - at_mm, shown(inch)?)))
            .collect();
        let pairs = near
            .iter()
            .enumerate()
            .flat_map(|(k, a)| near[k + 1..].iter().map(move |b| (a, b)));
        let mut slopes: Vec<f64> = pairs.map(|(a, b)| (b.1 - a.1) / (b.0 - a.0)).collect();
        if slopes.is_empty() {
            return near.first().map_or(0.0, |only| only.1);
        }
        let slope = median(&mut slopes);
        let mut here: Vec<f64> = near.iter().map(|(along_mm, mm)| mm - slope * along_mm).collect();
        median(&mut here)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bar along X, bowed up by 4 in the middle of its 48 in and turned by 1° from end to end.
    fn bowed() -> Bar {
        let inch = |k: u32| {
            let at_mm = 25.4 * (f64::from(k) + 0.5);
            let share = at_mm / (48.0 * 25.4);
            Inch {
                at_mm,
                offset_mm: [None, Some(4.0 * (1.0 - (2.0 * share - 1.0).powi(2)))],
                roll_deg: Some(share),
            }
        };
        Bar {
            name: "sill".to_string(),
            origin: Point::new(100.0, 650.0, 64.0),
            along: Vector::x(),
            across: [Vector::y(), Vector::z()],
            length_mm: 48.0 * 25.4,
            width_mm: 90.0,
            bows: [None, None],
            ends: None,
            twist: None,
            straight_edge: None,
            inches: (0..48).map(inch).collect(),
            words: Vec::new(),
        }
    }

    #[test]
    fn a_place_of_a_bowed_bar_moves_with_its_section() {
        let mut bar = bowed();
        let middle = Point::new(100.0 + 24.0 * 25.4, 650.0, 128.0);
        let moved = bar.moved(&middle);
        assert!((moved.z - 4.0).abs() < 0.2, "{moved}");
        // Turned by half a degree there, its top 64 over the long axis goes left.
        assert!(
            (moved.y + 64.0 * 0.5f64.to_radians()).abs() < 0.02 && moved.x == 0.0,
            "{moved}"
        );
        let beside = bar.moved(&(middle + Vector::y() * 45.0));
        assert!(
            (beside.z - moved.z - 45.0 * 0.5f64.to_radians()).abs() < 0.02,
            "{beside}"
        );
        assert!(bar.moved(&Point::new(100.0, 650.0, 64.0)).z.abs() < 0.3);
        // A dent of three inches in its only face is none of its bend.
        for inch in &mut bar.inches[23..26] {
            inch.offset_mm[1] = inch.offset_mm[1].map(|mm| mm - 5.0);
        }
        assert!((bar.moved(&middle).z - 4.0).abs() < 0.4, "{}", bar.moved(&middle));
    }
}
