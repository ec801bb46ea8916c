//! The face of the sheet: a set of the one face is brought to the other by the sheet's thickness.

use cloud::{Near, Scan, Surface, Warning};

use crate::job::{Comparison, Face};

/// The measured surface on the reference's face of the sheet: shifted along its normals, which point to the outside of the
/// part, by the thickness where the job says that the two faces differ. Where the set does not say which side is out it
/// stays where it is, and that is told: a flat sheet swallows its own thickness without a trace.
pub fn on_the_references(
    comparison: &Comparison,
    measured: Surface<Scan>,
    warnings: &mut Vec<Warning>,
) -> Surface<Scan> {
    let Some(shift_mm) = comparison.face_shift_mm() else {
        return measured;
    };
    let set = &comparison.measured;
    let face = if set.face == Some(Face::Inside) {
        "inside"
    } else {
        "outside"
    };
    let gauge = set.gauge.as_ref().or(comparison.reference.gauge.as_ref());
    let thickness = gauge.map_or(String::new(), |g| format!(" ({g})"));
    if !measured.sides_known {
        warnings.push(Warning::new(
            "face-unknown",
            format!(
                "{}: it shows the {face} of the sheet and the reference the other face, but the file does not say which side is out, so its thickness{thickness} could not be taken into account; give it normals, or a set of the same face",
                set.name
            ),
        ));
        return measured;
    }
    warnings.push(Warning::new(
        "face-shifted",
        format!(
            "{}: it shows the {face} of the sheet and the reference the other face; its points were brought over by the sheet's thickness{thickness}, along normals that are taken to point to the outside of the part",
            set.name
        ),
    ));
    shifted(measured, shift_mm)
}

/// The surface with every point shifted along its own normal; the search is made anew.
fn shifted(mut surface: Surface<Scan>, by_mm: f64) -> Surface<Scan> {
    if let Some(normals) = &surface.cloud.normals {
        for (point, normal) in surface.cloud.points_mm.iter_mut().zip(normals) {
            *point += normal * by_mm;
        }
    }
    surface.near = Near::new(&surface.cloud.points_mm);
    surface
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::SetBy;
    use crate::job::{Asked, Set};
    use cloud::{Cloud, Point, Unit, Vector};
    use std::path::Path;

    /// A flat set with its normals up, or without any.
    fn flat(normals: bool) -> Surface<Scan> {
        let mut cloud = Cloud::from_points(
            (0..400)
                .map(|i| Point::new(f64::from(i % 20) * 3.0, f64::from(i / 20) * 3.0, 0.0))
                .collect(),
        );
        cloud.normals = normals.then(|| vec![Vector::z(); 400]);
        Surface::new(cloud, None).unwrap().0
    }

    fn of_faces(reference: Face, measured: Face) -> Comparison {
        let set = |name: &str, face| Set {
            face: Some(face),
            gauge: "20 msg".parse().ok(),
            ..Set::new(name, Path::new("set.ply"), Some(Unit::Millimetre))
        };
        Comparison {
            name: "faces".to_string(),
            reference: set("good", reference),
            measured: set("other", measured),
            mirror: false,
            repeat: None,
            set_by: SetBy::AsIs,
            points: None,
            datum_holes: None,
            regions: Vec::new(),
            asked: Asked::default(),
            held: None,
            originals: Vec::new(),
            answered: Vec::new(),
            limit_mm: 1.6,
            reach_mm: 12.7,
        }
    }

    #[test]
    fn the_inside_is_brought_to_the_outside_by_the_gauge_and_back() {
        for (reference, measured, height) in [
            (Face::Outside, Face::Inside, 0.911),
            (Face::Inside, Face::Outside, -0.911),
            (Face::Inside, Face::Inside, 0.0),
        ] {
            let mut warnings = Vec::new();
            let moved = on_the_references(&of_faces(reference, measured), flat(true), &mut warnings);
            for point in moved.points() {
                assert!((point.z - height).abs() < 1e-3, "{point}");
                let found = moved.near.nearest(point).unwrap();
                assert!(found.squared_mm2 < 1e-6);
            }
            assert_eq!(warnings.len(), usize::from(height != 0.0));
        }
    }

    #[test]
    fn a_set_that_does_not_say_its_sides_stays_and_that_is_told() {
        let mut warnings = Vec::new();
        let asked = of_faces(Face::Outside, Face::Inside);
        let moved = on_the_references(&asked, flat(false), &mut warnings);
        assert!(moved.points().iter().all(|p| p.z.abs() < 1e-12));
        assert_eq!(warnings[0].code, "face-unknown");
        assert!(
            warnings[0].words.contains("20 msg, 0.0359 in"),
            "{}",
            warnings[0].words
        );
    }
}
