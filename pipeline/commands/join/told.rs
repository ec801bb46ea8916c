//! Why takes could not be joined, in words that name the files and say what to do.

use std::fmt::Display;

use ::register::takes::{NoLink, NotJoined};
use cloud::Warning;

use crate::cli::Join;
use crate::stages::gates::unit::ASKED;
use crate::trouble::Trouble;

/// Why the takes could not be joined. Where something speaks against a unit, that is asked first: the rest follows from it.
pub fn not_joined(asked: &Join, why: &NotJoined, warnings: &[Warning]) -> Trouble {
    let words = words(asked, why);
    let doubt = warnings
        .iter()
        .find(|w| w.code == "unit-ratio" || w.code == "unit-doubtful");
    match doubt {
        Some(doubt) => Trouble::new(format!("{ASKED} {}. As it was read: {words}", doubt.words)),
        None => Trouble::new(words),
    }
}

fn words(asked: &Join, why: &NotJoined) -> String {
    let name = |take: usize| {
        let path = asked.takes.get(take);
        path.map_or_else(String::new, |path| path.display().to_string())
    };
    match why {
        NotJoined::TooFew(found) => format!("join: found {found} take; give at least two"),
        NotJoined::HangOnNothing { loose } => {
            let each: Vec<String> = loose
                .iter()
                .map(|one| {
                    let words = one.why.words(one.on, name);
                    format!("{}: {words}: {}", name(one.take), advice(&one.why, asked))
                })
                .collect();
            each.join("\n")
        }
        NotJoined::PointsDisagree {
            reference,
            measured,
            why,
        } => of_points(asked, &name(*measured), &name(*reference), why),
        NotJoined::PointsDoubtful {
            reference,
            measured,
            why,
        } => of_points(asked, &name(*measured), &name(*reference), why),
    }
}

/// What is said of the points of two takes, with their table.
fn of_points(asked: &Join, measured: &str, reference: &str, why: &impl Display) -> String {
    let table = asked.points.as_ref();
    let table = table.map_or_else(String::new, |path| path.display().to_string());
    format!("{table}: {measured} on {reference}: {why}")
}

/// What to do about it.
fn advice(why: &NoLink, asked: &Join) -> &'static str {
    match why {
        NoLink::TooLittle { .. } if asked.as_placed => {
            "let each take see half of the one before, name points in both (--points), or leave out --as-placed where the takes don't lie in one frame"
        }
        NoLink::TooLittle { .. } => {
            "let each take see half of the one before, name points in both (--points), or lay the takes roughly in one frame and give --as-placed"
        }
        NoLink::Slides { .. } => {
            "let both see an edge that lies across, or a swage, or name points in both (--points)"
        }
        NoLink::EitherWay { .. } => {
            "name points in both (--points), or lay the takes roughly in one frame and give --as-placed"
        }
        NoLink::LittleRelief { .. } => {
            "let both see an edge, a swage or holes, or name points in both (--points); if it may be of the other hand, look at the two files"
        }
        NoLink::Mirrored { .. } => "is it of the other hand, or are two axes swapped in one of the files?",
        NoLink::NotAlike { .. } => {
            "is it a take of the same thing, in the same unit? If it is, name points in both (--points)"
        }
        NoLink::Rough { .. } => {
            "did it move while it was taken, or was it changed between the takes? Take it again"
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::*;
    use ::register::takes::{Loose, PointsDoubt};

    fn asked() -> Join {
        Join {
            takes: ["hA.ply", "hM.ply", "hC.ply"].map(PathBuf::from).to_vec(),
            units: None,
            as_placed: false,
            points: Some("p.csv".into()),
            out: "joined.ply".into(),
        }
    }

    #[test]
    fn the_true_reason_is_told_with_the_files_and_what_to_do() {
        let slides = NoLink::Slides {
            overlap: 0.62,
            ways: vec!["fore and aft".to_string()],
            by_axes_of: 1,
            turned_deg: Some(180.0),
        };
        let either = NoLink::EitherWay {
            overlap: 0.5,
            turned_deg: 90.0,
        };
        let loose = vec![
            Loose {
                take: 0,
                on: 1,
                why: slides,
            },
            Loose {
                take: 2,
                on: 1,
                why: either,
            },
        ];
        let why = NotJoined::HangOnNothing { loose };
        assert_eq!(
            not_joined(&asked(), &why, &[]).to_string(),
            "hA.ply: has up to 62 % in common with hM.ply, but slides on it fore and aft (by the axes of hM.ply), and could as well lie turned by 180°: let both see an edge that lies across, or a swage, or name points in both (--points)\n\
             hC.ply: has 50 % in common with hM.ply, but could lie two ways round on it: turned by 90° it fits as well: name points in both (--points), or lay the takes roughly in one frame and give --as-placed"
        );
        let doubt = Warning::new("unit-ratio", "hC.ply is large");
        let told = not_joined(&asked(), &why, &[doubt]).to_string();
        assert!(
            told.starts_with("is the unit right? hC.ply is large. As it was read: hA.ply: has up to 62 %"),
            "{told}"
        );
    }

    #[test]
    fn points_that_disagree_are_told_with_their_table() {
        let why = NotJoined::PointsDisagree {
            reference: 0,
            measured: 2,
            why: ::register::RegisterError::NotFinite,
        };
        let told = not_joined(&asked(), &why, &[]).to_string();
        assert!(
            told.starts_with("p.csv: hC.ply on hA.ply: a coordinate"),
            "{told}"
        );
        let why = NotJoined::PointsDoubtful {
            reference: 0,
            measured: 1,
            why: PointsDoubt::Wide {
                pm_mm: 4.0,
                ways: "fore and aft".to_string(),
            },
        };
        let told = not_joined(&asked(), &why, &[]).to_string();
        assert!(
            told.starts_with("p.csv: hM.ply on hA.ply: can't be laid without doubt: only three named points"),
            "{told}"
        );
    }
}
