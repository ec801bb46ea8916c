//! Another set of the same part, taken through the same stages against the same reference: held on its pads, or an original.

use super::checks::place::Places;
use super::compare::{self, Compared};
use super::features::{self, Found};
use super::register::{self, Setting};
use super::scale::{self, Scaled};
use super::{checks, load};
use crate::job::{Comparison, Set};
use crate::trouble::Trouble;

/// What came of the other set.
pub struct Again {
    /// What was compared.
    pub compared: Compared,
    /// What was found.
    pub found: Found,
}

/// Takes `other` through the stages as `comparison` asks for its measured set, by its own points where it is set by points.
/// What would warn of it is not said: its own comparison says it.
///
/// # Errors
/// Where it can't be read or set.
pub fn again(comparison: &Comparison, other: &Set) -> Result<Again, Trouble> {
    let asked = Comparison {
        name: other.name.clone(),
        measured: other.clone(),
        points: comparison.points_of(other),
        repeat: None,
        held: None,
        originals: Vec::new(),
        ..comparison.clone()
    };
    let mut scaled = scale::scale(&asked, load::load(&asked)?)?;
    let setting = register::register(&asked, &mut scaled)?;
    let compared = compare::compare(&asked, &mut scaled, &setting, &[]);
    let found = found(&asked, &scaled, &setting, &compared)?;
    Ok(Again { compared, found })
}

/// Everything that a comparison asks for: features first, then the checks that lean on them.
///
/// # Errors
/// Where a table of points can't be read.
pub fn found(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
) -> Result<Found, Trouble> {
    let mut found = features::features(comparison, scaled, setting, compared);
    let holes = found.holes.iter().map(|hole| hole.pair.clone());
    let places = Places::new(comparison, scaled, setting, holes)?;
    found.places = comparison
        .asked
        .places
        .iter()
        .filter_map(|place| places.seen(place))
        .collect();
    found.shell = features::shell::shell(comparison, &found.places, &mut found.warnings);
    found.checks = checks::checks(comparison, scaled, setting, compared, &found, &places);
    Ok(found)
}
