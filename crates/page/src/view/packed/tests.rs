//! Packed points unpacked by hand: places, figures and normals within their rounding, and never more bytes than are allowed.

use std::io::Read as _;

use super::*;

/// A bent sheet along rows of a grid, with every state, two regions and a few faces.
fn sheet(side: usize) -> Scene {
    let mut scene = Scene {
        spacing_mm: 4.0,
        faces: vec![[0, 1, side as u32], [7, 3, 2]],
        ..Scene::default()
    };
    for i in 0..side * side {
        let (x, y) = ((i % side) as f32 * 4.0 - 50.0, (i / side) as f32 * 4.0);
        let (slope, z) = (0.6 * (x / 100.0).cos(), 60.0 * (x / 100.0).sin());
        let length = (1.0 + slope * slope).sqrt();
        let face = if i.is_multiple_of(2) { 1.0 } else { -1.0 };
        scene.points_mm.push([x, y, z]);
        scene.normals.push([-face * slope / length, 0.0, face / length]);
        scene.deviation_mm.push(9.0 * (y / 50.0).sin());
        scene.pm_mm.push(if i.is_multiple_of(5) { f32::NAN } else { 0.3 });
        scene.state.push((i % 3) as u8);
        scene.region.push((i % 2) as u16 * 300);
        scene.measured_mm.push([x, y, z + 1.0]);
    }
    scene
}

/// What is left of the bytes, list by list.
struct Unpacked {
    head: Value,
    lists: Vec<u8>,
    read: usize,
}

impl Unpacked {
    fn of(bytes: &[u8]) -> Self {
        let mut all = Vec::new();
        DeflateDecoder::new(bytes).read_to_end(&mut all).unwrap();
        let length = u32::from_le_bytes(all[..4].try_into().unwrap()) as usize;
        Self {
            head: serde_json::from_slice(&all[4..4 + length]).unwrap(),
            lists: all[4 + length..].to_vec(),
            read: 0,
        }
    }

    fn bytes(&mut self, count: usize) -> Vec<u8> {
        self.read += count;
        self.lists[self.read - count..self.read].to_vec()
    }

    fn numbers(&mut self, count: usize) -> Vec<u16> {
        let (low, high) = (self.bytes(count), self.bytes(count));
        let mut now = 0u16;
        let apart = low.iter().zip(&high).map(|(low, high)| {
            let signed = u16::from_le_bytes([*low, *high]);
            now = now.wrapping_add((signed >> 1) ^ (signed & 1).wrapping_neg());
            now
        });
        apart.collect()
    }

    fn places(&mut self, set: &str) -> Vec<[f64; 3]> {
        let own = self.head[set].clone();
        let count = own["count"].as_u64().unwrap() as usize;
        let axes: Vec<Vec<u16>> = (0..3).map(|_| self.numbers(count)).collect();
        let step = own["step"].as_f64().unwrap();
        let place = |i: usize| {
            std::array::from_fn(|axis| own["low"][axis].as_f64().unwrap() + step * f64::from(axes[axis][i]))
        };
        (0..count).map(place).collect()
    }
}

fn near(found: &[[f64; 3]], points: &[[f32; 3]], within: f64) {
    assert_eq!(found.len(), points.len());
    for (a, b) in found.iter().zip(points) {
        assert!(
            (0..3).all(|k| (a[k] - f64::from(b[k])).abs() <= within),
            "{a:?} {b:?}"
        );
    }
}

