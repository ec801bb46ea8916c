//! Metal that only the measured set has, beside which region it stands, and how much of the set isn't judged.

use ::compare::extra::{Extra, reverse};
use ::features::edge::EdgeResult;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use cloud::{Bounds, Point, Warning};

use crate::job::Comparison;
use crate::stages::compare::Compared;
use crate::stages::register::Setting;
use crate::stages::scale::Scaled;

/// Metal stands at the region whose box is this near to the place under it, mm (an inch).
const BESIDE_MM: f64 = MM_PER_INCH;
/// A set of which more than this lies beyond the reference is much wider than it.
const MUCH_WIDER: f64 = 0.2;
/// Metal this near to where an edge reads long is that edge's, mm (half an inch).
const BESIDE_EDGE_MM: f64 = MM_PER_INCH / 2.0;

/// A piece of metal that the reference does not have.
pub struct ExtraResult {
    /// `extra 1`, the largest first.
    pub name: String,
    /// The piece.
    pub metal: Extra,
    /// The region that it stands at.
    pub region: Option<String>,
    /// `metal the reference does not have: 2 x 1-1/4 in, stands 3/8 off the right floor`.
    pub words: String,
}

/// Looks for it; metal at an edge that reads long there is told with the edge. A set that is much wider than the reference
/// is warned of. While questions are open, where the two sets lie is not known, and nothing is looked for.
pub fn extra(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
    edges: &[EdgeResult],
    warnings: &mut Vec<Warning>,
) -> Vec<ExtraResult> {
    if !compared.open.is_empty() {
        return Vec::new();
    }
    let found = reverse(
        &scaled.reference,
        &compared.deviations,
        &scaled.measured,
        &setting.reference_from_measured,
        comparison.limit_mm,
    );
    if found.beyond() > MUCH_WIDER {
        warnings.push(Warning::new(
            "beyond-reference",
            format!(
                "{:.0} % of the measured points lie beyond what the reference shows and are not judged",
                100.0 * found.beyond()
            ),
        ));
    }
    found
        .extra
        .into_iter()
        .filter(|metal| !edges.iter().any(|edge| is_of(edge, metal)))
        .enumerate()
        .map(|(k, metal)| {
            let region = region_at(comparison, &metal.under);
            ExtraResult {
                name: format!("extra {}", k + 1),
                words: words(&metal, region.as_deref()),
                region,
                metal,
            }
        })
        .collect()
}

fn words(metal: &Extra, region: Option<&str>) -> String {
    let [long, wide] = metal.size_mm.map(|mm| fraction_of_inch(mm, 32));
    let whence = match region {
        Some(name) if name.starts_with("the ") => name.to_string(),
        Some(name) => format!("the {name}"),
        None => "the metal beneath".to_string(),
    };
    format!(
        "metal the reference does not have: {long} x {wide} in, stands {} off {whence}",
        fraction_of_inch(metal.off_mm, 32)
    )
}

/// The region in or beside whose box a place lies; of several that are as near the smallest says most.
fn region_at(comparison: &Comparison, at: &Point) -> Option<String> {
    comparison
        .regions
        .iter()
        .map(|r| (apart_mm(&r.bounds, at), r.bounds.size().product(), &r.name))
        .filter(|(apart, ..)| *apart <= BESIDE_MM)
        .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map(|(.., name)| name.clone())
}

/// How far a place lies from a box, mm.
fn apart_mm(bounds: &Bounds, at: &Point) -> f64 {
    (at - at.sup(&bounds.low).inf(&bounds.high)).norm()
}

/// Whether a piece lies at a stretch of an edge that is long there.
fn is_of(edge: &EdgeResult, metal: &Extra) -> bool {
    let mut long = edge.stretches.iter().filter(|s| s.short_mm < 0.0);
    long.any(|stretch| {
        let along = stretch.to - stretch.from;
        let share = (metal.at - stretch.from).dot(&along) / along.norm_squared().max(f64::MIN_POSITIVE);
        let nearest = stretch.from + along * share.clamp(0.0, 1.0);
        (metal.at - nearest).norm() <= BESIDE_EDGE_MM - stretch.short_mm
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_said_in_32nds_with_what_it_stands_off() {
        let metal = Extra {
            at: Point::new(0.0, 0.0, 10.0),
            size_mm: [50.8, 31.7],
            area_mm2: 1600.0,
            off_mm: 9.6,
            points: 800,
            under: Point::origin(),
        };
        assert_eq!(
            words(&metal, Some("right floor")),
            "metal the reference does not have: 2 x 1-1/4 in, stands 3/8 off the right floor"
        );
        assert!(words(&metal, None).ends_with("3/8 off the metal beneath"));
        let bounds = Bounds {
            low: Point::origin(),
            high: Point::new(10.0, 10.0, 10.0),
        };
        assert_eq!(apart_mm(&bounds, &Point::new(5.0, 5.0, 5.0)), 0.0);
        assert_eq!(apart_mm(&bounds, &Point::new(13.0, 5.0, -4.0)), 5.0);
    }
}
