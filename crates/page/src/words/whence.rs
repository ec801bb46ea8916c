//! Where a thing is, told from the nearest place that has a name, as a man finds it with a rule: `from H4: 2 forward, 1 up`.

use cloud::frame::TOWARD;
use cloud::unit::fraction_of_inch;

/// A rule is read to sixteenths of an inch.
pub const PARTS: u32 = 16;
/// So near to a named place a thing is that place (an eighth), mm.
const SAME_MM: f64 = 3.2;

/// The way to a place from the nearest of those that have a name, each with where it is, mm; `None` where none has.
pub fn from_nearest<S: AsRef<str>>(
    named: impl IntoIterator<Item = (S, [f64; 3])>,
    at_mm: [f64; 3],
) -> Option<String> {
    let (whence, from_mm) = nearest(named, at_mm)?;
    Some(told(whence.as_ref(), from_mm, at_mm))
}

/// The named place that lies nearest; of two that are as near the first.
pub fn nearest<S: AsRef<str>>(
    named: impl IntoIterator<Item = (S, [f64; 3])>,
    at_mm: [f64; 3],
) -> Option<(S, [f64; 3])> {
    named
        .into_iter()
        .min_by(|a, b| apart(a.1, at_mm).total_cmp(&apart(b.1, at_mm)))
}

/// `from H4: 21-1/2 rearward, 11 up`; `at H4` where it is that place.
pub fn told(whence: &str, from_mm: [f64; 3], at_mm: [f64; 3]) -> String {
    match way(from_mm, at_mm) {
        Some(way) => format!("from {whence}: {way}"),
        None => format!("at {whence}"),
    }
}

/// `21-1/2 rearward, 11 up`, by the axes of the reference, in inches; `None` where it is no way off.
pub fn way(from_mm: [f64; 3], to_mm: [f64; 3]) -> Option<String> {
    if apart(from_mm, to_mm) < SAME_MM {
        return None;
    }
    let parts: Vec<String> = (0..3)
        .filter_map(|k| {
            let off = to_mm[k] - from_mm[k];
            let inches = fraction_of_inch(off, PARTS);
            (inches != "0").then(|| format!("{inches} {}", TOWARD[k][usize::from(off > 0.0)]))
        })
        .collect();
    Some(parts.join(", "))
}

fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1]).hypot(a[2] - b[2])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_told_from_the_nearest_that_has_a_name() {
        let named = [("H1", [0.0; 3]), ("front inner", [254.0, 0.0, 0.0])];
        // 304.8 mm are 12 in, 2 behind the nearer one.
        assert_eq!(
            from_nearest(named, [304.8, -25.4, 0.0]).unwrap(),
            "from front inner: 2 rearward, 1 to the left"
        );
        assert_eq!(
            from_nearest(named, [25.4, 0.0, 50.8]).unwrap(),
            "from H1: 1 rearward, 2 up"
        );
        assert_eq!(from_nearest(named, [255.0, 1.0, 0.0]).unwrap(), "at front inner");
        assert_eq!(from_nearest(Vec::<(String, [f64; 3])>::new(), [0.0; 3]), None);
    }

    /// A place an eighth and a bit off rounds to at least a sixteenth along one axis.
    #[test]
    fn a_way_is_never_empty() {
        let off = SAME_MM / 3f64.sqrt() + 0.01;
        assert_eq!(
            way([0.0; 3], [off, off, off]).unwrap(),
            "1/16 rearward, 1/16 to the right, 1/16 up"
        );
        assert_eq!(way([0.0; 3], [1.0, 1.0, 1.0]), None);
    }
}
