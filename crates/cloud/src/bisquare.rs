//! Tukey's bisquare: the weight that leaves outliers out of a robust fit.

/// Residuals beyond this many standard deviations get no weight: 95 % as efficient as least squares where the noise is
/// normal.
pub const TUKEY: f64 = 4.685;

/// The bisquare weight (Beaton & Tukey 1974, Technometrics 16, 147-185) of a residual: 1 at nothing, 0 from `cut` on.
#[inline]
pub fn bisquare(rest: f64, cut: f64) -> f64 {
    (1.0 - (rest / cut).powi(2)).max(0.0).powi(2)
}

/// The bisquare's loss, 0 at nothing and 1 from `cut` on.
pub fn bisquare_loss(rest: f64, cut: f64) -> f64 {
    1.0 - (1.0 - (rest / cut).powi(2)).max(0.0).powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_weight_falls_to_nothing_at_the_cut() {
        assert_eq!(bisquare(0.0, 2.0), 1.0);
        assert_eq!(bisquare(2.0, 2.0), 0.0);
        assert_eq!(bisquare(5.0, f64::INFINITY), 1.0);
        assert_eq!((bisquare_loss(0.0, 2.0), bisquare_loss(3.0, 2.0)), (0.0, 1.0));
    }
}
