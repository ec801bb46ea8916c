//! The bench's data: an open sheet like a floor pan, 3000 × 1300 mm, with swages, a tunnel, holes and a flange, scanned
//! twice; the second scan carries a dent of 4 mm and lies displaced by (12, −7, 5) mm and 1.5°.

use std::fs;
use std::io::Write;
use std::path::Path;

use cloud::{Body, Motion, Point, Scan, Vector, curve};
use demo::sheet::{hump, rise};
use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

const LENGTH: f64 = 3000.0;
const WIDTH: f64 = 1300.0;
const FLANGE: f64 = 40.0;
const NOISE: f64 = 0.05;

/// All that the rows need.
pub struct Data {
    pub reference: Vec<Point>,
    pub aligned: Vec<Point>,
    pub measured: Vec<Point>,
    pub truth: Motion<Scan, Body>,
    pub mesh_points: Vec<Point>,
    pub mesh_faces: Vec<[u32; 3]>,
    pub spacing_mm: f64,
}

fn height(x: f64, y: f64) -> f64 {
    let mut z = 30.0 * (std::f64::consts::PI * x / LENGTH).sin() + 18.0 * ((y - 650.0) / 650.0).powi(2);
    z += 120.0 * (-((y - 650.0) / 110.0).powi(2)).exp() * rise((x - 200.0) / 600.0);
    for (start, end) in [(150.0, 1350.0), (1600.0, 2850.0)] {
        let along = rise((x - start) / 40.0) * rise((end - x) / 40.0);
        for place in [120.0, 220.0, 320.0, 420.0, 880.0, 980.0, 1080.0, 1180.0] {
            z += 8.0 * hump((y - place) / 22.0) * along;
        }
    }
    z + 10.0 * hump((x - 1475.0) / 30.0) * rise((y - 60.0) / 40.0) * rise((1240.0 - y) / 40.0)
}

fn holes() -> Vec<(f64, f64, f64)> {
    let mut random = Pcg64Mcg::seed_from_u64(11);
    (0..40)
        .map(|i| {
            let radius = [10.0, 10.0, 10.0, 20.0][i % 4] * if i % 7 == 0 { 2.0 } else { 1.0 };
            (
                100.0 + 2800.0 * random.random::<f64>(),
                80.0 + 1140.0 * random.random::<f64>(),
                radius,
            )
        })
        .collect()
}

fn deviate(random: &mut impl Rng) -> f64 {
    let (u, v): (f64, f64) = (random.random(), random.random());
    (-2.0 * (1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

fn scan(count: usize, seed: u64, dent: bool) -> Vec<Point> {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let holes = holes();
    let mut points = Vec::with_capacity(count);
    while points.len() < count {
        if random.random::<f64>() < FLANGE / (FLANGE + WIDTH) {
            let x = LENGTH * random.random::<f64>();
            points.push(Point::new(
                x,
                WIDTH,
                height(x, WIDTH) + FLANGE * random.random::<f64>(),
            ));
        } else {
            let (x, y) = (LENGTH * random.random::<f64>(), WIDTH * random.random::<f64>());
            if holes.iter().any(|(a, b, r)| (x - a).hypot(y - b) < *r) {
                continue;
            }
            let pressed = if dent {
                4.0 * hump((x - 700.0) / 150.0) * hump((y - 1000.0) / 150.0)
            } else {
                0.0
            };
            points.push(Point::new(x, y, height(x, y) - pressed));
        }
    }
    for p in &mut points {
        *p += Vector::from_fn(|_, _| NOISE * deviate(&mut random));
    }
    points
}

impl Data {
    /// Makes the data on `count` points, in random order or along the curve.
    pub fn make(count: usize, sorted: bool) -> Self {
        let ordered = |points: Vec<Point>| -> Vec<Point> {
            if sorted {
                curve::order(&points)
                    .into_iter()
                    .map(|i| points[i as usize])
                    .collect()
            } else {
                points
            }
        };
        let (reference, aligned) = (ordered(scan(count, 1, false)), ordered(scan(count, 2, true)));
        let axis = Vector::new(1.0, 2.0, 2.0) / 3.0;
        let there: Motion<Body, Scan> = Motion::turn_about(
            axis * 1.5f64.to_radians(),
            Point::new(1500.0, 650.0, 60.0),
            Vector::new(12.0, -7.0, 5.0),
        );
        let measured = aligned.iter().map(|p| there.apply(p)).collect();
        let (columns, rows) = (672u32, 291u32);
        let at = |i: u32, j: u32| {
            let (x, y) = (
                LENGTH * f64::from(i) / f64::from(columns),
                WIDTH * f64::from(j) / f64::from(rows),
            );
            Point::new(x, y, height(x, y))
        };
        let index = |i: u32, j: u32| i * (rows + 1) + j;
        let mesh_points = (0..=columns)
            .flat_map(|i| (0..=rows).map(move |j| at(i, j)))
            .collect();
        let mesh_faces = (0..columns)
            .flat_map(|i| {
                (0..rows).flat_map(move |j| {
                    [
                        [index(i, j), index(i + 1, j), index(i + 1, j + 1)],
                        [index(i, j), index(i + 1, j + 1), index(i, j + 1)],
                    ]
                })
            })
            .collect();
        Self {
            spacing_mm: (LENGTH * (WIDTH + FLANGE) * 1.05 / count as f64).sqrt(),
            reference,
            aligned,
            measured,
            truth: there.inverse(),
            mesh_points,
            mesh_faces,
        }
    }

    /// Writes the files that the peers read.
    pub fn write(&self, folder: &Path) {
        fs::create_dir_all(folder).unwrap();
        let coordinates = |points: &[Point]| -> Vec<u8> {
            points
                .iter()
                .flat_map(|p| p.iter().flat_map(|c| c.to_le_bytes()).collect::<Vec<u8>>())
                .collect()
        };
        for (name, points) in [
            ("reference", &self.reference),
            ("aligned", &self.aligned),
            ("measured", &self.measured),
            ("mesh_points", &self.mesh_points),
        ] {
            fs::write(folder.join(format!("{name}.f64")), coordinates(points)).unwrap();
        }
        let faces: Vec<u8> = self
            .mesh_faces
            .iter()
            .flatten()
            .flat_map(|i| i.to_le_bytes())
            .collect();
        fs::write(folder.join("mesh_faces.u32"), faces).unwrap();
        let mut truth: Vec<f64> = self.truth.rows().into_iter().flatten().collect();
        let bounds = cloud::Bounds::of(&self.measured).unwrap();
        truth.extend(bounds.corners().iter().flat_map(|c| [c.x, c.y, c.z]));
        let bytes: Vec<u8> = truth.into_iter().flat_map(f64::to_le_bytes).collect();
        fs::write(folder.join("truth.f64"), bytes).unwrap();
        let mut ply = std::io::BufWriter::new(fs::File::create(folder.join("set.ply")).unwrap());
        let mut head = format!(
            "ply\nformat binary_little_endian 1.0\nelement vertex {}\n",
            self.reference.len()
        );
        for axis in ["x", "y", "z", "nx", "ny", "nz"] {
            head += &format!("property float {axis}\n");
        }
        head += "property uchar red\nproperty uchar green\nproperty uchar blue\nend_header\n";
        ply.write_all(head.as_bytes()).unwrap();
        for p in &self.reference {
            for value in [p.x, p.y, p.z, 0.0, 0.0, 1.0] {
                ply.write_all(&(value as f32).to_le_bytes()).unwrap();
            }
            ply.write_all(&[90, 120, 150]).unwrap();
        }
        ply.flush().unwrap();
    }
}
