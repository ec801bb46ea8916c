//! Sheet gauges by name of their system: a gauge without its system is no thickness.

use std::fmt;
use std::str::FromStr;

use crate::unit::{Length, MM_PER_INCH};

/// A system of sheet gauges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum System {
    /// Manufacturers' standard gauge for uncoated sheet steel.
    Msg,
    /// Imperial standard wire gauge.
    Swg,
    /// Birmingham gauge for sheet and hoop.
    Bg,
}

impl System {
    const ALL: [System; 3] = [System::Msg, System::Swg, System::Bg];

    /// The word as written, and what it stands for.
    fn words(self) -> (&'static str, &'static str) {
        match self {
            System::Msg => ("msg", "manufacturers' standard gauge"),
            System::Swg => ("swg", "imperial standard wire gauge"),
            System::Bg => ("bg", "Birmingham gauge"),
        }
    }

    /// The lowest number, and from there on the inches of each.
    fn table(self) -> (usize, &'static [f64]) {
        match self {
            System::Msg => (3, &MSG_OUNCES),
            System::Swg => (0, &SWG_INCHES),
            System::Bg => (1, &BG_INCHES),
        }
    }

    /// Thickness of a number, mm; `None` where the system has no such number.
    fn mm(self, number: usize) -> Option<f64> {
        let (first, values) = self.table();
        let value = values.get(number.checked_sub(first)?)?;
        let inches = match self {
            System::Msg => value / OUNCES_PER_POUND / POUNDS_PER_INCH,
            System::Swg | System::Bg => *value,
        };
        Some(inches * MM_PER_INCH)
    }
}

const OUNCES_PER_POUND: f64 = 16.0;
/// Weight of a square foot of steel an inch thick, pounds: the trade's figure for the manufacturers' standard gauge.
const POUNDS_PER_INCH: f64 = 41.82;

/// Ounces to the square foot of numbers 3 to 38 (statute, 15 U.S.C. 206).
const MSG_OUNCES: [f64; 36] = [
    160.0, 150.0, 140.0, 130.0, 120.0, 110.0, 100.0, 90.0, 80.0, 70.0, 60.0, 50.0, 45.0, 40.0, 36.0, 32.0,
    28.0, 24.0, 22.0, 20.0, 18.0, 16.0, 14.0, 12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5, 4.25,
    4.0,
];

/// Inches of numbers 0 to 50 (imperial standard wire gauge, 1883).
const SWG_INCHES: [f64; 51] = [
    0.324, 0.300, 0.276, 0.252, 0.232, 0.212, 0.192, 0.176, 0.160, 0.144, 0.128, 0.116, 0.104, 0.092, 0.080,
    0.072, 0.064, 0.056, 0.048, 0.040, 0.036, 0.032, 0.028, 0.024, 0.022, 0.020, 0.018, 0.0164, 0.0148,
    0.0136, 0.0124, 0.0116, 0.0108, 0.0100, 0.0092, 0.0084, 0.0076, 0.0068, 0.0060, 0.0052, 0.0048, 0.0044,
    0.0040, 0.0036, 0.0032, 0.0028, 0.0024, 0.0020, 0.0016, 0.0012, 0.0010,
];

/// Inches of numbers 1 to 28 (Birmingham gauge for sheet and hoop, 1914).
const BG_INCHES: [f64; 28] = [
    0.3532, 0.3147, 0.2804, 0.25, 0.2225, 0.1981, 0.1764, 0.157, 0.1398, 0.125, 0.1113, 0.0991, 0.0882,
    0.0785, 0.0699, 0.0625, 0.0556, 0.0495, 0.044, 0.0392, 0.0349, 0.03125, 0.02782, 0.02476, 0.02204,
    0.01961, 0.01745, 0.015625,
];

/// Thickest sheet that is taken for one, mm (half an inch).
const THICKEST_MM: f64 = 12.7;

/// The thickness of a sheet, as a person declares it: `20 msg`, `20 swg`, `20 bg`, `0.9 mm`, `0.036 in`.
#[derive(Debug, Clone, PartialEq)]
pub struct Gauge {
    /// Thickness, mm.
    pub mm: f64,
    /// As it was written.
    pub written: String,
}

impl fmt::Display for Gauge {
    /// `20 msg, 0.0359 in`: as written, with its decimal.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {:.4} in", self.written, self.mm / MM_PER_INCH)
    }
}