#[test]
fn everything_comes_back_within_its_rounding() {
    let scene = sheet(40);
    let count = scene.points_mm.len();
    let mut back = Unpacked::of(&packed(&scene, usize::MAX).unwrap());
    let places = back.places("reference");
    near(&places, &scene.points_mm, 0.0251);
    let mut axis = || {
        let mut now = 0u8;
        let list = back.bytes(count);
        list.iter()
            .map(|apart| {
                now = now.wrapping_add(*apart);
                now as i8
            })
            .collect::<Vec<i8>>()
    };
    let flat = [axis(), axis()];
    for (i, normal) in scene.normals.iter().enumerate() {
        let [u, v] = [0, 1].map(|k| f64::from(flat[k][i]) / 127.0);
        let z = 1.0 - u.abs() - v.abs();
        let folded = |a: f64, b: f64| (1.0 - b.abs()) * if a < 0.0 { -1.0 } else { 1.0 };
        let n = if z < 0.0 {
            [folded(u, v), folded(v, u), z]
        } else {
            [u, v, z]
        };
        let length = n.iter().map(|c| c * c).sum::<f64>().sqrt();
        let cosine: f64 = (0..3).map(|k| n[k] / length * f64::from(normal[k])).sum();
        assert!(cosine > 0.9998, "{n:?} {normal:?}");
    }
    let step = |key: &str, head: &Value| head[key].as_f64().unwrap();
    let head = back.head.clone();
    for (i, steps) in back.numbers(count).into_iter().enumerate() {
        let mm = f64::from(steps as i16) * step("deviation_step_mm", &head);
        let told = if scene.state[i] == 0 {
            f64::from(scene.deviation_mm[i])
        } else {
            0.0
        };
        assert!((mm - told).abs() <= 0.0101, "{mm} {told}");
    }
    for (i, steps) in back.numbers(count).into_iter().enumerate() {
        if scene.state[i] != 0 || scene.pm_mm[i].is_nan() {
            assert_eq!(steps as i16, -1);
        } else {
            assert!((f64::from(steps) * step("pm_step_mm", &head) - 0.3).abs() <= 0.0101);
        }
    }
    assert_eq!(back.bytes(count), scene.state);
    assert_eq!(back.numbers(count), scene.region);
    let planes: Vec<Vec<u8>> = (0..4).map(|_| back.bytes(6)).collect();
    let mut now = 0u32;
    let corners: Vec<u32> = (0..6)
        .map(|k| {
            let signed = u32::from_le_bytes(std::array::from_fn(|byte| planes[byte][k]));
            now = now.wrapping_add((signed >> 1) ^ (signed & 1).wrapping_neg());
            now
        })
        .collect();
    assert_eq!(corners, scene.faces.concat());
    let measured = back.places("measured");
    near(&measured, &scene.measured_mm, 0.0251);
    assert_eq!(back.read, back.lists.len());
}

#[test]
fn it_is_thinned_until_it_fits_and_the_spacing_says_so() {
    let scene = sheet(100);
    let whole = packed(&scene, usize::MAX).unwrap();
    let most = whole.len() / 3;
    let thin = packed(&scene, most).unwrap();
    assert!(
        thin.len() <= most && thin.len() > most / 2,
        "{} of {most}",
        thin.len()
    );
    let head = Unpacked::of(&thin).head;
    let count = head["reference"]["count"].as_f64().unwrap();
    assert!(count > 200.0 && count < 5000.0, "{count}");
    assert_eq!(head["reference"]["faces"], 0);
    let spacing = head["spacing_mm"].as_f64().unwrap();
    assert!((spacing - 4.0 * (10_000.0 / count).sqrt()).abs() < 0.01);
    assert!(
        packed(&scene, 0).unwrap().len() < 400,
        "one point of each set is left"
    );
}

#[test]
fn it_is_small_and_the_same_each_time() {
    let scene = sheet(120);
    let bytes = packed(&scene, usize::MAX).unwrap();
    assert_eq!(bytes, packed(&scene, usize::MAX).unwrap());
    assert!(bytes.len() < 9 * scene.points_mm.len(), "{}", bytes.len());
}

#[test]
fn what_can_t_be_shown_is_refused() {
    let refused = |change: fn(&mut Scene)| {
        let mut scene = sheet(4);
        change(&mut scene);
        packed(&scene, usize::MAX).unwrap_err().0
    };
    assert!(refused(|s| *s = Scene::default()).contains("neither set"));
    assert!(refused(|s| s.pm_mm.truncate(3)).contains("length"));
    assert!(refused(|s| s.faces = vec![[0, 1, 16]]).contains("face"));
}
