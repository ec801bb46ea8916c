//! What is proud or shy of a whole set that nobody has parted into regions.

use ::compare::Verdict;
use ::features::shift::Spot;
use cloud::{Bounds, Vector};

use super::pictures::Shown;
use super::{List, MOST_SPOTS, SMALL_SPOT_MM2, shape, sided, whence};
use crate::cli::SetBy;
use crate::stages::checks::place::SeenPlace;

impl List<'_> {
    /// What is done about the worst spots of a set that is out and has no regions.
    pub(super) fn spots_of_whole(&mut self) {
        let (set_by, places) = (self.shown.comparison.set_by, &self.shown.found.places);
        let told = |spot: &Spot, size: &Vector| told(spot, size, set_by, places);
        for (words, figure) in self.whole_in_words(told) {
            self.shop(words, figure);
        }
    }

    /// Those spots as they are `told` of a set of this size, each with where its figure stands.
    pub(super) fn whole_in_words(&self, told: impl Fn(&Spot, &Vector) -> String) -> Vec<(String, String)> {
        let Shown {
            comparison,
            reference,
            compared,
            found,
            ..
        } = self.shown;
        if !compared.regions.is_empty() || compared.verdict.0 != Verdict::Outside {
            return Vec::new();
        }
        let size = Bounds::of(reference.points()).map_or(Vector::zeros(), |b| b.size());
        let spots = found.spots.iter().enumerate();
        let spots = spots.filter(|(_, spot)| spot.mm.abs() > comparison.limit_mm);
        let in_words = |(k, spot): (usize, &Spot)| {
            let words = sided(told(spot, &size), compared.side_is_guessed(None));
            (words, format!("spots/the whole set/{}", k + 1))
        };
        spots.take(MOST_SPOTS).map(in_words).collect()
    }
}

/// A spot of a set of this size. More metal than a dent has may have moved as a whole, which only a region can tell.
fn told(spot: &Spot, size: &Vector, set_by: SetBy, places: &[SeenPlace]) -> String {
    let shape = shape(size, spot, &whence::place(&spot.at, &[], places));
    let done = if spot.area_mm2 < SMALL_SPOT_MM2 {
        format!("dress {shape}")
    } else {
        format!("{shape}, unless it has moved: declare it as a region to tell")
    };
    let doubt = match set_by {
        SetBy::AllOver => "; set all over, which can hide the fault",
        _ => "",
    };
    format!("the whole set: {done}{doubt}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Point;

    #[test]
    fn a_dent_is_dressed_and_what_may_have_moved_is_asked_about() {
        let spot = |area_mm2: f64| Spot {
            mm: -2.38125,
            at: Point::new(254.0, 0.0, 508.0),
            area_mm2,
            length_mm: 50.8,
            width_mm: 19.05,
        };
        let size = Vector::new(2000.0, 1200.0, 600.0);
        let small = told(&spot(900.0), &size, SetBy::AsIs, &[]);
        assert!(
            small.starts_with("the whole set: dress 3/32 in (2.4 mm) shy over 2 × 3/4 in (1.4 sq in) at (10.0, 0.0, 20.0) in"),
            "{small}"
        );
        assert!(small.ends_with("a dent to raise and planish"), "{small}");
        let large = told(&spot(90_000.0), &size, SetBy::AllOver, &[]);
        assert!(
            large.contains("unless it has moved: declare it as a region"),
            "{large}"
        );
        assert!(
            large.ends_with("; set all over, which can hide the fault"),
            "{large}"
        );
    }
}
