//! Why one set could not be set on another.

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
    /// The named points lie on a line (or in one place), which leaves a turn about it free.
    #[error(
        "the named points lie on one line, so the part could still turn about it; add a point off the line"
    )]
    OnALine,
    /// The named points of the two sets don't belong together.
    #[error("the named points lie {rms_mm:.1} mm (rms) apart at best, so they don't belong together; {hint}")]
    PointsDisagree {
        /// How far apart they lie at best.
        rms_mm: f64,
        /// What may be wrong.
        hint: String,
    },
    /// A point is bad, and nothing tells which.
    #[error(
        "of the points {names} one is off by about {off_mm:.1} mm, and the others can't settle which: measure again, or give more points"
    )]
    OneOfThese {
        /// Those that it could be.
        names: String,
        /// How far it is off, mm.
        off_mm: f64,
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
        "only {kept_percent:.0} % was left alone: a setting over everything would follow the new metal and call the old wrong; set by what was left alone (--set-by left-alone), by points or by holes"
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
