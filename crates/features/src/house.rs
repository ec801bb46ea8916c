//! House dimensions: what a figure is on several originals, and whether a part lies outside their spread.
//!
//! Parts of one press differ by themselves; a single reference is one of them and no drawing.

use cloud::statistics::{median, robust_spread};
use cloud::unit::fraction_of_inch;

/// What a figure is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// Millimetres.
    Length,
    /// Degrees.
    Angle,
}

impl Counted {
    /// Less than this is nothing: 1/64 in, or half a degree.
    fn least(self) -> f64 {
        match self {
            Counted::Length => 25.4 / 64.0,
            Counted::Angle => 0.5,
        }
    }

    fn said(self, by: f64) -> String {
        match self {
            Counted::Length => fraction_of_inch(by, 64),
            Counted::Angle => format!("{by:.1}°"),
        }
    }
}

/// A figure over several originals; degrees stand in the place of mm where it is an angle.
#[derive(Debug, Clone, PartialEq)]
pub struct House {
    /// Which figure.
    pub what: String,
    /// How many originals it is known of, the reference among them.
    pub count: usize,
    /// Their median, mm.
    pub median_mm: f64,
    /// 1.4826 times the median of the departures from it (a standard deviation where they are normal), mm.
    pub spread_mm: f64,
    /// The least and the largest of them, mm.
    pub range_mm: [f64; 2],
    /// On the part, mm.
    pub measured_mm: f64,
    /// Whether the part lies among them.
    pub place: Placed,
    /// In words.
    pub words: String,
}

/// Where a part lies among the originals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Placed {
    /// Among them, its ± taken in.
    Among,
    /// Beyond all of them by more than its ±.
    Outside,
    /// There is only the reference: nothing is known of how such parts differ.
    OnlyOne,
}

/// With fewer originals than this their spread is a guide only.
const GUIDE_UNDER: usize = 5;

/// Lays a part's figure beside those of the originals (the reference's own among them).
pub fn house(what: &str, originals_mm: &[f64], measured_mm: f64, pm_mm: f64, counted: Counted) -> House {
    let mut sorted = originals_mm.to_vec();
    sorted.sort_by(f64::total_cmp);
    let range_mm = [
        sorted.first().copied().unwrap_or(measured_mm),
        sorted.last().copied().unwrap_or(measured_mm),
    ];
    let median_mm = if sorted.is_empty() {
        measured_mm
    } else {
        median(&mut sorted)
    };
    let count = originals_mm.len();
    let spread_mm = if count > 1 {
        robust_spread(originals_mm)
    } else {
        0.0
    };
    let beyond_mm = (range_mm[0] - measured_mm).max(measured_mm - range_mm[1]);
    let place = if count < 2 {
        Placed::OnlyOne
    } else if beyond_mm > pm_mm.max(counted.least()) {
        Placed::Outside
    } else {
        Placed::Among
    };
    let guide = if count < GUIDE_UNDER { ", guide only" } else { "" };
    let words = match place {
        Placed::OnlyOne => "only one reference".to_string(),
        Placed::Outside => format!(
            "outside the spread of {count} originals by {}{guide}",
            counted.said(beyond_mm)
        ),
        Placed::Among => format!("among {count} originals{guide}"),
    };
    House {
        what: what.to_string(),
        count,
        median_mm,
        spread_mm,
        range_mm,
        measured_mm,
        place,
        words,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_lies_among_its_originals_or_outside_or_there_is_only_one() {
        let originals = [0.0, 0.4, -0.6, 0.2, 0.1];
        let house = |what: &str, originals: &[f64], measured_mm: f64, pm_mm: f64| {
            house(what, originals, measured_mm, pm_mm, Counted::Length)
        };
        let far = house("recess", &originals, -4.76, 0.2);
        assert_eq!(far.place, Placed::Outside);
        assert_eq!(far.words, "outside the spread of 5 originals by 5/32");
        assert!((far.median_mm - 0.1).abs() < 1e-12);
        assert!((far.spread_mm - 1.4826 * 0.1).abs() < 2e-2, "{}", far.spread_mm);
        // Within its own ± of the last of them it is not called outside.
        assert_eq!(house("recess", &originals, 0.5, 0.2).place, Placed::Among);
        assert_eq!(
            house("recess", &originals[..3], 0.5, 0.05).words,
            "among 3 originals, guide only"
        );
        assert_eq!(house("recess", &[0.0], 3.0, 0.2).words, "only one reference");
    }

    /// Half a degree is nothing, as a 64th of an inch is.
    #[test]
    fn an_angle_is_counted_in_degrees() {
        let open = |deg: f64| house("flange", &[0.0, 0.2, -0.1, 0.3, 0.1], deg, 0.1, Counted::Angle);
        assert_eq!(open(0.75).place, Placed::Among);
        assert_eq!(open(2.5).words, "outside the spread of 5 originals by 2.2°");
    }
}
