//! In, out, too close to call, or not measured: the idea of ISO 14253-1.

use crate::figures::Figures;
pub use cloud::held::follows::NOT_HELD_MM;

/// What can be said of a region against its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// In, the ± counted in.
    Within,
    /// Out, the ± counted in.
    Outside,
    /// The limit lies inside the ±.
    TooClose,
    /// Too little was seen, or nothing holds the direction that matters.
    NotMeasured,
}

/// Least share of a region that must have been seen for a verdict.
pub const LEAST_COVERAGE: f64 = 0.6;

impl Verdict {
    /// The word in a results file.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Within => "within",
            Verdict::Outside => "outside",
            Verdict::TooClose => "too-close",
            Verdict::NotMeasured => "not-measured",
        }
    }

    /// The words on a page.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Within => "in",
            Verdict::Outside => "OUT",
            Verdict::TooClose => "too close to call",
            Verdict::NotMeasured => "not measured",
        }
    }

    /// The one that counts for several together: out, then too close, then not measured, then in.
    pub fn of_all(verdicts: impl IntoIterator<Item = Verdict>) -> Verdict {
        let rank = |v: Verdict| match v {
            Verdict::Within => 0,
            Verdict::NotMeasured => 1,
            Verdict::TooClose => 2,
            Verdict::Outside => 3,
        };
        verdicts
            .into_iter()
            .max_by_key(|v| rank(*v))
            .unwrap_or(Verdict::NotMeasured)
    }
}

/// In if |off| + ± ≤ limit, out if |off| − ± > limit, else too close to call (ISO 14253-1:2017, the idea; the 95 % band
/// stands for the guard), or not measured where the ± says that nothing holds the setting there.
pub fn decide(off_mm: f64, pm_mm: f64, limit_mm: f64) -> Verdict {
    if off_mm.abs() + pm_mm <= limit_mm {
        Verdict::Within
    } else if off_mm.abs() - pm_mm > limit_mm {
        Verdict::Outside
    } else if pm_mm > NOT_HELD_MM {
        Verdict::NotMeasured
    } else {
        Verdict::TooClose
    }
}

/// The verdict of a region by all of its places ([`crate::figures::Judged`]); none where less than 60 % of the region was seen.
pub fn of_region(figures: &Figures) -> Verdict {
    match &figures.spread {
        Some(spread) if figures.coverage >= LEAST_COVERAGE => spread.judged.verdict,
        _ => Verdict::NotMeasured,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_band_decides_and_the_edges_belong_to_the_careful_side() {
        assert_eq!(decide(-1.0, 0.5, 1.5), Verdict::Within);
        assert_eq!(decide(1.2, 0.5, 1.5), Verdict::TooClose);
        assert_eq!(decide(2.0, 0.5, 1.5), Verdict::TooClose);
        assert_eq!(decide(-2.1, 0.5, 1.5), Verdict::Outside);
    }

    /// A figure that follows a motion which nothing holds has a ± of a metre.
    #[test]
    fn what_nothing_holds_is_not_measured_and_not_too_close() {
        assert_eq!(decide(3.0, 1_000.0, 1.5), Verdict::NotMeasured);
        assert_eq!(decide(3.0, 100.0, 1.5), Verdict::TooClose);
    }

    #[test]
    fn the_worst_of_several_counts() {
        use Verdict::{NotMeasured, Outside, TooClose, Within};
        assert_eq!(Verdict::of_all([Within, Outside, NotMeasured]), Outside);
        assert_eq!(Verdict::of_all([Within, TooClose, NotMeasured]), TooClose);
        assert_eq!(Verdict::of_all([Within, NotMeasured]), NotMeasured);
        assert_eq!(Verdict::of_all([]), NotMeasured);
    }
}
