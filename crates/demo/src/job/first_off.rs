//! The original floor pan that a tool was made from, and the first one off the tool: lying free, and clamped down.

use std::io;
use std::path::Path;

use cloud::Motion;

use super::{IN_MM, as_drawn, frame, save};
use crate::pan::Pressed;
use crate::scan::Scanner;

/// Writes `pan-original.ply` in the body's own frame, and `first-off-free.ply` and `first-off-held.ply`, each in one of the
/// scanner's own.
pub(super) fn write(folder: &Path) -> io::Result<()> {
    let scanner = |seed: u64, pose| Scanner {
        spacing_mm: 3.0,
        noise_mm: 0.1,
        strays: 0.01,
        blind: Vec::new(),
        pose,
        seed,
    };
    let middle = [660.0, 370.0, 508.0];
    let original = scanner(71, Motion::identity());
    let free = scanner(72, frame([0.2, 0.3, -0.7], middle, [900.0, -200.0, 300.0]));
    let held = scanner(73, frame([-0.1, 0.15, 2.6], middle, [-350.0, 500.0, 60.0]));
    for (name, scanner, pressed) in [
        ("pan-original.ply", original, Pressed::ORIGINAL),
        ("first-off-free.ply", free, Pressed::FREE),
        ("first-off-held.ply", held, Pressed::HELD),
    ] {
        save(folder, name, &scanner.scan(&pressed.sheets(), as_drawn), IN_MM)?;
    }
    Ok(())
}
