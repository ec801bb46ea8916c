//! The solid view as a file that any viewer opens: glTF 2.0 in one binary, with the deviation of every place in it.
//!
//! glTF 2.0 (ISO/IEC 12113:2022) with `KHR_mesh_quantization`: places are kept in 65 535 steps of the longest side, normals in
//! 127, deviations and ± in 32 767 steps of the largest, so that 150 000 places of the reference and 100 000 of the measured
//! set take 4.4 MB. The worst rounding of each is written beside it; that of a deviation is at most 0.02 mm.

mod buffer;
mod quantised;

use serde_json::{Value, json};

use self::buffer::{BYTE, Buffer, Kind, SHORT, UNSIGNED_BYTE, UNSIGNED_SHORT};
use self::quantised::{Grid, Scale};
use crate::PageError;
use crate::scene::{Scene, unfit};

/// Metal that was not measured, and metal beyond the edge of the measured set, as other viewers show it, who know no hatching.
const NOT_MEASURED: [u8; 3] = [112, 112, 112];
const BEYOND_EDGE: [u8; 3] = [165, 165, 165];
/// The measured points.
const MEASURED: [u8; 3] = [86, 90, 96];
/// Largest deviation that is still rounded by less than 0.02 mm.
const MOST_MM: f32 = 1_300.0;

/// Writes a scene as a .glb file.
///
/// The root turns millimetres with X rearward, Y right and Z up into metres with Y up and the front of the car toward +Z, as
/// glTF wants it. Below it lie `reference` (triangles where the scene has faces, else points) and `measured` (points); a set
/// without points is left out. Beside place, normal and colour the reference carries `_DEVIATION_AND_PM` (two shares of the
/// scales in the root's extras; a ± of −1 is not known) and `_STATE_AND_REGION`.
///
/// # Errors
/// Where nothing is there to show, lists of the scene differ in length, a number is none, a face names a point that is not
/// there, or the file would outgrow 4 GB.
pub fn write(scene: &Scene, limit_mm: f64, end_mm: f64, name: &str) -> Result<Vec<u8>, PageError> {
    check(scene, limit_mm, end_mm)?;
    let mut buffer = Buffer::default();
    let scales = Scales::of(scene);
    let mut meshes = Vec::new();
    let mut nodes = vec![Value::Null];
    let mut rounding_mm = 0.0f64;
    let mut hang = |name: &str, grid: &Grid, primitive: Value| {
        rounding_mm = rounding_mm.max(grid.rounding_mm());
        let step = [grid.step_mm; 3];
        nodes.push(json!({ "name": name, "mesh": meshes.len(), "translation": grid.low_mm, "scale": step }));
        meshes.push(json!({ "name": name, "primitives": [primitive] }));
    };
    if !scene.points_mm.is_empty() {
        let grid = Grid::over(&scene.points_mm);
        hang(
            "reference",
            &grid,
            reference(&mut buffer, scene, &grid, &scales, [limit_mm, end_mm]),
        );
    }
    if !scene.measured_mm.is_empty() {
        let grid = Grid::over(&scene.measured_mm);
        let place = places(&mut buffer, &scene.measured_mm, &grid);
        hang(
            "measured",
            &grid,
            json!({ "mode": 0, "material": 1, "attributes": { "POSITION": place } }),
        );
    }
    let children: Vec<usize> = (1..nodes.len()).collect();
    nodes[0] = json!({
        "name": name,
        "children": children,
        "matrix": [0, 0, -0.001, 0, -0.001, 0, 0, 0, 0, 0.001, 0, 0, 0, 0, 0, 1],
        "extras": extras(scene, &scales, [limit_mm, end_mm], rounding_mm),
    });
    let document = json!({
        "asset": { "version": "2.0", "generator": "witnessmark" },
        "extensionsUsed": ["KHR_materials_unlit", "KHR_mesh_quantization"],
        "extensionsRequired": ["KHR_mesh_quantization"],
        "scene": 0,
        "scenes": [{ "name": name, "nodes": [0] }],
        "nodes": nodes,
        "meshes": meshes,
        "materials": materials(),
        "accessors": buffer.accessors,
        "bufferViews": buffer.views,
        "buffers": [{ "byteLength": buffer.bytes.len() }],
    });
    binary(&document, &buffer.bytes)
}

