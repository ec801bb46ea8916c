//! What a page must hold, what it must not, and that it is the same twice.

use super::*;
use crate::given::{CAUTIONS, Given, GivenJob, GivenTrips, Picture, standings};
use crate::made;
use crate::pdf::Paper;
use crate::words;

fn pictures() -> Vec<Picture> {
    vec![
        made::picture("heat-plan.png", "seen <from> above & \"near\""),
        made::picture("section-across.png", "cut across"),
    ]
}

fn view() -> View {
    View {
        points: vec![0, 1, 2, 250],
        data_json: r#"{"name":"</script><b>"}"#.to_string(),
    }
}

fn page(with_view: bool) -> String {
    let (about, record, pictures) = (made::about(), made::record(), pictures());
    let given = Given {
        about: &about,
        record: &record,
        pictures: &pictures,
    };
    comparison(&given, with_view.then(view).as_ref()).unwrap()
}

fn job_page() -> String {
    let (about, record, pictures) = (made::about(), made::record(), pictures());
    let given = Given {
        about: &about,
        record: &record,
        pictures: &pictures,
    };
    let [day, other] = ["2026-03-01", "2026-03-02"].map(String::from);
    job(&GivenJob {
        about: &about,
        comparisons: &[given],
        standings: &[],
        refused: &[("boot & <side>".to_string(), "no file".to_string())],
        trips: Some(GivenTrips {
            lines: &["H1 moved 1/16 since trip 3".to_string()],
            pictures: &pictures[..1],
            leaves: &[],
        }),
        files: &[("job.toml".to_string(), 1234, "dd44".to_string())],
        log: &[
            (day.clone(), "compare".to_string(), "floor".to_string()),
            (day, "seal".to_string(), "first".to_string()),
            (other, "seal".to_string(), "second".to_string()),
        ],
    })
    .unwrap()
}

/// The page without what is no text: style, scripts, the policy.
fn read(page: &str) -> String {
    let mut rest = page.to_string();
    for (open, close) in [("<style", "</style>"), ("<script", "</script>"), ("<meta", ">")] {
        while let Some(from) = rest.find(open) {
            let to = rest[from..].find(close).unwrap();
            rest.replace_range(from..from + to + close.len(), "");
        }
    }
    rest
}

#[test]
fn a_page_holds_what_a_stranger_needs() {
    let page = page(true);
    for part in [
        "<html lang=\"en\">",
        "default-src 'none'",
        "<strong>OUT</strong>",
        "does not agree with as &#34;found&#34; within",
        "To do, for the shop",
        "To do, for the supplier or toolmaker",
        "href=\"#picture-1\"",
        "id=\"picture-2\"",
        "data-fly=\"regions/right &#60;floor&#62;\"",
        "<section id=\"view3d\"",
        "AAEC+g==",
        "No re-seated repeat was given",
        "half the width of the band",
        "bb22",
        "SHA-256 of all settings",
        "not given",
        "Rust &#38; Sons",
    ] {
        assert!(page.contains(part), "{part}");
    }
    for caution in CAUTIONS {
        let start = caution.split('\'').next().unwrap();
        assert!(page.contains(start), "{start}");
    }
}

#[test]
fn names_are_made_harmless_and_json_stays_in_its_script() {
    let page = page(true);
    let text = read(&page);
    for raw in ["<floor>", "<tub>", "<from>", "<7>", "\"found\"", "<1>", "& Sons"] {
        assert!(!text.contains(raw), "{raw}");
    }
    assert!(page.contains("\\u003c/script\\u003e"));
    // Every script that is opened is closed, and none more.
    assert_eq!(page.matches("<script").count(), page.matches("</script>").count());
}

#[test]
fn a_page_fetches_nothing() {
    for page in [page(true), page(false), job_page()] {
        let text = read(&page);
        for word in ["http:", "https:", "url(", "@import", "srcset"] {
            assert!(!text.contains(word), "{word}");
        }
        for part in text.split("href=\"").skip(1).chain(text.split("src=\"").skip(1)) {
            let ok = ["#", "data:", "../results/"]
                .iter()
                .any(|start| part.starts_with(start));
            assert!(ok, "{}", part.chars().take(60).collect::<String>());
        }
        assert!(!include_str!("../../templates/page.css").contains("url("));
    }
}

#[test]
fn no_page_says_more_than_positions() {
    for page in [page(true), job_page()] {
        let text = read(&page).to_lowercase();
        for word in ["certified", "approved", "safe", "roadworthy", " pass"] {
            assert!(!text.contains(word), "{word}");
        }
    }
}

#[test]
fn headings_come_in_order_and_names_in_the_page_are_there_once() {
    for page in [page(true), job_page()] {
        let text = read(&page);
        let levels: Vec<u32> = text
            .match_indices("<h")
            .filter_map(|(at, _)| text[at + 2..].chars().next()?.to_digit(10))
            .collect();
        assert_eq!(levels[0], 1);
        assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1);
        assert!(levels.windows(2).all(|pair| pair[1] <= pair[0] + 1), "{levels:?}");
        let mut names: Vec<&str> = text
            .split(" id=\"")
            .skip(1)
            .filter_map(|part| part.split('"').next())
            .collect();
        let all = names.len();
        for link in text.split("href=\"#").skip(1) {
            let name = link.split('"').next().unwrap();
            assert!(names.contains(&name), "{name}");
        }
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), all);
    }
}

