//! The points of the view as a page carries them: whole steps, each told from the one before it along the curve, deflated.
//!
//! Neighbours along the curve lie together on the metal, so their differences are small; low and high bytes lie apart, so that
//! those that are alike lie together. That takes about 4.5 bytes a place of the reference and 3 a measured one, a sixth of what
//! they take in view.glb. Normals are kept as places on an octahedron that is laid flat (Meyer, Süßmuth, Sußner, Stamminger &
//! Greiner 2010). `templates/view/points.js` reads it.

use std::io::Write as _;

use flate2::Compression;
#[cfg(test)]
use flate2::read::DeflateDecoder;
use flate2::write::DeflateEncoder;
use serde_json::{Value, json};

use crate::PageError;
use crate::scene::Scene;
use crate::thin::thinned;

/// Most that a page gives to the view: with a third more for its letters, and pictures of 2 MB beside, it stays under 8 MB.
pub const MOST_BYTES: usize = 4_200_000;
/// Finest steps of a place and of a figure, mm: finer than any scanner, and half a step is what rounding changes.
const PLACE_MM: f64 = 0.05;
const FIGURE_MM: f64 = 0.02;

/// The scene in at most `most_bytes`: where it takes more it is thinned until it does not.
///
/// The bytes are a deflate stream (RFC 1951) of the length of a head in four bytes, the head as JSON, and the lists that it counts.
///
/// # Errors
/// Where nothing is there to show, lists of the scene differ in length, or a face names a point that is not there.
pub fn packed(scene: &Scene, most_bytes: usize) -> Result<Vec<u8>, PageError> {
    scene.check()?;
    let mut bytes = deflated(scene)?;
    // Faces go first: without them its points draw as closed a sheet.
    let bare;
    let mut scene = scene;
    if bytes.len() > most_bytes && !scene.faces.is_empty() {
        bare = Scene {
            faces: Vec::new(),
            ..scene.clone()
        };
        scene = &bare;
        bytes = deflated(scene)?;
    }
    let mut counts = [scene.points_mm.len(), scene.measured_mm.len()];
    while bytes.len() > most_bytes && counts.iter().any(|count| *count > 1) {
        // Fewer points lie farther apart and take more bytes each: so a little less than in proportion.
        let share = 0.97 * most_bytes as f64 / bytes.len() as f64;
        counts = counts.map(|count| ((count as f64 * share) as usize).max(count.min(1)));
        bytes = deflated(&thinned(scene.clone(), counts[0], counts[1]))?;
    }
    Ok(bytes)
}

fn deflated(scene: &Scene) -> Result<Vec<u8>, PageError> {
    let mut lists = Vec::new();
    let most_mm = largest(&scene.deviation_mm, &scene.state);
    let steps_mm = [most_mm, largest(&scene.pm_mm, &scene.state)].map(figure_step);
    let mut head = json!({
        "spacing_mm": scene.spacing_mm, "most_mm": most_mm,
        "deviation_step_mm": steps_mm[0], "pm_step_mm": steps_mm[1],
    });
    if !scene.points_mm.is_empty() {
        head["reference"] = places(&mut lists, &scene.points_mm);
        head["reference"]["faces"] = json!(scene.faces.len());
        reference(&mut lists, scene, steps_mm);
    }
    if !scene.measured_mm.is_empty() {
        head["measured"] = places(&mut lists, &scene.measured_mm);
    }
    let head = head.to_string();
    let length = (head.len() as u32).to_le_bytes();
    let failed = |e: std::io::Error| PageError(format!("the view that turns can't be packed: {e}"));
    let mut out = DeflateEncoder::new(Vec::new(), Compression::default());
    for part in [&length[..], head.as_bytes(), &lists[..]] {
        out.write_all(part).map_err(failed)?;
    }
    out.finish().map_err(failed)
}

/// Of the figures that are known, 1 mm at least.
fn largest(figures_mm: &[f32], state: &[u8]) -> f64 {
    let known = figures_mm
        .iter()
        .zip(state)
        .filter(|(mm, state)| **state == 0 && mm.is_finite());
    known.map(|(mm, _)| f64::from(mm.abs())).fold(1.0, f64::max)
}

fn figure_step(most_mm: f64) -> f64 {
    FIGURE_MM.max(most_mm / f64::from(i16::MAX))
}