/// What the two figures of a place are shares of.
struct Scales {
    deviation: Scale,
    pm: Scale,
}

impl Scales {
    fn of(scene: &Scene) -> Self {
        let known = |figures: &[f32]| -> Vec<f32> {
            let own = figures
                .iter()
                .zip(&scene.state)
                .filter(|(mm, state)| **state == 0 && mm.is_finite());
            own.map(|(mm, _)| *mm).collect()
        };
        Self {
            deviation: Scale::over(&known(&scene.deviation_mm)),
            pm: Scale::over(&known(&scene.pm_mm)),
        }
    }
}

fn check(scene: &Scene, limit_mm: f64, end_mm: f64) -> Result<(), PageError> {
    scene.check()?;
    let mut places = scene.points_mm.iter().chain(&scene.measured_mm).flatten();
    if !places.all(|c| c.is_finite())
        || !limit_mm.is_finite()
        || !end_mm.is_finite()
        || !scene.spacing_mm.is_finite()
    {
        return Err(unfit("a place, a limit or the spacing is no number"));
    }
    let mut deviations = scene.deviation_mm.iter().zip(&scene.state);
    // Written so that what is no number fails.
    if !deviations.all(|(mm, state)| *state != 0 || mm.abs() <= MOST_MM) {
        return Err(unfit("a deviation is no number, or larger than any reach"));
    }
    Ok(())
}

fn places(buffer: &mut Buffer, points_mm: &[[f32; 3]], grid: &Grid) -> usize {
    let steps: Vec<[u16; 3]> = points_mm.iter().map(|p| grid.steps(p)).collect();
    let end = |pick: fn(u16, u16) -> u16, from: u16| -> [u16; 3] {
        steps.iter().fold([from; 3], |ends, row| {
            std::array::from_fn(|axis| pick(ends[axis], row[axis]))
        })
    };
    let bounds = [end(u16::min, u16::MAX), end(u16::max, 0)];
    let kind = Kind {
        component: UNSIGNED_SHORT,
        shape: "VEC3",
        // Whole steps, with their length in the node: there are readers that forget to make shares of them.
        normalised: false,
    };
    // Two bytes lie idle: a place must begin at a multiple of four.
    let rows = steps.iter().map(|[x, y, z]| {
        let ([a, b], [c, d], [e, f]) = (x.to_le_bytes(), y.to_le_bytes(), z.to_le_bytes());
        [a, b, c, d, e, f, 0, 0]
    });
    buffer.attribute(rows, kind, Some(bounds))
}

/// The mesh primitive of the reference; `limits_mm` are the limit and the end of the ramp.
fn reference(buffer: &mut Buffer, scene: &Scene, grid: &Grid, scales: &Scales, limits_mm: [f64; 2]) -> Value {
    let kind = |component, shape, normalised| Kind {
        component,
        shape,
        normalised,
    };
    let place = places(buffer, &scene.points_mm, grid);
    let normals = scene.normals.iter().map(quantised::normal);
    let normal = buffer.attribute(normals, kind(BYTE, "VEC3", true), None);
    let colours = scene.deviation_mm.iter().zip(&scene.state).map(|(mm, state)| {
        let [r, g, b] = shown(*mm, *state, limits_mm).map(linear);
        [r, g, b, 255]
    });
    let colour = buffer.attribute(colours, kind(UNSIGNED_BYTE, "VEC4", true), None);
    let figures = (0..scene.points_mm.len()).map(|i| {
        let (off, pm) = if scene.state[i] == 0 {
            let pm_mm = scene.pm_mm[i];
            let known = pm_mm.is_finite() && pm_mm >= 0.0;
            let pm = if known { scales.pm.share(pm_mm) } else { -i16::MAX };
            (scales.deviation.share(scene.deviation_mm[i]), pm)
        } else {
            (0, -i16::MAX)
        };
        pair(off.to_le_bytes(), pm.to_le_bytes())
    });
    let figure = buffer.attribute(figures, kind(SHORT, "VEC2", true), None);
    let states = scene.state.iter().zip(&scene.region);
    let states = states.map(|(state, region)| pair(u16::from(*state).to_le_bytes(), region.to_le_bytes()));
    let state = buffer.attribute(states, kind(UNSIGNED_SHORT, "VEC2", false), None);
    let mut primitive = json!({
        "mode": 0,
        "material": 0,
        "attributes": {
            "POSITION": place, "NORMAL": normal, "COLOR_0": colour,
            "_DEVIATION_AND_PM": figure, "_STATE_AND_REGION": state,
        },
    });
    if !scene.faces.is_empty() {
        primitive["mode"] = json!(4);
        primitive["indices"] = json!(buffer.indices(&scene.faces, scene.points_mm.len()));
    }
    primitive
}

