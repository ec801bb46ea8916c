//! Made-up numbers for tests: a row of them that is the same on every machine.

/// The `i`-th of a row of numbers between 0 and 1.
pub(crate) fn uniform(i: u64) -> f64 {
    let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    (x ^ x >> 31) as f64 / u64::MAX as f64
}
