//! Odd PLY files, each of which some reader gets wrong in silence.

use std::fs;
use std::path::PathBuf;

use cloud::{Point, Vector};
use proptest::prelude::*;

use super::*;

fn file(bytes: &[u8]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("set.ply");
    fs::write(&path, bytes).unwrap();
    (folder, path)
}

fn read_bytes(bytes: &[u8]) -> Result<RawPoints, FormatError> {
    let (_folder, path) = file(bytes);
    crate::read(&path)
}

const HEAD: &str = "element vertex 2\nproperty float x\nproperty float y\nproperty float z\nend_header\n";

#[test]
fn a_duplicate_property_is_refused() {
    let text = "ply\nformat binary_little_endian 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nproperty float x\nend_header\n";
    let mut bytes = text.as_bytes().to_vec();
    bytes.extend([0; 16]);
    let message = read_bytes(&bytes).unwrap_err().to_string();
    assert!(
        message.contains("line 7: found property \"x\" for the second time"),
        "{message}"
    );
}

#[test]
fn ascii_with_odd_numbers_blank_lines_and_every_line_end() {
    for end in ["\n", "\r\n", "\r"] {
        let text = format!("\u{feff}ply\nformat ascii 1.0\ncomment kept\n{HEAD}.5 1. -1E3\n\n+2 3 4 9\n");
        let raw = read_bytes(text.replace('\n', end).as_bytes()).unwrap();
        assert_eq!(
            raw.points,
            vec![Point::new(0.5, 1.0, -1000.0), Point::new(2.0, 3.0, 4.0)]
        );
        assert_eq!(raw.comments, vec!["comment kept"]);
    }
    let raw = read_bytes(format!("ply\nformat ascii 1.0\n{HEAD}nan 1 2\ninf 3 4\n").as_bytes()).unwrap();
    assert!(raw.points[0].x.is_nan() && raw.points[1].x.is_infinite());
}

#[test]
fn both_binary_orders_and_every_scalar_type_in_any_order() {
    let head = |order: &str| {
        format!(
            "ply\nformat binary_{order}_endian 1.0\nelement vertex 1\nproperty uchar red\nproperty double z\nproperty short x\nproperty uchar green\nproperty float nx\nproperty int y\nproperty float ny\nproperty uchar blue\nproperty float nz\nend_header\n"
        )
    };
    let mut little = head("little").into_bytes();
    little.push(10);
    little.extend(3.25f64.to_le_bytes());
    little.extend((-7i16).to_le_bytes());
    little.push(20);
    little.extend(0f32.to_le_bytes());
    little.extend(70_000i32.to_le_bytes());
    little.extend(0f32.to_le_bytes());
    little.push(30);
    little.extend(1f32.to_le_bytes());
    let mut big = head("big").into_bytes();
    big.push(10);
    big.extend(3.25f64.to_be_bytes());
    big.extend((-7i16).to_be_bytes());
    big.push(20);
    big.extend(0f32.to_be_bytes());
    big.extend(70_000i32.to_be_bytes());
    big.extend(0f32.to_be_bytes());
    big.push(30);
    big.extend(1f32.to_be_bytes());
    for bytes in [little, big] {
        let raw = read_bytes(&bytes).unwrap();
        assert_eq!(raw.points, vec![Point::new(-7.0, 70_000.0, 3.25)]);
        assert_eq!(raw.normals, Some(vec![[0.0, 0.0, 1.0]]));
        assert_eq!(raw.colours, Some(vec![[10, 20, 30]]));
    }
}

#[test]
fn a_list_among_the_vertex_properties_is_read_past() {
    let text = "ply\nformat ascii 1.0\nelement vertex 1\nproperty list uchar int seen_by\nproperty float x\nproperty float y\nproperty float z\nend_header\n2 7 8 1 2 3\n";
    assert_eq!(
        read_bytes(text.as_bytes()).unwrap().points[0],
        Point::new(1.0, 2.0, 3.0)
    );
    let mut bytes = text.replace("ascii", "binary_little_endian").into_bytes();
    bytes.truncate(bytes.len() - 12);
    bytes.push(1);
    bytes.extend(7i32.to_le_bytes());
    for value in [1f32, 2.0, 3.0] {
        bytes.extend(value.to_le_bytes());
    }
    assert_eq!(read_bytes(&bytes).unwrap().points[0], Point::new(1.0, 2.0, 3.0));
}

#[test]
fn elements_before_the_vertices_and_range_grids_after_them() {
    let text = "ply\nformat ascii 1.0\nelement camera 1\nproperty float a.b(c)\nelement vertex 2\nproperty float x\nproperty float y\nproperty float z\nelement range_grid 3\nproperty list uchar int vertex_indices\nend_header\n5\n1 2 3\n4 5 6\n1 0\n0\n1 1\n";
    assert_eq!(read_bytes(text.as_bytes()).unwrap().points.len(), 2);
}

