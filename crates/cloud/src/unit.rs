//! Units at the door: millimetres inside, inches in 32nds and millimetres outside.

use std::fmt;
use std::str::FromStr;

/// Millimetres in an inch, exactly (international inch, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// A unit of length that a set can be declared in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetre.
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Metre.
    Metre,
    /// Inch.
    Inch,
    /// Foot.
    Foot,
}

impl Unit {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Unit; 5] = [
        Unit::Millimetre,
        Unit::Centimetre,
        Unit::Metre,
        Unit::Inch,
        Unit::Foot,
    ];

    /// How many millimetres one of this unit is.
    pub fn in_mm(self) -> f64 {
        match self {
            Unit::Millimetre => 1.0,
            Unit::Centimetre => 10.0,
            Unit::Metre => 1000.0,
            Unit::Inch => MM_PER_INCH,
            Unit::Foot => 12.0 * MM_PER_INCH,
        }
    }

    /// The symbol as typed and printed.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Millimetre => "mm",
            Unit::Centimetre => "cm",
            Unit::Metre => "m",
            Unit::Inch => "in",
            Unit::Foot => "ft",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

impl FromStr for Unit {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Unit::ALL
            .into_iter()
            .find(|unit| unit.symbol().eq_ignore_ascii_case(text.trim()))
            .ok_or_else(|| format!("\"{text}\" is not a unit; write mm, cm, m, in or ft"))
    }
}

/// A length as a person writes it, held in millimetres: `3/16 in`, `1-1/4 in`, `4.8 mm`.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Length {
    /// The length in millimetres.
    pub mm: f64,
}

impl FromStr for Length {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let trouble =
            || format!("\"{text}\" is not a length; write it with its unit, like \"3/16 in\" or \"4.8 mm\"");
        let trimmed = text.trim().replace('"', " in");
        let split = trimmed
            .find(|c: char| c.is_ascii_alphabetic())
            .ok_or_else(trouble)?;
        let unit: Unit = trimmed[split..].parse().map_err(|_| trouble())?;
        let value = number_with_fraction(trimmed[..split].trim()).ok_or_else(trouble)?;
        Ok(Length {
            mm: value * unit.in_mm(),
        })
    }
}

/// `5`, `0.25`, `3/16`, `1-1/4` or `1 1/4`, with an optional sign; `None` where it is none of these.
fn number_with_fraction(text: &str) -> Option<f64> {
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(text)),
    };
    let plain = |part: &str| -> Option<f64> {
        let ok = !part.is_empty() && part.chars().all(|c| c.is_ascii_digit() || c == '.');
        ok.then(|| part.parse().ok()).flatten()
    };
    let fraction = |part: &str| -> Option<f64> {
        let (above, below) = part.split_once('/')?;
        let (above, below) = (plain(above.trim())?, plain(below.trim())?);
        (below > 0.0).then_some(above / below)
    };
    let value = if let Some((whole, part)) = text.split_once(['-', ' ']) {
        plain(whole.trim())? + fraction(part.trim())?
    } else if text.contains('/') {
        fraction(text)?
    } else {
        plain(text)?
    };
    Some(sign * value)
}

/// A length in inches to the nearest `1/parts`, as a shop writes it: `3/16`, `1-1/4`, `0`; no sign, no unit.
///
/// `parts` is a power of two, 32 for most figures and 64 where the ± allows.
pub fn fraction_of_inch(mm: f64, parts: u32) -> String {
    let steps = (mm.abs() / MM_PER_INCH * f64::from(parts)).round() as u64;
    let (whole, mut above) = (steps / u64::from(parts), steps % u64::from(parts));
    let mut below = u64::from(parts);
    while above > 0 && above.is_multiple_of(2) {
        above /= 2;
        below /= 2;
    }
    match (whole, above) {
        (0, 0) => "0".to_string(),
        (whole, 0) => whole.to_string(),
        (0, above) => format!("{above}/{below}"),
        (whole, above) => format!("{whole}-{above}/{below}"),
    }
}

/// A signed length in 32nds of an inch: `+3/16`, `-1/32`, `0`.
pub fn signed_32nds(mm: f64) -> String {
    let words = fraction_of_inch(mm, 32);
    match (words.as_str(), mm < 0.0) {
        ("0", _) => words,
        (_, true) => format!("-{words}"),
        (_, false) => format!("+{words}"),
    }
}

/// A number with so many decimals; what rounds to nothing has no sign: `-3.2`, `0.0`.
pub fn decimal(value: f64, decimals: usize) -> String {
    unsigned_nothing(format!("{value:.decimals$}"))
}

/// The same with its sign, whichever it is: `+4.8`, `-3.2`, `0.0`.
pub fn signed_decimal(value: f64, decimals: usize) -> String {
    unsigned_nothing(format!("{value:+.decimals$}"))
}

/// A number as written, without its sign where every digit of it is a nought.
fn unsigned_nothing(written: String) -> String {
    let digits = written.trim_start_matches(['+', '-']);
    if digits.chars().all(|c| matches!(c, '0' | '.')) {
        return digits.to_string();
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_rounds_to_nothing_has_no_sign() {
        for (value, plain, signed) in [
            (-0.04, "0.0", "0.0"),
            (0.04, "0.0", "0.0"),
            (-0.0, "0.0", "0.0"),
            (-0.06, "-0.1", "-0.1"),
            (4.7625, "4.8", "+4.8"),
            (100.0, "100.0", "+100.0"),
        ] {
            assert_eq!(
                (decimal(value, 1).as_str(), signed_decimal(value, 1).as_str()),
                (plain, signed)
            );
        }
        assert_eq!(decimal(-0.4, 0), "0");
        assert_eq!(decimal(f64::NAN, 1), "NaN");
    }

    #[test]
    fn lengths_are_read_as_a_shop_writes_them() {
        for (text, mm) in [
            ("3/16 in", 4.7625),
            ("1-1/4 in", 31.75),
            ("1 1/4 in", 31.75),
            ("4.8 mm", 4.8),
            ("-1/8 in", -3.175),
            ("5/8\"", 15.875),
            ("0.5 ft", 152.4),
            ("2 m", 2000.0),
        ] {
            let length: Length = text.parse().unwrap();
            assert!((length.mm - mm).abs() < 1e-12, "{text}: {}", length.mm);
        }
    }

    #[test]
    fn a_length_without_a_unit_or_with_nonsense_is_refused() {
        for text in [
            "3/16",
            "x mm",
            "1/0 in",
            "",
            "nan mm",
            "1e3 mm",
            "3 furlong",
            "inf mm",
        ] {
            assert!(text.parse::<Length>().is_err(), "{text}");
        }
    }

    #[test]
    fn figures_come_out_in_32nds() {
        assert_eq!(fraction_of_inch(4.7625, 32), "3/16");
        assert_eq!(fraction_of_inch(31.75, 32), "1-1/4");
        assert_eq!(fraction_of_inch(25.3, 32), "1");
        assert_eq!(fraction_of_inch(0.3, 32), "0");
        assert_eq!(fraction_of_inch(0.4, 64), "1/64");
        assert_eq!(signed_32nds(-5.55), "-7/32");
        assert_eq!(signed_32nds(-0.1), "0");
    }
}