/// Appends places, axis by axis, and returns what must be known of them: how many, the lowest corner, the step.
fn places(lists: &mut Vec<u8>, points_mm: &[[f32; 3]]) -> Value {
    let end = |pick: fn(f32, f32) -> f32, from: f32| -> [f32; 3] {
        points_mm.iter().fold([from; 3], |ends, p| {
            std::array::from_fn(|axis| pick(ends[axis], p[axis]))
        })
    };
    let low = end(f32::min, f32::INFINITY).map(f64::from);
    let high = end(f32::max, f32::NEG_INFINITY).map(f64::from);
    let side = (0..3).map(|axis| high[axis] - low[axis]).fold(0.0, f64::max);
    let step = PLACE_MM.max(side / f64::from(u16::MAX));
    for (axis, low) in low.iter().enumerate() {
        let steps = points_mm
            .iter()
            .map(|p| ((f64::from(p[axis]) - low) / step).round() as u16);
        differences(lists, steps);
    }
    json!({ "count": points_mm.len(), "low": low, "step": step })
}

/// Appends what belongs to the places of the reference: normals, deviations, ±, states, regions, faces.
fn reference(lists: &mut Vec<u8>, scene: &Scene, [deviation_step, pm_step]: [f64; 2]) {
    let normals: Vec<[i8; 2]> = scene.normals.iter().map(octahedral).collect();
    for axis in 0..2 {
        let mut before = 0i8;
        lists.extend(normals.iter().map(|n| {
            let apart = n[axis].wrapping_sub(before) as u8;
            before = n[axis];
            apart
        }));
    }
    let seen = |i: usize, mm: f32, step: f64| {
        let known = scene.state[i] == 0 && mm.is_finite();
        known.then(|| (f64::from(mm) / step).round() as i16)
    };
    let deviations = scene.deviation_mm.iter().enumerate();
    differences(
        lists,
        deviations.map(|(i, mm)| seen(i, *mm, deviation_step).unwrap_or(0) as u16),
    );
    let pms = scene.pm_mm.iter().enumerate();
    let pm = |(i, mm): (usize, &f32)| seen(i, *mm, pm_step).filter(|steps| *steps >= 0).unwrap_or(-1) as u16;
    differences(lists, pms.map(pm));
    lists.extend(&scene.state);
    differences(lists, scene.region.iter().copied());
    let mut before = 0u32;
    let corners: Vec<u32> = scene
        .faces
        .iter()
        .flatten()
        .map(|&corner| {
            let apart = corner.wrapping_sub(before) as i32;
            before = corner;
            ((apart << 1) ^ (apart >> 31)) as u32
        })
        .collect();
    for byte in 0..4 {
        lists.extend(corners.iter().map(|corner| corner.to_le_bytes()[byte]));
    }
}

/// Appends numbers as their differences, with the sign in the last bit so that small ones are small: low bytes, then high bytes.
fn differences(lists: &mut Vec<u8>, numbers: impl ExactSizeIterator<Item = u16>) {
    let mut before = 0u16;
    let start = lists.len();
    let count = numbers.len();
    lists.resize(start + 2 * count, 0);
    for (k, number) in numbers.enumerate() {
        let apart = number.wrapping_sub(before) as i16;
        before = number;
        let [low, high] = (((apart << 1) ^ (apart >> 15)) as u16).to_le_bytes();
        lists[start + k] = low;
        lists[start + count + k] = high;
    }
}

/// The place of a normal on an octahedron that is laid flat, in 127 steps to each side; one without a direction points up.
fn octahedral(normal: &[f32; 3]) -> [i8; 2] {
    let [x, y, z] = normal.map(f64::from);
    let sum = x.abs() + y.abs() + z.abs();
    let known = sum > 1e-6 && sum.is_finite();
    if !known {
        return [0, 0];
    }
    let (u, v) = (x / sum, y / sum);
    let side = |c: f64| if c < 0.0 { -1.0 } else { 1.0 };
    let flat = if z < 0.0 {
        [(1.0 - v.abs()) * side(u), (1.0 - u.abs()) * side(v)]
    } else {
        [u, v]
    };
    flat.map(|c| (127.0 * c).round() as i8)
}

#[cfg(test)]
mod tests;