impl FromStr for Gauge {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let written = text.trim().to_string();
        let lower = written.to_ascii_lowercase();
        let digits = lower.chars().take_while(char::is_ascii_digit).count();
        let (number, rest) = (&lower[..digits], lower[digits..].trim());
        let number: Option<usize> = number.parse().ok();
        let system = System::ALL.into_iter().find(|s| s.words().0 == rest);
        let mm = match (number, system) {
            (Some(number), Some(system)) => {
                let (word, name) = system.words();
                system.mm(number).ok_or_else(|| {
                    let (first, values) = system.table();
                    format!(
                        "\"{written}\": the {name} ({word}) runs from {first} to {}",
                        first + values.len() - 1
                    )
                })?
            }
            (Some(number), None) if ["", "g", "ga", "gauge", "gage"].contains(&rest) => {
                return Err(without_system(&written, number));
            }
            _ => {
                let length: Length = written.parse().map_err(|_| {
                    format!(
                        "\"{written}\" is no thickness; write it like \"20 msg\", \"20 swg\", \"0.9 mm\" or \"0.036 in\""
                    )
                })?;
                length.mm
            }
        };
        if mm > 0.0 && mm <= THICKEST_MM {
            Ok(Self { mm, written })
        } else {
            Err(format!(
                "\"{written}\": sheet is thicker than nothing and thinner than half an inch"
            ))
        }
    }
}

/// Why a bare number is refused, with what it would be in each system.
fn without_system(written: &str, number: usize) -> String {
    let would: Vec<String> = System::ALL
        .into_iter()
        .filter_map(|system| {
            let mm = system.mm(number)?;
            let word = system.words().0;
            Some(format!("\"{number} {word}\" is {:.4} in", mm / MM_PER_INCH))
        })
        .collect();
    let would = if would.is_empty() {
        String::new()
    } else {
        format!(": {}", would.join(", "))
    };
    format!("\"{written}\" does not name its system of gauges{would}; name it, or give mm or in")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(text: &str) -> f64 {
        text.parse::<Gauge>().unwrap().mm / MM_PER_INCH
    }

    // Manufacturers' standard gauge: 15 U.S.C. 206 ounces / 16 / 41.82; the printed tables round to four places.
    #[test]
    fn the_manufacturers_gauge_gives_the_published_decimals() {
        for (number, published) in [
            (3, 0.2391),
            (10, 0.1345),
            (16, 0.0598),
            (18, 0.0478),
            (20, 0.0359),
            (22, 0.0299),
            (32, 0.0097),
            (38, 0.0060),
        ] {
            let found = inches(&format!("{number} msg"));
            assert!((found - published).abs() <= 0.00005 + 1e-12, "{number}: {found}");
        }
    }

    #[test]
    fn the_other_systems_are_other_scales() {
        for (text, published) in [
            ("0 swg", 0.324),
            ("16 swg", 0.064),
            ("18 SWG", 0.048),
            ("20swg", 0.036),
            ("50 swg", 0.0010),
            ("1 bg", 0.3532),
            ("20 bg", 0.0392),
            ("28 bg", 0.015625),
        ] {
            assert!((inches(text) - published).abs() < 1e-12, "{text}");
        }
    }

    #[test]
    fn a_thickness_may_be_given_as_a_length() {
        assert!(("0.9 mm".parse::<Gauge>().unwrap().mm - 0.9).abs() < 1e-12);
        assert!((inches("0.036 in") - 0.036).abs() < 1e-12);
        assert!((inches("1/32 in") - 1.0 / 32.0).abs() < 1e-12);
        assert_eq!(
            "20 msg".parse::<Gauge>().unwrap().to_string(),
            "20 msg, 0.0359 in"
        );
    }

    #[test]
    fn a_bare_number_is_refused_with_what_it_could_be() {
        for text in ["20", "20 ga", "20 gauge"] {
            let words = text.parse::<Gauge>().unwrap_err();
            assert!(
                words.contains("\"20 msg\" is 0.0359 in") && words.contains("\"20 bg\" is 0.0392 in"),
                "{words}"
            );
        }
        for text in ["60 msg", "2 msg", "thin", "", "40 mm", "-1 mm", "0 mm"] {
            assert!(text.parse::<Gauge>().is_err(), "{text}");
        }
    }
}
