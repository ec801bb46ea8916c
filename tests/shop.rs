//! A fresh folder, the program run in it, and what came out.

// Two test programs share this file, and each uses its part.
#![allow(dead_code)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use cloud::{Point, Vector};
use formats::ply;
use serde_json::Value;
use tempfile::TempDir;

/// A folder of one test.
pub struct Shop {
    folder: TempDir,
}

/// What a run of the program left.
pub struct Ran {
    pub code: i32,
    pub stdout: String,
    pub stderr: String,
}

impl Shop {
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, bytes).unwrap();
        path
    }

    /// Writes points as binary PLY, with normals where given.
    pub fn set(&self, name: &str, points: &[Point], normals: Option<&[Vector]>) -> PathBuf {
        let mut bytes = Vec::new();
        ply::write(&mut bytes, points, normals, &[], &[], &[]).unwrap();
        self.write(name, bytes)
    }

    /// Runs the program in the folder.
    pub fn run(&self, arguments: &[&str]) -> Ran {
        self.run_with(arguments, &[])
    }

    /// Runs the program with environment variables.
    pub fn run_with(&self, arguments: &[&str], environment: &[(&str, &str)]) -> Ran {
        let Output {
            status,
            stdout,
            stderr,
        } = Command::new(env!("CARGO_BIN_EXE_witnessmark"))
            .args(arguments)
            .envs(environment.iter().copied())
            .current_dir(self.folder.path())
            .output()
            .unwrap();
        let ran = Ran {
            code: status.code().unwrap_or(-1),
            stdout: String::from_utf8(stdout).unwrap(),
            stderr: String::from_utf8(stderr).unwrap(),
        };
        assert!(!ran.stderr.contains("panicked"), "{}", ran.stderr);
        ran
    }

    /// Runs the program in the folder, which must stop and say these words.
    pub fn stopped(&self, arguments: &[&str], words: &str) -> Ran {
        let ran = self.run(arguments);
        ran.assert_stopped(arguments, words);
        ran
    }

    pub fn result(&self, folder: &str) -> Value {
        read_result(&self.path(folder))
    }
}

impl Ran {
    pub fn assert_stopped(&self, arguments: &[&str], words: &str) {
        let said = format!("{arguments:?}: {words:?}: {}{}", self.stdout, self.stderr);
        assert_eq!(self.code, 2, "{said}");
        assert!(self.stderr.contains(words), "{said}");
    }
}

/// The lines of a job file that declare a set in mm.
pub fn set_of_job(name: &str) -> String {
    format!("[[set]]\nname = \"{name}\"\nfile = \"sets/{name}.ply\"\nunits = \"mm\"\n")
}

/// The lines of a job file that compare two sets as they lie.
pub fn comparison_as_is(name: &str, reference: &str, measured: &str) -> String {
    format!(
        "[[comparison]]\nname = \"{name}\"\nreference = \"{reference}\"\nmeasured = \"{measured}\"\nset_by = \"as-is\"\n"
    )
}

/// The result.json of a folder of results.
pub fn read_result(folder: &Path) -> Value {
    serde_json::from_slice(&fs::read(folder.join("result.json")).unwrap()).unwrap()
}

/// The entry of a list with this name.
pub fn named<'v>(list: &'v Value, name: &str) -> &'v Value {
    let found = list.as_array().unwrap().iter().find(|e| e["name"] == name);
    found.unwrap_or_else(|| panic!("no {name} in {list}"))
}

/// A deterministic number between 0 and 1.
pub fn uniform(i: u64) -> f64 {
    let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    (x ^ x >> 31) as f64 / u64::MAX as f64
}

/// A small pressed part with two walls, so that every motion is held: n points and normals, mm.
pub fn part(n: u64, seed: u64) -> (Vec<Point>, Vec<Vector>) {
    (0..n)
        .map(|i| {
            let k = 7 * (i + seed * 10_000_000);
            let (u, v) = (uniform(k), uniform(k + 1));
            let noise = 0.1 * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5);
            match i % 10 {
                0 => (Point::new(400.0 * u, noise, 120.0 * v), -Vector::y()),
                1 => (Point::new(noise, 300.0 * u, 120.0 * v), -Vector::x()),
                2 => (
                    Point::new(400.0 + noise, 150.0 + 150.0 * u, 60.0 * v),
                    Vector::x(),
                ),
                _ => {
                    let (x, y) = (400.0 * u, 300.0 * v);
                    let z = 20.0 * (x / 90.0).sin() + 12.0 * (y / 70.0).cos();
                    let normal = Vector::new(
                        -20.0 / 90.0 * (x / 90.0).cos(),
                        12.0 / 70.0 * (y / 70.0).sin(),
                        1.0,
                    );
                    (Point::new(x, y, z + noise), normal.normalize())
                }
            }
        })
        .unzip()
}