fn pair(a: [u8; 2], b: [u8; 2]) -> [u8; 4] {
    [a[0], a[1], b[0], b[1]]
}

fn shown(mm: f32, state: u8, [limit_mm, end_mm]: [f64; 2]) -> [u8; 3] {
    match state {
        0 => draw::colour::of_deviation(f64::from(mm), limit_mm, end_mm),
        1 => BEYOND_EDGE,
        _ => NOT_MEASURED,
    }
}

/// The linear share of a colour that is meant for the eye (IEC 61966-2-1), as glTF wants colours of places.
fn linear(c: u8) -> u8 {
    (linear_share(c) * 255.0).round() as u8
}

fn linear_share(c: u8) -> f64 {
    let c = f64::from(c) / 255.0;
    if c <= 0.04045 {
        c / 12.92
    } else {
        ((c + 0.055) / 1.055).powf(2.4)
    }
}

fn materials() -> Value {
    let [r, g, b] = MEASURED.map(linear_share);
    json!([
        {
            "name": "reference",
            "doubleSided": true,
            "pbrMetallicRoughness": { "metallicFactor": 0, "roughnessFactor": 1 },
        },
        {
            "name": "measured",
            "extensions": { "KHR_materials_unlit": {} },
            "pbrMetallicRoughness": { "baseColorFactor": [r, g, b, 1], "metallicFactor": 0, "roughnessFactor": 1 },
        },
    ])
}

/// What a reader must know beside the numbers.
fn extras(scene: &Scene, scales: &Scales, [limit_mm, end_mm]: [f64; 2], place_rounding_mm: f64) -> Value {
    json!({
        "unit": "mm below this node, X rearward, Y right as seated, Z up; metres above it",
        "figures": "deviation and pm are averaged over a disc, as in the pictures; deviation.ply has those of each place",
        "limit_mm": limit_mm,
        "end_mm": end_mm,
        "spacing_mm": scene.spacing_mm,
        "deviation_scale_mm": scales.deviation.mm,
        "pm_scale_mm": scales.pm.mm,
        "rounding_mm": {
            "place": place_rounding_mm,
            "deviation": scales.deviation.rounding_mm(),
            "pm": scales.pm.rounding_mm(),
        },
        "attributes": {
            "_DEVIATION_AND_PM": "where the measured metal lies along the normal, + proud, as a share of deviation_scale_mm; \
    half the 95 % band, as a share of pm_scale_mm, -1 where it is not known",
            "_STATE_AND_REGION": "0 a distance, 1 beyond the edge of the measured set, 2 not measured; \
    1 + the index among the record's regions, 0 in none",
            "COLOR_0": "pale within the limit, orange proud, purple shy; dark grey not measured, light grey beyond the edge",
        },
    })
}

/// Head, document and numbers, each padded to a multiple of four.
fn binary(document: &Value, numbers: &[u8]) -> Result<Vec<u8>, PageError> {
    let mut text = document.to_string().into_bytes();
    text.resize(text.len().next_multiple_of(4), b' ');
    let all = 12 + 8 + text.len() + 8 + numbers.len();
    let length = |bytes: usize| {
        let too_large = |_| PageError("the view that turns would outgrow 4 GB: thin the points".to_string());
        u32::try_from(bytes).map(u32::to_le_bytes).map_err(too_large)
    };
    let mut file = Vec::with_capacity(all);
    file.extend_from_slice(b"glTF");
    file.extend_from_slice(&2u32.to_le_bytes());
    file.extend_from_slice(&length(all)?);
    file.extend_from_slice(&length(text.len())?);
    file.extend_from_slice(b"JSON");
    file.extend_from_slice(&text);
    file.extend_from_slice(&length(numbers.len())?);
    file.extend_from_slice(b"BIN\0");
    file.extend_from_slice(numbers);
    Ok(file)
}

#[cfg(test)]
mod tests;
