//! The table of the sections: a row a cut, with where on the part it lies.

use cloud::unit::fraction_of_inch;
use record::Record;
use record::found::{PlaneRecord, SectionRecord};

use super::{Cell, Table, key, maybe, more, signed_inches, text, triple, whole};
use crate::words::whence::{PARTS, from_nearest, told};

pub(super) fn sections(record: &Record) -> Table {
    let rows = record.sections.iter();
    Table {
        name: "sections",
        title: "Sections",
        heads: vec![
            key("section", ""),
            key("cut", ""),
            key("where", ""),
            more("along", "mm"),
            more("through x", "mm"),
            more("through y", "mm"),
            more("through z", "mm"),
            more("off", "mm"),
            key("off", "in"),
            key("pm", "mm"),
            key("reference length", "mm"),
            key("measured length", "mm"),
            more("pm of the lengths' difference", "mm"),
            more("grown by the warmth", "mm"),
            key("ends", ""),
        ],
        rows: rows.flat_map(|section| of_section(record, section)).collect(),
    }
}

/// The planes that cut something are numbered, as their pictures are.
fn of_section(record: &Record, section: &SectionRecord) -> Vec<Vec<Cell>> {
    let mut cuts = 0;
    let numbered = |plane: &PlaneRecord| {
        cuts += usize::from(!plane.cuts_nothing);
        let cut = (!plane.cuts_nothing).then_some(cuts);
        row(&section.name, cut, &place(record, plane), plane)
    };
    section.planes.iter().map(numbered).collect()
}

/// `12 along, from H3: 2 rearward, 1 up`: how far along its seam, and where a place of the plane is on the part.
fn place(record: &Record, plane: &PlaneRecord) -> String {
    let places = record.places.iter();
    let named = places.map(|place| (place.name.as_str(), place.reference_at_mm));
    let way = from_nearest(named, plane.through_mm)
        .unwrap_or_else(|| told("the reference's zero", [0.0; 3], plane.through_mm));
    match plane.along_mm {
        Some(along_mm) => format!("{} along, {way}", fraction_of_inch(along_mm, PARTS)),
        None => way,
    }
}

fn row(name: &str, cut: Option<usize>, place: &str, plane: &PlaneRecord) -> Vec<Cell> {
    let nothing = || text("cuts nothing");
    let ends: Vec<&str> = plane.ends.iter().map(|end| end.words.as_str()).collect();
    let mut row = vec![
        text(name),
        cut.map_or_else(nothing, whole),
        text(place),
        maybe(plane.along_mm),
    ];
    row.extend(triple(Some(plane.through_mm)));
    row.extend([
        maybe(plane.off_mm),
        signed_inches(plane.off_mm),
        maybe(plane.pm_mm),
        if plane.cuts_nothing {
            nothing()
        } else {
            maybe(plane.reference_length_mm)
        },
        maybe(plane.measured_length_mm),
        maybe(plane.length_pm_mm),
        maybe(plane.grown_mm),
        text(&ends.join(", ")),
    ]);
    row
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn each_cut_says_where_on_the_part_it_lies() {
        let mut record = made::record();
        let place = |record: &Record, k: usize| sections(record).rows[k][2].text();
        assert_eq!(
            place(&record, 1),
            "1 along, from the reference's zero: 1 rearward"
        );
        let plane = &mut record.sections[0].planes[0];
        (plane.along_mm, plane.through_mm) = (None, [254.0, 0.0, 25.4]);
        assert_eq!(place(&record, 0), "from the reference's zero: 10 rearward, 1 up");
        let table = sections(&record);
        assert!(table.rows.iter().all(|row| row.len() == table.heads.len()));
        let on_paper = table.heads.iter().filter(|head| head.key);
        assert!(on_paper.into_iter().any(|head| head.words == "where"));
    }
}
