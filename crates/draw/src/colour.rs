//! The two-sided ramp: pale within the limit, orange to brown proud, purple shy, darker the farther off.
//!
//! The anchors lie on ColorBrewer's PuOr (Harrower & Brewer 2003), whose two ends colour-blind eyes tell apart; in grey
//! print the ends are told apart by the dots and lines that are laid over them (see [`crate::splat`]).

/// Red, green, blue, 0 to 255.
pub type Rgb = [u8; 3];

/// Metal within the limit.
pub const WITHIN: Rgb = [242, 241, 236];
/// Metal that is not asked about.
pub const ASIDE: Rgb = [214, 214, 214];
/// Ground of the hatching where nothing was measured.
pub const UNSEEN: Rgb = [250, 250, 250];
/// Paper.
pub const PAPER: Rgb = [255, 255, 255];
/// Ink.
pub const INK: Rgb = [28, 28, 30];

const PROUD: [Rgb; 4] = [[253, 190, 115], [240, 150, 50], [196, 98, 12], [120, 54, 4]];
const SHY: [Rgb; 4] = [[198, 190, 224], [150, 138, 192], [98, 66, 148], [48, 6, 86]];

/// The end of the ramp in limits.
pub const ENDS: f64 = 4.0;

/// The deviation at the ends of the ramp, mm.
pub fn end_mm(limit_mm: f64) -> f64 {
    ENDS * limit_mm
}

/// The colour of a deviation: `t` is its size beyond the limit as a share of the ramp, 0 at the limit, 1 at the end and
/// beyond; positive is proud.
pub fn beyond(t: f64) -> Rgb {
    let ramp = if t >= 0.0 { &PROUD } else { &SHY };
    let place = t.abs().min(1.0) * (ramp.len() - 1) as f64;
    let below = (place.floor() as usize).min(ramp.len() - 2);
    mix(ramp[below], ramp[below + 1], place - below as f64)
}

/// The colour of a deviation in mm, for a limit and an end of the ramp in mm.
pub fn of_deviation(mm: f64, limit_mm: f64, end_mm: f64) -> Rgb {
    if mm.abs() <= limit_mm {
        return WITHIN;
    }
    let t = (mm.abs() - limit_mm) / (end_mm - limit_mm).max(1e-9);
    beyond(t.min(1.0).copysign(mm))
}

/// Between two colours.
pub fn mix(a: Rgb, b: Rgb, share: f64) -> Rgb {
    std::array::from_fn(|i| (f64::from(a[i]) + (f64::from(b[i]) - f64::from(a[i])) * share).round() as u8)
}

/// The colour of dots and lines laid over a colour: ink on light ground, pale on dark, so that they show in grey print.
pub fn pattern_on(ground: Rgb) -> Rgb {
    let lightness =
        0.299 * f64::from(ground[0]) + 0.587 * f64::from(ground[1]) + 0.114 * f64::from(ground[2]);
    if lightness < 105.0 {
        mix(ground, PAPER, 0.6)
    } else {
        mix(ground, INK, 0.55)
    }
}

/// A colour made darker, 1 leaves it.
pub fn shaded(colour: Rgb, light: f64) -> Rgb {
    colour.map(|c| (f64::from(c) * light).clamp(0.0, 255.0) as u8)
}

#[cfg(test)]
mod tests;
