//! What is said of a recess of both sets: its place, depth, widths and edge radius.

use cloud::Vector;
use cloud::unit::fraction_of_inch;
use compare::verdict::NOT_HELD_MM;

use super::{Recess, RecessPair};
use crate::words;

impl RecessPair {
    /// The same with the setting's share of the ± in that of its place; where nothing holds the set along the skin there, its
    /// place can't be told.
    #[must_use]
    pub fn with_setting(mut self, setting_pm_mm: f64) -> Self {
        self.pm_mm = self.pm_mm.hypot(setting_pm_mm);
        if self.pm_mm > NOT_HELD_MM
            && let Some(place) = self.words.first_mut()
        {
            *place = words::PLACE_NOT_HELD.to_string();
        }
        self
    }
}

/// One a finding, the place first.
pub(super) fn in_words(reference: &Recess, measured: &Recess, moved: &Vector) -> Vec<String> {
    let least = 25.4 / 64.0;
    let mut out = vec![match words::displacement(moved, least).as_str() {
        "home" => "in its place".to_string(),
        place => place.to_string(),
    }];
    let mut add = |off_mm: f64, more: &str, less: &str| {
        let size = fraction_of_inch(off_mm, 32);
        if size != "0" {
            out.push(format!("{size} {}", if off_mm > 0.0 { more } else { less }));
        }
    };
    add(measured.depth_mm - reference.depth_mm, "too deep", "shallow");
    for k in 0..2 {
        let direction = ["in one direction", "in the other"][k];
        let off = measured.width_mm[k] - reference.width_mm[k];
        add(off, &format!("wide {direction}"), &format!("narrow {direction}"));
    }
    out.push(match (reference.outer_radius_mm, measured.outer_radius_mm) {
        (_, None) => "edge radius: can't tell, use a radius gauge".to_string(),
        (None, Some(theirs)) => format!(
            "edge radius {} {}; the reference's can't be told, use a radius gauge",
            fraction_of_inch(theirs, 32),
            words::crisp_or_soft(theirs)
        ),
        (Some(ours), Some(theirs)) => format!(
            "edge radius {} {} for {}",
            fraction_of_inch(theirs, 32),
            words::crisp_or_soft(theirs),
            fraction_of_inch(ours, 32)
        ),
    });
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Point;

    #[test]
    fn where_nothing_holds_the_set_along_the_skin_the_place_cannot_be_told_and_the_depth_can() {
        let recess = |x: f64, depth_mm: f64| Recess {
            at: Point::new(x, 0.0, 0.0),
            depth_mm,
            width_mm: [30.0, 80.0],
            wall: 0.6,
            outer_radius_mm: None,
            inner_radius_mm: None,
        };
        let (reference, measured) = (recess(0.0, 6.35), recess(4.76, 4.76));
        let moved = measured.at - reference.at;
        let pair = RecessPair {
            name: "ring".to_string(),
            words: in_words(&reference, &measured, &moved),
            reference,
            measured,
            moved,
            pm_mm: 0.1,
            size_pm_mm: 0.1,
        };
        let held = pair.clone().with_setting(0.2);
        assert_eq!(held.words[..2], ["3/16 rearward", "1/16 shallow"]);
        assert!((held.pm_mm - 0.05f64.sqrt()).abs() < 1e-12 && held.size_pm_mm == 0.1);
        let slides = pair.with_setting(1_000.0);
        assert_eq!(slides.words[..2], [words::PLACE_NOT_HELD, "1/16 shallow"]);
        assert!(slides.pm_mm > NOT_HELD_MM && slides.size_pm_mm == 0.1);
    }
}
