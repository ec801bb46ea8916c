//! How far a flange's fold line lies from where it should: read on the face of the flange itself, so that a ragged trim
//! edge does not count.

use cloud::statistics::{median, robust_spread};
use cloud::unit::fraction_of_inch;
use cloud::{Body, Surface};
use compare::{Deviations, Region, State, Verdict, verdict};

/// One fold's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Fold {
    /// The region of its flange.
    pub name: String,
    /// How short of the reference the fold lies, mm; negative is long.
    pub short_mm: f64,
    /// ± (half the 95 % band), mm.
    pub pm_mm: f64,
    /// Against the region's limit.
    pub verdict: Verdict,
    /// `7/32 short`.
    pub words: String,
}

/// Reads the fold of the flange that `region` holds; `None` where fewer than thirty places of it were seen.
pub fn fold(
    region: &Region,
    members: &[u32],
    reference: &Surface<Body>,
    deviations: &Deviations,
    setting_pm_mm: &dyn Fn(&cloud::Point) -> f64,
) -> Option<Fold> {
    let mut distances: Vec<f64> = members
        .iter()
        .filter_map(|&i| match deviations.states[i as usize] {
            State::Distance { mm, .. } => Some(mm),
            _ => None,
        })
        .collect();
    if distances.len() < 30 {
        return None;
    }
    let short_mm = -median(&mut distances);
    let middle = members
        .iter()
        .map(|&i| reference.points()[i as usize].coords)
        .sum::<cloud::Vector>()
        / members.len() as f64;
    // About one place in twenty is its own evidence.
    let own = 1.96 * 1.2533 * robust_spread(&distances) / (distances.len() as f64 / 20.0).max(1.0).sqrt();
    let pm_mm = own.hypot(setting_pm_mm(&middle.into()));
    let size = fraction_of_inch(short_mm, 32);
    let words = match size.as_str() {
        "0" => "home".to_string(),
        _ if short_mm > 0.0 => format!("{size} short"),
        _ => format!("{size} long"),
    };
    Some(Fold {
        name: region.name.clone(),
        short_mm,
        pm_mm,
        verdict: verdict::decide(short_mm, pm_mm, region.limit_mm),
        words,
    })
}
