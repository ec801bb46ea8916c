//! Draws the pictures.

use std::path::Path;

use super::compare::Compared;
use super::features::Found;
use super::register::Setting;
use super::scale::Scaled;
use crate::job::Comparison;
use crate::trouble::Trouble;

/// Draws every picture into `folder` and gives their names.
pub fn draw(
    _comparison: &Comparison,
    _scaled: &Scaled,
    _setting: &Setting,
    _compared: &Compared,
    _found: &Found,
    _folder: &Path,
) -> Result<Vec<String>, Trouble> {
    Ok(Vec::new())
}
