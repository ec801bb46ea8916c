//! A file read back by hand: heads, lengths, alignment, bounds, and the figures within their rounding.

use serde_json::Value;

use super::*;

/// A bent sheet of `side` by `side` points, 2.5 m long, with every state and two regions.
fn sheet(side: usize) -> Scene {
    let mut scene = Scene {
        spacing_mm: 10.0,
        ..Scene::default()
    };
    for i in 0..side * side {
        let (u, v) = (
            (i % side) as f32 / (side - 1) as f32,
            (i / side) as f32 / (side - 1) as f32,
        );
        scene.points_mm.push([
            2500.0 * u - 50.0,
            1200.0 * v - 600.0,
            500.0 + 100.0 * (3.0 * u).sin(),
        ]);
        let slope = -0.12 * (3.0 * u).cos();
        let length = (1.0 + slope * slope).sqrt();
        scene.normals.push([slope / length, 0.0, 1.0 / length]);
        let state = if i.is_multiple_of(7) {
            2
        } else {
            u8::from(i.is_multiple_of(11))
        };
        scene.state.push(state);
        scene
            .deviation_mm
            .push(if state == 0 { 13.0 * (5.0 * v).sin() } else { 0.0 });
        scene.pm_mm.push(0.1 + u);
        scene.region.push((i % 3) as u16);
        if i.is_multiple_of(2) {
            scene
                .measured_mm
                .push([2500.0 * u - 40.0, 1200.0 * v - 600.0, 503.0]);
        }
    }
    scene
}

fn number(bytes: &[u8], at: usize) -> usize {
    u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()) as usize
}

/// The document and the numbers, with every length held against the others.
fn parts(file: &[u8]) -> (Value, Vec<u8>) {
    assert_eq!(&file[..4], b"glTF");
    assert_eq!(number(file, 4), 2);
    assert_eq!(number(file, 8), file.len());
    let text = number(file, 12);
    assert_eq!(text % 4, 0);
    assert_eq!(&file[16..20], b"JSON");
    let document: Value = serde_json::from_slice(&file[20..20 + text]).unwrap();
    let numbers = number(file, 20 + text);
    assert_eq!(numbers % 4, 0);
    assert_eq!(&file[24 + text..28 + text], b"BIN\0");
    assert_eq!(28 + text + numbers, file.len());
    assert_eq!(document["buffers"][0]["byteLength"], numbers);
    (document, file[28 + text..].to_vec())
}

/// Two bytes of component `part` of row `row` of an attribute of a mesh.
fn short(document: &Value, numbers: &[u8], at: (usize, &str), row: usize, part: usize) -> [u8; 2] {
    let accessor = &document["meshes"][at.0]["primitives"][0]["attributes"][at.1];
    let accessor = &document["accessors"][accessor.as_u64().unwrap() as usize];
    let view = &document["bufferViews"][accessor["bufferView"].as_u64().unwrap() as usize];
    let start = view["byteOffset"].as_u64().unwrap() as usize;
    let stride = view["byteStride"].as_u64().unwrap() as usize;
    let from = start + stride * row + 2 * part;
    numbers[from..from + 2].try_into().unwrap()
}

fn place(document: &Value, numbers: &[u8], mesh: usize, row: usize) -> [f64; 3] {
    let node = &document["nodes"][mesh + 1];
    std::array::from_fn(|axis| {
        let step = u16::from_le_bytes(short(document, numbers, (mesh, "POSITION"), row, axis));
        let scale = node["scale"][axis].as_f64().unwrap();
        f64::from(step) * scale + node["translation"][axis].as_f64().unwrap()
    })
}

