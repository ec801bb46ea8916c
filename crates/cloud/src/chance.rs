//! How far chance reaches: coverage factors of Student's t, standard uncertainties put together, the least step that shows.

use std::f64::consts::PI;

/// With more freedoms than this the continued fraction loses digits and the expansion about the normal has all of them.
const MANY: f64 = 1e4;
/// Steps of the continued fraction; it needs under two hundred up to [`MANY`].
const MOST_TERMS: i32 = 2_000;

/// The factor k for which a Student's t of `freedoms` degrees lies within ±k with the probability `probability_two_sided`
/// (JCGM 100:2008, G.3 and table G.2). `freedoms` need not be whole and may be infinite, which gives the normal's factor
/// (1.96 for 0.95). A table that rounds the freedoms down, as JCGM 100 G.4.1 lets it, is met by `freedoms.floor()`.
///
/// Exact to about 1e-12 of itself for probabilities up to 0.9999. A probability of 0 or less gives 0; of 1 or more, or no
/// freedoms, or what is no number, gives infinity: nothing is known.
pub fn student_t(probability_two_sided: f64, freedoms: f64) -> f64 {
    if freedoms.is_nan() || freedoms <= 0.0 || probability_two_sided.is_nan() || probability_two_sided >= 1.0
    {
        return f64::INFINITY;
    }
    if probability_two_sided <= 0.0 {
        return 0.0;
    }
    let beyond = 1.0 - probability_two_sided;
    if freedoms <= MANY {
        return where_falls_to(beyond, |t| beyond_student(t, freedoms));
    }
    let z = where_falls_to(beyond, beyond_normal);
    // Abramowitz & Stegun 1964, 26.7.5; the next term is under 1e-14 here.
    let y = z * z;
    let first = (y + 1.0) / 4.0;
    let second = ((5.0 * y + 16.0) * y + 3.0) / 96.0;
    let third = (((3.0 * y + 19.0) * y + 17.0) * y - 15.0) / 384.0;
    z + z * (first + (second + third / freedoms) / freedoms) / freedoms
}

/// The combined standard uncertainty of independent parts and its effective degrees of freedom. Each part is (standard
/// uncertainty in the unit of the result, its degrees of freedom, infinite where it is known exactly).
///
/// Root of the sum of squares (JCGM 100:2008, 5.1.2) and the formula of Welch and Satterthwaite (G.4.1, equation G.2b). No
/// parts, or parts of nothing, give (0, ∞).
pub fn combined(parts: &[(f64, f64)]) -> (f64, f64) {
    let together = crate::statistics::sum(parts.iter().map(|(u, _)| u * u)).sqrt();
    if together <= 0.0 {
        return (0.0, f64::INFINITY);
    }
    // A part of nothing counts for nothing, however few its freedoms.
    let parts = parts.iter().filter(|(u, _)| *u != 0.0);
    let shares = parts.map(|(u, freedoms)| (u / together).powi(4) / freedoms);
    (together, 1.0 / crate::statistics::sum(shares))
}

/// The least distance between two sheets that shows at 95 %, mm: 1.96 (√(s₁²/n₁ + s₂²/n₂) + setting), with s the standard
/// deviation of the points off each sheet and n how many were averaged (no more than are independent); `setting_mm` is
/// the standard uncertainty of the setting (Lague, Brodu & Leroux 2013, ISPRS J. 82, 10-26, equation 1).
///
/// Where one sheet has no points nothing shows: infinite.
pub fn detectable_mm(s1_mm: f64, n1: f64, s2_mm: f64, n2: f64, setting_mm: f64) -> f64 {
    if n1 <= 0.0 || n2 <= 0.0 {
        return f64::INFINITY;
    }
    1.96 * ((s1_mm * s1_mm / n1 + s2_mm * s2_mm / n2).sqrt() + setting_mm)
}

/// Where a falling probability comes down to `target`, by halving; infinite where it does not before the numbers end.
fn where_falls_to(target: f64, beyond: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while beyond(high) > target {
        low = high;
        high *= 2.0;
        // Its square must stay a number.
        if high > 1e150 {
            return f64::INFINITY;
        }
    }
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            return middle;
        }
        if beyond(middle) > target {
            low = middle;
        } else {
            high = middle;
        }
    }
}

/// P(|T| > t): the regularised incomplete beta function I_x(ν/2, 1/2) at x = ν/(ν + t²) (Abramowitz & Stegun 1964, 26.7.1).
fn beyond_student(t: f64, freedoms: f64) -> f64 {
    let half = freedoms / 2.0;
    let square = t * t;
    let inside = square / (freedoms + square);
    // x^(ν/2) (1 − x)^(1/2) / B(ν/2, 1/2), the power by way of ln(1 + t²/ν), which keeps its digits for many freedoms.
    let front = (-half * (square / freedoms).ln_1p()).exp() * inside.sqrt() * half_step(half) / PI.sqrt();
    // The fraction runs quickly on the side of the mean that x lies on; the other side is what is left over of 1.
    if square * (half + 1.0) > 1.5 * freedoms {
        front * fraction(half, 0.5, freedoms / (freedoms + square)) / half
    } else {
        1.0 - front * fraction(0.5, half, inside) / 0.5
    }
}

/// Γ(a + 1/2) / Γ(a): the asymptotic series (Tricomi & Erdélyi 1951, Pacific J. Math. 1, 133-142) from a = 20 on, and the
/// recurrence Γ(a + 1) = a Γ(a) below.
fn half_step(a: f64) -> f64 {
    let (mut a, mut factor) = (a, 1.0);
    while a < 20.0 {
        factor *= a / (a + 0.5);
        a += 1.0;
    }
    let i = 1.0 / a;
    let exponent = -i / 8.0 + i.powi(3) / 192.0 - i.powi(5) / 640.0 + 17.0 * i.powi(7) / 14_336.0;
    factor * a.sqrt() * exponent.exp()
}

