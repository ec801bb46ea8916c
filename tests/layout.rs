//! The rules of the house that a test can hold.

use std::fs;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

fn all_rust_files() -> Vec<PathBuf> {
    let mut found = Vec::new();
    for folder in ["pipeline", "crates", "tests"] {
        rust_files(&root().join(folder), &mut found);
    }
    found.sort();
    found
}

#[test]
fn every_file_opens_with_one_sentence_about_itself() {
    for path in all_rust_files() {
        let text = fs::read_to_string(&path).unwrap();
        let first = text.lines().next().unwrap_or_default();
        assert!(
            first.starts_with("//! ") && first.len() > 12,
            "{}: {first}",
            path.display()
        );
    }
}

#[test]
fn no_file_outgrows_one_idea() {
    for path in all_rust_files() {
        let lines = fs::read_to_string(&path).unwrap().lines().count();
        assert!(lines <= 420, "{}: {lines} lines", path.display());
    }
    let main = fs::read_to_string(root().join("pipeline/main.rs")).unwrap();
    assert!(main.lines().count() < 80);
}

/// What each crate may use of ours: the arrows point one way.
#[test]
fn crates_use_only_what_they_may() {
    let may: [(&str, &[&str]); 10] = [
        ("cloud", &[]),
        ("formats", &["cloud"]),
        ("register", &["cloud"]),
        ("compare", &["cloud"]),
        ("features", &["cloud", "compare"]),
        ("draw", &["cloud", "compare"]),
        ("demo", &["cloud", "formats"]),
        ("archive", &[]),
        ("record", &[]),
        ("page", &["cloud", "draw", "record"]),
    ];
    let ours: Vec<&str> = may.iter().map(|m| m.0).collect();
    let mut folders: Vec<String> = fs::read_dir(root().join("crates"))
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    folders.sort();
    let mut known: Vec<&str> = ours.clone();
    known.sort_unstable();
    assert_eq!(folders, known, "a new crate is told here what it may use");
    for (name, allowed) in may {
        let text = fs::read_to_string(root().join("crates").join(name).join("Cargo.toml")).unwrap();
        let manifest: toml::Table = text.parse().unwrap();
        for dependency in manifest["dependencies"].as_table().unwrap().keys() {
            let fine = !ours.contains(&dependency.as_str()) || allowed.contains(&dependency.as_str());
            assert!(fine, "{name} must not use {dependency}");
        }
    }
}

/// Each outside library has one door.
#[test]
fn outside_libraries_have_one_door() {
    let doors = [
        ("kiddo", vec!["crates/cloud/src/near.rs"]),
        ("parry3d", vec!["crates/compare/src/exact.rs"]),
        ("indicatif", vec!["pipeline/progress.rs"]),
        ("jiff", vec!["pipeline/clock.rs"]),
        ("sha2", vec!["crates/archive/src/fingerprint.rs"]),
        ("rust_xlsxwriter", vec!["crates/page/src/xlsx.rs"]),
        ("rustix", vec!["pipeline/put_in_place.rs"]),
        ("tiny_skia", vec!["crates/draw/src/canvas.rs"]),
        (
            "ab_glyph",
            vec!["crates/draw/src/canvas.rs", "crates/page/src/pdf/face.rs"],
        ),
        ("krilla", vec!["crates/page/src/pdf/ink.rs"]),
        (
            "flate2",
            vec![
                "crates/archive/src/packed/mod.rs",
                "crates/page/src/view/packed.rs",
            ],
        ),
    ];
    for path in all_rust_files() {
        let name = path
            .strip_prefix(root())
            .unwrap()
            .to_string_lossy()
            .replace('\\', "/");
        if name.starts_with("tests/") || name.contains("/benches/") {
            continue;
        }
        let text = fs::read_to_string(&path).unwrap();
        for (library, allowed) in &doors {
            let used = text.contains(&format!("use {library}::")) || text.contains(&format!(" {library}::"));
            assert!(!used || allowed.contains(&name.as_str()), "{name} uses {library}");
        }
    }
}

/// Every command and every key of a job file stands in the README.
#[test]
fn the_readme_knows_every_command_and_key() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let help = std::process::Command::new(env!("CARGO_BIN_EXE_witnessmark"))
        .arg("--help")
        .output()
        .unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    let commands = help
        .lines()
        .skip_while(|l| !l.starts_with("Commands:"))
        .skip(1)
        .take_while(|l| l.starts_with("  "))
        .filter_map(|l| l.split_whitespace().next())
        .filter(|c| *c != "help");
    for command in commands {
        assert!(readme.contains(&format!("`witnessmark {command}")), "{command}");
    }
    let mut files = Vec::new();
    rust_files(&root().join("pipeline/job"), &mut files);
    let check: String = files.iter().map(|f| fs::read_to_string(f).unwrap()).collect();
    for part in check.split("\", &mut faults)").chain(check.split("\", faults)")) {
        if let Some(key) = part.rsplit("(\"").next()
            && key.len() < 24
            && key.chars().all(|c| c.is_ascii_lowercase() || c == '_')
        {
            assert!(
                ["`{}`", "`[{}]`", "`[[{}]]`"]
                    .iter()
                    .any(|written| readme.contains(&written.replace("{}", key))),
                "the key {key} is not in the README"
            );
        }
    }
}