#[test]
fn faces_of_four_corners_become_two_triangles() {
    let text = "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_index\nend_header\n0 0 0\n1 0 0\n1 1 0\n0 1 0\n4 0 1 2 3\n";
    assert_eq!(
        read_bytes(text.as_bytes()).unwrap().faces,
        vec![[0, 1, 2], [0, 2, 3]]
    );
    let bad = text.replace("4 0 1 2 3", "4 0 1 2 9");
    assert!(
        read_bytes(bad.as_bytes())
            .unwrap_err()
            .to_string()
            .contains("corner 9")
    );
}

#[test]
fn damage_is_told_with_its_place() {
    let message = |text: &str| read_bytes(text.as_bytes()).unwrap_err().to_string();
    let ascii = format!("ply\nformat ascii 1.0\n{HEAD}");
    for (text, expected) in [
        (format!("{ascii}1 2 3\n"), "where the header announces 2"),
        (
            format!("{ascii}1 2 3.0000\n4 5\n"),
            "line 9: found a row that ends before \"z\"",
        ),
        (format!("{ascii}1 2 3.00\n4 five 6\n"), "line 9: found \"five\""),
        (ascii.replace("vertex 2", "vertex 0"), "no points in it"),
        (
            ascii.replace("vertex 2", "vertex 1000000000000"),
            "a count of 1000000000000 vertices",
        ),
        (
            ascii.replace("vertex 2", "vertex 99999999999999999999"),
            "as the count of \"vertex\"",
        ),
        (ascii.replace("property float z\n", ""), "no property \"z\""),
        (ascii.replace("end_header\n", ""), "before \"end_header\""),
        (
            ascii.replace("element vertex 2", "element face 2"),
            "no element \"vertex\"",
        ),
        (ascii.replace("float z", "int64 z"), "int64"),
        (
            ascii.replace("format ascii 1.0", "format ascii 2.0"),
            "version 2.0",
        ),
        (
            "ply\nwhat is this\n".to_string(),
            "line 2: found \"what is this\" in the header",
        ),
        (
            "ply\nformat ascii 1.0\nelement vertex 2\nproperty".to_string(),
            "cut short",
        ),
        ("ply\nformat ascii 1.0\nelem".to_string(), "cut short"),
        (
            "\u{89}PNG\r\n".to_string(),
            "where a PLY file begins with \"ply\"",
        ),
    ] {
        let found = message(&text);
        assert!(found.contains(expected), "{text:?}: {found}");
    }
    let huge = "ply\nformat binary_little_endian 1.0\nelement vertex 1000000000000\nproperty float x\nproperty float y\nproperty float z\nend_header\n";
    assert!(message(huge).contains("1000000000000"));
    let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
    png.resize(600, 0);
    assert!(
        read_bytes(&png)
            .unwrap_err()
            .to_string()
            .contains("a PNG picture")
    );
    assert!(read_bytes(b"").unwrap_err().to_string().contains("empty"));
}

#[test]
fn what_is_written_is_read_back() {
    let points = vec![
        Point::new(1.0 / 3.0, 2.0, 3.0),
        Point::new(4.0, 5.0, 6.0),
        Point::new(0.0, 0.0, 1.0),
    ];
    let normals = vec![Vector::x(), Vector::y(), Vector::z()];
    let mut bytes = Vec::new();
    write(
        &mut bytes,
        &points,
        Some(&normals),
        &[
            Scalar::Float("deviation_mm", &[0.5, 1.0, 0.0]),
            Scalar::Byte("state", &[0, 1, 2]),
        ],
        &[[0, 1, 2]],
        &["in millimetres".to_string()],
    )
    .unwrap();
    let raw = read_bytes(&bytes).unwrap();
    assert_eq!(raw.points, points);
    assert_eq!(
        raw.normals,
        Some(vec![[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    );
    assert_eq!(raw.faces, vec![[0, 1, 2]]);
    assert_eq!(raw.comments, vec!["comment in millimetres"]);
}

proptest! {
    #[test]
    fn no_damage_to_a_good_file_makes_it_panic(at in 0usize..400, byte in any::<u8>(), keep in 0usize..600) {
        let mut bytes = Vec::new();
        let points: Vec<Point> = (0..8).map(|i| Point::new(f64::from(i), 1.0, 2.0)).collect();
        write(&mut bytes, &points, None, &[], &[[0, 1, 2], [3, 4, 5]], &[]).unwrap();
        let at = at % bytes.len();
        bytes[at] = byte;
        bytes.truncate(keep.max(1));
        let _ = read_bytes(&bytes);
    }

    #[test]
    fn no_text_after_ply_makes_it_panic(text in "(ply|format ascii 1.0|element vertex [0-9]{1,3}|property (float|list uchar int) [xyz]|end_header|[0-9. -]{1,20}|\n){0,40}") {
        let _ = read_bytes(format!("ply\n{text}").as_bytes());
    }
}
