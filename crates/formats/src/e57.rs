//! E57 (ASTM E2807): every scan of the file, in metres, each put where its pose says.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use ::e57::{CartesianCoordinate, E57Reader};
use cloud::{Point, Unit, Warning};

use crate::{FormatError, RawPoints};

/// Reads all scans of an E57 file into one set, poses applied.
///
/// # Errors
/// A [`FormatError`] where a checksum, a length or the structure is wrong.
pub fn read(path: &Path) -> Result<RawPoints, FormatError> {
    let trouble = |what: &str, error: ::e57::Error| {
        FormatError::whole(
            path,
            format!("{what} (\"{error}\")"),
            "the file is damaged or cut short; copy or export it again",
        )
    };
    let open = || {
        File::open(path)
            .map(BufReader::new)
            .map_err(|e| FormatError::io(path, &e))
    };
    E57Reader::validate_crc(open()?).map_err(|e| trouble("a checksum that does not fit", e))?;
    let mut reader = E57Reader::new(open()?).map_err(|e| trouble("a header that can't be read", e))?;
    let scans = reader.pointclouds();
    let mut raw = RawPoints {
        format: format!(
            "E57, {} scan{}",
            scans.len(),
            if scans.len() == 1 { "" } else { "s" }
        ),
        unit: Some(Unit::Metre),
        ..RawPoints::default()
    };
    let mut colours = Vec::new();
    let mut without_place = 0usize;
    for scan in &scans {
        let points = reader
            .pointcloud_simple(scan)
            .map_err(|e| trouble("a scan that can't be read", e))?;
        for point in points {
            let point = point.map_err(|e| trouble("a scan that can't be read to its end", e))?;
            let CartesianCoordinate::Valid { x, y, z } = point.cartesian else {
                without_place += 1;
                continue;
            };
            raw.points.push(Point::new(x, y, z));
            if let Some(colour) = point.color {
                colours.push([colour.red, colour.green, colour.blue].map(|c| (c * 255.0) as u8));
            }
        }
    }
    raw.colours = (!colours.is_empty() && colours.len() == raw.points.len()).then_some(colours);
    // Only a single scan has a single place from which every point was seen.
    if let [scan] = scans.as_slice()
        && let Some(pose) = &scan.transform
    {
        let at = &pose.translation;
        raw.viewpoint = Some(Point::new(at.x, at.y, at.z));
    }
    if without_place > 0 {
        raw.warnings.push(Warning::new(
            "rows-without-place",
            format!(
                "{}: {without_place} rows carry no valid place and were passed over",
                path.display()
            ),
        ));
    }
    Ok(raw)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Neither noise behind a right signature nor anything else makes it panic.
        #[test]
        fn nothing_makes_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..2000), signed in any::<bool>()) {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("set.e57");
            let start: &[u8] = if signed { b"ASTM-E57\x01\0\0\0\0\0\0\0" } else { b"" };
            std::fs::write(&path, [start, &bytes].concat()).unwrap();
            prop_assert!(read(&path).is_err());
        }
    }
}
