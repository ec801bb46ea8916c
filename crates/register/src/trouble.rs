//! Why one set could not be set on another.

use cloud::unit::fraction_of_inch;

/// Why a setting was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RegisterError {
    /// Fewer pairs than a rigid motion needs.
    #[error("only {found} {what}; at least {needed} are needed")]
    TooFew {
        /// What was counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many there must be.
        needed: usize,
    },
    /// Fewer holes of the two sets match than a rigid motion needs.
    #[error(
        "only {found} holes that match (found: {of_reference} in the reference, {of_measured} in the measured set); at least {needed} are needed"
    )]
    TooFewHoles {
        /// How many match.
        found: usize,
        /// How many there must be.
        needed: usize,
        /// How many the reference has.
        of_reference: usize,
        /// How many the measured set has.
        of_measured: usize,
    },
    /// The named points lie on a line (or in one place), which leaves a turn about it free.
    #[error(
        "the named points lie on one line, so the part could still turn about it; add a point off the line"
    )]
    OnALine,
    /// The named points of the two sets don't belong together.
    #[error(
        "the named points lie {} apart in the mean at best, so they don't belong together; {hint}",
        length(.rms_mm)
    )]
    PointsDisagree {
        /// How far apart they lie at best.
        rms_mm: f64,
        /// What may be wrong.
        hint: String,
    },
    /// Two names stand at each other's points.
    #[error(
        "{names} look exchanged: as they are named the points lie up to {} off{}; exchange the two names in one of the two lists",
        length(.off_mm),
        put_right(.then_mm)
    )]
    Exchanged {
        /// The two names, and others that it could as well be.
        names: String,
        /// The worst point as they are named, mm.
        off_mm: f64,
        /// The worst point with the two exchanged, mm; `None` where that is not within what is to be expected of the points.
        then_mm: Option<f64>,
    },
    /// The numbers of one point are in another unit than the others.
    #[error(
        "point {name} is {} from where the others put it, and would be there if {if_only}: is its unit right?",
        length(.off_mm)
    )]
    OtherUnit {
        /// Its name.
        name: String,
        /// How far it is off as it was read, mm.
        off_mm: f64,
        /// Which numbers would have to be in which unit.
        if_only: String,
    },
    /// A point is bad, and nothing tells which.
    #[error(
        "of the points {names} one is off by about {}, and the others can't settle which: measure again, or give more points",
        length(.off_mm)
    )]
    OneOfThese {
        /// Those that it could be.
        names: String,
        /// How far it is off, mm.
        off_mm: f64,
    },
    /// Their heights contradict each other crosswise, or one of them is bad.
    #[error("{words}; or one of the points {names} was measured wrong: give more points to tell")]
    Twisted {
        /// Which stand high and which low.
        words: String,
        /// Those of which one could be bad.
        names: String,
    },
    /// The two sets have too little in common.
    #[error(
        "the two sets have only {overlap_percent:.0} % of their surface in common, too little to set one on the other; give named points, or sets that overlap by more than {needed_percent:.0} %"
    )]
    TooLittleOverlap {
        /// Share in common, percent.
        overlap_percent: f64,
        /// Share that is asked for, percent.
        needed_percent: f64,
    },
    /// The two sets have too little in common, and the mirror image of the one has enough.
    #[error(
        "the two sets have only {overlap_percent:.0} % of their surface in common as they are, and as their mirror image they fit: {mirrored_percent:.0} %; is it the other hand (then hold it against the mirror image: --mirror), or are two axes swapped in the file?"
    )]
    FitsMirrored {
        /// Share in common as they are, percent.
        overlap_percent: f64,
        /// Share in common with the measured set mirrored, percent.
        mirrored_percent: f64,
    },
    /// Too little of the reference is marked as left alone.
    #[error(
        "only {share_percent:.0} % of the reference was left alone, too little to set the measured set by; mark what was left alone as kept, or give datum points"
    )]
    TooLittleKept {
        /// Share of the reference's points in kept regions, percent.
        share_percent: f64,
    },
    /// More was worked on than left alone, and an all-over setting was asked for.
    #[error(
        "only {kept_percent:.0} % was left alone: setting it by everything would follow the new metal and call the old wrong; set by what was left alone (--set-by left-alone), by points or by holes"
    )]
    MostlyChanged {
        /// Share of what the regions cover that was left alone, percent.
        kept_percent: f64,
    },
    /// The part is no mirror image of itself.
    #[error(
        "the part is not nearly its own mirror image in any plane, so its two sides can't be compared with each other; give a reference"
    )]
    NotSymmetrical,
    /// A number that is not finite reached the fit.
    #[error("a coordinate that is not a number reached the fit")]
    NotFinite,
}

/// Nothing closer than this is told in inches, mm (1/64 in).
const LEAST_TOLD_MM: f64 = 25.4 / 64.0;

/// `9-3/32 in (230.9 mm)`.
fn length(mm: &f64) -> String {
    format!("{} in ({mm:.1} mm)", fraction_of_inch(*mm, 32))
}

fn put_right(then_mm: &Option<f64>) -> String {
    then_mm.map_or(String::new(), |mm| {
        let inches = fraction_of_inch(mm.max(LEAST_TOLD_MM), 64);
        format!(", and exchanged they lie within {inches} in ({mm:.2} mm)")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exchange_says_how_far_off_and_what_would_be_left() {
        let exchanged = |then_mm| RegisterError::Exchanged {
            names: "B and C".to_string(),
            off_mm: 617.5,
            then_mm,
        };
        assert_eq!(
            exchanged(Some(0.4)).to_string(),
            "B and C look exchanged: as they are named the points lie up to 24-5/16 in (617.5 mm) off, and exchanged they lie within 1/64 in (0.40 mm); exchange the two names in one of the two lists"
        );
        assert!(exchanged(None).to_string().contains("(617.5 mm) off; exchange"));
    }

    #[test]
    fn a_set_of_the_other_hand_is_told_what_fits_and_what_to_do() {
        let mirrored = RegisterError::FitsMirrored {
            overlap_percent: 5.2,
            mirrored_percent: 97.0,
        };
        assert_eq!(
            mirrored.to_string(),
            "the two sets have only 5 % of their surface in common as they are, and as their mirror image they fit: 97 %; is it the other hand (then hold it against the mirror image: --mirror), or are two axes swapped in the file?"
        );
    }
}
