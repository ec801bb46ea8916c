//! What the owner says of his job, for the pages and the sealed bag.

use page::About;
use page::pdf::Paper;

use super::file::Faults;
use super::regions::one_of;
use super::section::Section;

/// Checks `[about]`; all of it may be left out.
pub fn about(section: Option<Section<'_, '_>>, job: &str, faults: &mut Faults<'_>) -> About {
    let mut about = About {
        job: job.to_string(),
        ..About::default()
    };
    let Some(mut section) = section else {
        return about;
    };
    let mut text = |key: &'static str| {
        let said = section.text(key, faults).map(|(text, _)| text);
        said.unwrap_or_default()
    };
    about.shop = text("shop");
    about.contact = text("contact");
    about.shell = text("shell");
    about.measured_by = text("measured_by");
    about.instrument = text("instrument");
    about.state = text("state");
    about.day = text("day");
    about.notes = text("notes");
    about.paper = one_of(&mut section, "paper", &Paper::ALL, faults).unwrap_or_default();
    section.end(faults);
    about
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::super::file::parse;
    use super::*;

    fn read(text: &str) -> (About, Option<String>) {
        let mut faults = Faults::new(Path::new("job.toml"), text);
        let table = parse(text, &mut faults);
        let mut top = Section::new("the job file", table.get_ref(), 0..0);
        let about = about(top.table("about", &mut faults), "tub", &mut faults);
        (about, faults.done().err().map(|trouble| trouble.to_string()))
    }

    #[test]
    fn the_paper_is_a4_unless_letter_is_said() {
        for (text, paper) in [
            ("", Paper::A4),
            ("[about]\nshop = \"x\"\n", Paper::A4),
            ("[about]\npaper = \"a4\"\n", Paper::A4),
            ("[about]\npaper = \"letter\"\n", Paper::Letter),
        ] {
            let (about, trouble) = read(text);
            assert_eq!((about.paper, trouble), (paper, None), "{text}");
        }
    }

    #[test]
    fn another_paper_is_told_with_its_line_and_what_it_may_be() {
        let trouble = read("[about]\npaper = \"legal\"\n").1.unwrap();
        assert_eq!(
            trouble,
            "job.toml, line 2: \"legal\" for \"paper\" in [about]; it must be a4, letter"
        );
    }

    /// What is printed is part of what results are made from: another paper makes them anew.
    #[test]
    fn the_paper_is_told_apart_in_what_results_are_made_from() {
        let of = |paper: &str| format!("{:?}", read(&format!("[about]\npaper = \"{paper}\"\n")).0);
        assert_ne!(of("a4"), of("letter"));
    }
}
