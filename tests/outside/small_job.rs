//! A small job whose answer is known: a piece of the sheet is raised by 4 mm, the rest was left alone.

use crate::shop::{Shop, comparison_as_is, part};

/// How far the piece of the sheet is raised, from x 250 to 350 and y 180 to 280, mm.
pub const RAISED_MM: f64 = 4.0;

const SETS_AND_REGIONS: &str = r#"name = "Shell 1"
limit = "1/16 in"

[[set]]
name = "before"
file = "sets/before.ply"
units = "mm"

[[set]]
name = "after"
file = "sets/after.ply"
units = "mm"

[[region]]
name = "left floor"
status = "kept"
box = [[10, 10, -50], [200, 140, 50]]
outside = "up"

[[region]]
name = "right floor"
status = "worked"
box = [[240, 170, -50], [360, 290, 50]]
outside = "up"
"#;

/// Writes it into a folder of the shop, with comparisons of these names.
pub fn write(shop: &Shop, folder: &str, comparisons: &[&str]) {
    let (points, normals) = part(4_000, 1);
    shop.set(&format!("{folder}/sets/before.ply"), &points, Some(&normals));
    let (mut points, normals) = part(4_000, 2);
    for (p, normal) in points.iter_mut().zip(&normals) {
        if normal.z > 0.5 && (250.0..350.0).contains(&p.x) && (180.0..280.0).contains(&p.y) {
            p.z += RAISED_MM;
        }
    }
    shop.set(&format!("{folder}/sets/after.ply"), &points, Some(&normals));
    let mut text = SETS_AND_REGIONS.to_string();
    for name in comparisons {
        text += "\n";
        text += &comparison_as_is(name, "before", "after");
    }
    shop.write(&format!("{folder}/job.toml"), text);
}