#[test]
fn everything_lies_in_the_file_and_on_multiples_of_four() {
    let scene = sheet(40);
    let (document, numbers) = parts(&write(&scene, 1.6, 6.4, "bent \"sheet\"").unwrap());
    let mut end = 0;
    for view in document["bufferViews"].as_array().unwrap() {
        let start = view["byteOffset"].as_u64().unwrap() as usize;
        assert_eq!(start % 4, 0);
        assert_eq!(view["byteStride"].as_u64().unwrap() % 4, 0);
        assert_eq!(start, end, "no gaps, no overlap");
        end = start + view["byteLength"].as_u64().unwrap() as usize;
    }
    assert_eq!(end, numbers.len());
    for accessor in document["accessors"].as_array().unwrap() {
        let count = accessor["count"].as_u64().unwrap() as usize;
        assert!(count == 1600 || count == 800, "{count}");
    }
    assert_eq!(document["scenes"][0]["name"], "bent \"sheet\"");
    assert_eq!(document["meshes"][0]["primitives"][0]["mode"], 0);
}

#[test]
fn places_come_back_within_their_rounding_and_inside_their_bounds() {
    let scene = sheet(40);
    let (document, numbers) = parts(&write(&scene, 1.6, 6.4, "sheet").unwrap());
    let told = document["nodes"][0]["extras"]["rounding_mm"]["place"]
        .as_f64()
        .unwrap();
    assert!(told <= 2500.0 / 65535.0);
    for (mesh, points) in [&scene.points_mm, &scene.measured_mm].into_iter().enumerate() {
        for (row, point) in points.iter().enumerate() {
            let back = place(&document, &numbers, mesh, row);
            for axis in 0..3 {
                assert!((back[axis] - f64::from(point[axis])).abs() <= told * 1.001);
            }
        }
    }
    let bounds = &document["accessors"][0];
    for axis in 0..3 {
        let own: Vec<u16> = (0..1600)
            .map(|row| u16::from_le_bytes(short(&document, &numbers, (0, "POSITION"), row, axis)))
            .collect();
        assert_eq!(bounds["min"][axis], *own.iter().min().unwrap());
        assert_eq!(bounds["max"][axis], *own.iter().max().unwrap());
    }
}

#[test]
fn figures_states_and_regions_come_back() {
    let mut scene = sheet(40);
    scene.pm_mm[1] = f32::NAN;
    let (document, numbers) = parts(&write(&scene, 1.6, 6.4, "sheet").unwrap());
    let extras = &document["nodes"][0]["extras"];
    assert!(extras["rounding_mm"]["deviation"].as_f64().unwrap() < 0.02);
    let share = |row, part| {
        let bytes = short(&document, &numbers, (0, "_DEVIATION_AND_PM"), row, part);
        f64::from(i16::from_le_bytes(bytes)) / 32767.0
    };
    let word =
        |row, part| u16::from_le_bytes(short(&document, &numbers, (0, "_STATE_AND_REGION"), row, part));
    let scale = |key: &str| extras[key].as_f64().unwrap();
    for row in 0..1600 {
        assert_eq!(word(row, 0), u16::from(scene.state[row]));
        assert_eq!(word(row, 1), scene.region[row]);
        if scene.state[row] != 0 || row == 1 {
            assert_eq!(share(row, 1), -1.0, "a ± that is not known");
            continue;
        }
        let off = share(row, 0) * scale("deviation_scale_mm") - f64::from(scene.deviation_mm[row]);
        let pm = share(row, 1) * scale("pm_scale_mm") - f64::from(scene.pm_mm[row]);
        assert!(off.abs() < 0.001 && pm.abs() < 0.001, "{off} {pm}");
    }
}

#[test]
fn the_root_is_a_turn_that_puts_up_up_and_the_front_to_the_front() {
    let (document, _) = parts(&write(&sheet(5), 1.6, 6.4, "sheet").unwrap());
    let m: Vec<f64> = document["nodes"][0]["matrix"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c.as_f64().unwrap() * 1000.0)
        .collect();
    assert_eq!(turned_by(&m, [-1.0, 0.0, 0.0]), [0.0, 0.0, 1.0], "forward");
    assert_eq!(turned_by(&m, [0.0, 0.0, 1.0]), [0.0, 1.0, 0.0], "up");
    // glTF's front is +Z with Y up, so that its right is -X.
    assert_eq!(turned_by(&m, [0.0, 1.0, 0.0]), [-1.0, 0.0, 0.0], "right");
}

