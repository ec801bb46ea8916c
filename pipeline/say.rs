//! Lengths and names as they are printed and written: 32nds of an inch first, millimetres beside.

use cloud::unit::{fraction_of_inch, signed_32nds};

/// `+3/16 in (+4.8 mm)`; `nil` where it is under a 64th.
pub fn signed(mm: f64) -> String {
    if signed_32nds(mm) == "0" {
        return format!("0 in ({mm:+.1} mm)");
    }
    format!("{} in ({mm:+.1} mm)", signed_32nds(mm))
}

/// `3/64 in (1.2 mm)`, without a sign, in 64ths.
pub fn plain_64ths(mm: f64) -> String {
    format!("{} in ({:.1} mm)", fraction_of_inch(mm, 64), mm.abs())
}

/// `±1/32 in (0.8 mm)`; a hundredth of a millimetre is enough for a ±.
pub fn pm(mm: f64) -> String {
    // A ± is never nothing: what rounds to that is told as the least that is written.
    format!("±{:.2} mm", mm.max(0.01))
}

/// A name as part of a file's name.
pub fn file_part(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_alphanumeric() || c == '-' { c } else { '-' })
        .collect()
}