#[test]
fn without_a_view_nothing_of_it_is_left() {
    let page = page(false);
    for part in ["view3d", "data-fly=", "view-points", "href=\"#view\""] {
        assert!(!read(&page).contains(part), "{part}");
    }
}

#[test]
fn a_job_leads_to_its_comparisons() {
    let page = job_page();
    for part in [
        "href=\"../results/floor%20%3C1%3E%20%26%20%22sills%22/page.html\"",
        "1 comparison: 1 OUT; 1 could not be done",
        "right &#60;floor&#62;: take 3/16 of shim out at front inner",
        "boot &#38; &#60;side&#62;",
        "H1 moved 1/16 since trip 3",
        "dd44",
        "1.2 kB",
    ] {
        assert!(page.contains(part), "{part}");
    }
    assert_eq!(page.matches("<h3>2026-03-01</h3>").count(), 1);
    assert!(page.contains("lead into the job's folder and work only while this page lies in it"));
    assert!(page.contains("data-head=\"first to do\""));
}

#[test]
fn what_counts_now_comes_first_and_what_it_replaced_stands_apart() {
    let (about, pictures) = (made::about(), pictures());
    let mut records = [made::record(), made::record()];
    for (record, (name, set)) in records
        .iter_mut()
        .zip([("welded", "set 1"), ("dressed", "set 2")])
    {
        record.comparison = name.to_string();
        record.measured.name = set.to_string();
    }
    let comparisons: Vec<Given<'_>> = records
        .iter()
        .map(|record| Given {
            about: &about,
            record,
            pictures: &pictures,
        })
        .collect();
    let days = ["2026-03-02", "2026-03-01"].map(|day| Some(day.to_string()));
    let page = job(&GivenJob {
        about: &about,
        comparisons: &comparisons,
        standings: &standings(&comparisons, &days),
        refused: &[],
        trips: None,
        files: &[],
        log: &[],
    })
    .unwrap();
    assert!(page.contains("1 comparison counts now: 1 OUT; 1 is earlier"));
    let (now, earlier) = page.split_once("<h2 id=\"earlier\">").unwrap();
    assert!(now.contains(">welded</a>") && !now.contains(">dressed</a>"));
    assert!(earlier.contains(">dressed</a>") && !earlier.contains(">welded</a>"));
    assert!(earlier.contains("replaced by welded, measured 2026-03-02"));
    assert!(earlier.contains("<details class=\"earlier\">"));
    assert!(!job_page().contains("id=\"earlier\""));
}

#[test]
fn the_paper_that_was_chosen_is_the_size_of_every_printed_sheet() {
    let (record, mut about) = (made::record(), made::about());
    for paper in [Paper::A4, Paper::Letter] {
        about.paper = paper;
        let given = Given {
            about: &about,
            record: &record,
            pictures: &[],
        };
        let page = comparison(&given, None).unwrap();
        assert_eq!(page.matches("@page { size: ").count(), 1);
        assert!(page.contains(&format!("@page {{ size: {}; @top-left", paper.word())));
    }
    assert!(!include_str!("../../templates/page.css").contains("size: auto"));
}

#[test]
fn every_word_of_a_verdict_stands_among_the_words_of_the_page() {
    let page = page(false);
    let glossary = page.split_once("<h2 id=\"words\">").unwrap().1;
    for word in words::WORST_FIRST.iter().chain(&[record::verdict::CANT_TELL]) {
        let word = word.replace('\'', "&#39;");
        assert!(glossary.contains(&format!("<dt>{word}</dt>")), "{word}");
    }
}

#[test]
fn only_the_picture_of_a_region_that_is_in_is_printed_small() {
    let (about, record) = (made::about(), made::record());
    let pictures = [
        made::picture("heat-plan.png", "boot floor: in, all of it"),
        made::picture("heat-region-right.png", "right <floor>: OUT, 3/16 high"),
        made::picture("heat-region-boot-floor.png", "boot floor: in, home. floor"),
    ];
    let given = Given {
        about: &about,
        record: &record,
        pictures: &pictures,
    };
    let page = comparison(&given, None).unwrap();
    assert_eq!(page.matches("class=\"is-in\"").count(), 1);
    assert!(page.contains("<figure id=\"picture-3\" class=\"is-in\">"));
}

#[test]
fn the_page_keeps_room_for_every_list_of_the_view() {
    let (about, record) = (made::about(), made::record());
    let given = Given {
        about: &about,
        record: &record,
        pictures: &[],
    };
    let view = View {
        data_json: r#"{"marks":[{"kind":"hole"},{"kind":"pad"},{"kind":"hole"}]}"#.to_string(),
        ..view()
    };
    assert!(
        comparison(&given, Some(&view))
            .unwrap()
            .contains("style=\"--lists: 2\"")
    );
}

#[test]
fn the_same_twice() {
    assert_eq!(page(true), page(true));
    assert_eq!(job_page(), job_page());
}

#[test]
fn a_picture_that_is_none_is_refused() {
    let (about, record) = (made::about(), made::record());
    let pictures = [Picture {
        png: b"GIF89a".to_vec(),
        ..made::picture("heat-plan.png", "plan")
    }];
    let given = Given {
        about: &about,
        record: &record,
        pictures: &pictures,
    };
    let trouble = comparison(&given, None).unwrap_err();
    assert!(trouble.0.starts_with("heat-plan.png"), "{trouble}");
}