/// A direction through the upper left part of a matrix that is written by columns.
fn turned_by(m: &[f64], v: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|row| (0..3).map(|column| m[4 * column + row] * v[column]).sum::<f64>() + 0.0)
}

#[test]
fn a_mesh_keeps_its_faces() {
    let mut scene = sheet(3);
    scene.measured_mm.clear();
    scene.faces = vec![[0, 1, 3], [1, 4, 3], [8, 7, 5]];
    let (document, numbers) = parts(&write(&scene, 1.6, 6.4, "mesh").unwrap());
    let primitive = &document["meshes"][0]["primitives"][0];
    assert_eq!(primitive["mode"], 4);
    let accessor = &document["accessors"][primitive["indices"].as_u64().unwrap() as usize];
    assert_eq!(accessor["count"], 9);
    assert_eq!(accessor["componentType"], UNSIGNED_SHORT);
    let view = &document["bufferViews"][accessor["bufferView"].as_u64().unwrap() as usize];
    let start = view["byteOffset"].as_u64().unwrap() as usize;
    let corners: Vec<u32> = (0..9)
        .map(|k| {
            u32::from(u16::from_le_bytes(
                numbers[start + 2 * k..start + 2 * k + 2].try_into().unwrap(),
            ))
        })
        .collect();
    assert_eq!(corners, scene.faces.concat());
    assert_eq!(
        document["meshes"].as_array().unwrap().len(),
        1,
        "no measured points, no node"
    );
}

#[test]
fn proud_is_orange_and_shy_is_purple_in_any_viewer() {
    let mut scene = sheet(2);
    scene.state = vec![0; 4];
    scene.deviation_mm = vec![0.0, 6.0, -6.0, 0.5];
    let (document, numbers) = parts(&write(&scene, 1.6, 6.4, "four").unwrap());
    let colour = |row| {
        let [r, g] = short(&document, &numbers, (0, "COLOR_0"), row, 0);
        let [b, a] = short(&document, &numbers, (0, "COLOR_0"), row, 1);
        assert_eq!(a, 255);
        [r, g, b]
    };
    assert_eq!(colour(0), draw::colour::WITHIN.map(linear));
    assert_eq!(colour(3), colour(0));
    assert!(colour(1)[0] > colour(1)[2], "{:?}", colour(1));
    assert!(colour(2)[2] > colour(2)[0], "{:?}", colour(2));
}

#[test]
fn what_can_t_be_shown_is_refused() {
    let refused = |change: fn(&mut Scene)| {
        let mut scene = sheet(4);
        change(&mut scene);
        write(&scene, 1.6, 6.4, "sheet").unwrap_err().0
    };
    assert!(refused(|s| *s = Scene::default()).contains("neither set"));
    assert!(refused(|s| s.region.truncate(3)).contains("length"));
    assert!(refused(|s| s.points_mm[2][1] = f32::NAN).contains("no number"));
    assert!(refused(|s| s.deviation_mm[1] = f32::NAN).contains("deviation"));
    assert!(refused(|s| s.faces = vec![[0, 1, 16]]).contains("face"));
}

#[test]
fn the_same_scene_is_the_same_bytes_and_small() {
    let scene = sheet(60);
    let file = write(&scene, 1.6, 6.4, "sheet").unwrap();
    assert_eq!(file, write(&scene, 1.6, 6.4, "sheet").unwrap());
    let most = 24 * scene.points_mm.len() + 8 * scene.measured_mm.len() + 6_000;
    assert!(file.len() <= most, "{} of {most}", file.len());
}
