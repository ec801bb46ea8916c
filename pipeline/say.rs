//! Lengths and names as they are printed and written: 32nds of an inch first, millimetres beside.

use cloud::held::follows::NOT_HELD_MM;
use cloud::unit::{fraction_of_inch, signed_32nds, signed_decimal};

/// `+3/16 in (+4.8 mm)`; `nil` where it is under a 64th.
pub fn signed(mm: f64) -> String {
    let beside = signed_decimal(mm, 1);
    match signed_32nds(mm).as_str() {
        "0" => format!("nil ({beside} mm)"),
        inches => format!("{inches} in ({beside} mm)"),
    }
}

/// `3/64 in (1.2 mm)`, without a sign, in 64ths.
pub fn plain_64ths(mm: f64) -> String {
    format!("{} in ({:.1} mm)", fraction_of_inch(mm, 64), mm.abs())
}

/// `±0.25 mm`; a hundredth of a millimetre is enough for a ±. `not held` where nothing holds the set in that direction.
pub fn pm(mm: f64) -> String {
    if mm > NOT_HELD_MM {
        return "not held".to_string();
    }
    // A ± is never nothing: what rounds to that is told as the least that is written.
    format!("±{:.2} mm", mm.max(0.01))
}

/// A name as part of a file's name.
pub fn file_part(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_alphanumeric() || c == '-' { c } else { '-' })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plus_minus_is_never_nothing_and_none_where_nothing_holds_the_set() {
        assert_eq!(
            [0.0, 0.254, 1_000.0].map(pm),
            ["±0.01 mm", "±0.25 mm", "not held"]
        );
    }

    #[test]
    fn what_is_under_a_64th_is_nil_and_nothing_has_no_sign() {
        assert_eq!(signed(4.7625), "+3/16 in (+4.8 mm)");
        assert_eq!(signed(-0.2), "nil (-0.2 mm)");
        assert_eq!(signed(-0.01), "nil (0.0 mm)");
    }
}