/// The continued fraction of the incomplete beta function (Abramowitz & Stegun 1964, 26.5.8) by the method of Lentz 1976
/// (Applied Optics 15, 668-671), which goes forward and needs no count of terms beforehand.
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    let off_zero = |value: f64| if value.abs() < 1e-300 { 1e-300 } else { value };
    let mut numerator = 1.0;
    let mut denominator = 1.0 / off_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut value = denominator;
    for m in 1..MOST_TERMS {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut change = 1.0;
        for term in [even, odd] {
            denominator = 1.0 / off_zero(1.0 + term * denominator);
            numerator = off_zero(1.0 + term / numerator);
            change = numerator * denominator;
            value *= change;
        }
        if (change - 1.0).abs() < 4.0 * f64::EPSILON {
            break;
        }
    }
    value
}

/// P(|Z| > z) of the standard normal: the series of Abramowitz & Stegun 1964, 26.2.11, to z = 3, whose terms are all
/// positive, and beyond it the continued fraction 26.2.14, which keeps the digits of a small answer.
fn beyond_normal(z: f64) -> f64 {
    let front = (2.0 / PI).sqrt() * (-z * z / 2.0).exp();
    if z > 3.0 {
        let mut below = z;
        for k in (1..=200).rev() {
            below = z + f64::from(k) / below;
        }
        return front / below;
    }
    let (mut term, mut sum, mut odd) = (z, z, 1.0);
    while term > 1e-17 * sum {
        odd += 2.0;
        term *= z * z / odd;
        sum += term;
    }
    1.0 - front * sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, share: f64) {
        assert!(
            (found - expected).abs() <= share * expected.abs(),
            "{found} for {expected}"
        );
    }

    // JCGM 100:2008, table G.2, the column of 95.45 %; it prints two decimals, the rest is computed by two codes.
    #[test]
    fn the_table_of_the_guide() {
        for (freedoms, expected) in [
            (1.0, 13.967_811_487_502_55),
            (2.0, 4.526_550_760_081_986),
            (5.0, 2.648_654_254_283_118),
            (10.0, 2.283_681_613_299_64),
            (20.0, 2.133_028_361_890_896),
            (50.0, 2.051_250_781_851_882),
        ] {
            close(student_t(0.9545, freedoms), expected, 1e-12);
        }
        for (probability, freedoms, printed) in [
            (0.6827, 2.0, 1.32),
            (0.90, 5.0, 2.02),
            (0.95, 10.0, 2.23),
            (0.99, 16.0, 2.92),
            (0.99, 1.0, 63.66),
            (0.95, f64::INFINITY, 1.96),
        ] {
            assert!((student_t(probability, freedoms) - printed).abs() <= 5.1e-3);
        }
    }

    // One and two freedoms have closed forms: tan(π p/2) and p √(2/(1 − p²)).
    #[test]
    fn one_and_two_freedoms_are_the_closed_forms() {
        for p in [0.01, 0.3, 0.6827, 0.9, 0.95, 0.99, 0.9999] {
            close(student_t(p, 1.0), (PI * p / 2.0).tan(), 1e-11);
            close(student_t(p, 2.0), p * (2.0 / (1.0 - p * p)).sqrt(), 1e-11);
        }
    }

    #[test]
    fn many_freedoms_are_the_normal_and_nothing_jumps_on_the_way() {
        close(student_t(0.95, f64::INFINITY), 1.959_963_984_540_054, 1e-13);
        close(student_t(0.90, f64::INFINITY), 1.644_853_626_951_472, 1e-13);
        close(student_t(0.9999, f64::INFINITY), 3.890_591_886_413_12, 1e-11);
        for p in [0.5, 0.95, 0.9999] {
            let (below, above) = (student_t(p, MANY), student_t(p, MANY * (1.0 + 1e-9)));
            close(above, below, 1e-11);
            assert!(student_t(p, 1e9) > student_t(p, f64::INFINITY));
        }
    }

    #[test]
    fn what_says_nothing_gives_no_bound() {
        assert_eq!(student_t(0.95, 0.0), f64::INFINITY);
        assert_eq!(student_t(1.0, 5.0), f64::INFINITY);
        assert_eq!(student_t(f64::NAN, 5.0), f64::INFINITY);
        assert_eq!(student_t(0.95, f64::NAN), f64::INFINITY);
        assert_eq!(student_t(0.0, 5.0), 0.0);
        assert_eq!(student_t(0.9999, 0.01), f64::INFINITY);
        assert_eq!(detectable_mm(0.1, 0.0, 0.1, 5.0, 0.0), f64::INFINITY);
    }

    // Equal parts: the uncertainty grows with the root of their number, the freedoms with the number.
    #[test]
    fn equal_parts_add_their_freedoms() {
        let (together, freedoms) = combined(&[(3.0, 7.0); 4]);
        close(together, 6.0, 1e-15);
        close(freedoms, 28.0, 1e-14);
        assert_eq!(combined(&[(3.0, f64::INFINITY); 2]).1, f64::INFINITY);
        assert_eq!(combined(&[]), (0.0, f64::INFINITY));
        assert_eq!(combined(&[(0.0, 3.0)]), (0.0, f64::INFINITY));
        assert_eq!(combined(&[(2.0, 5.0), (0.0, 0.0)]), (2.0, 5.0));
    }
}
