//! A bar's answers in the shop's words.

use cloud::unit::fraction_of_inch;

use super::stations::Axes;
use super::{Bow, CANT_TELL_MM, End, StraightEdge, Twist};

/// Under this a length in 32nds rounds to nothing, mm.
const NOTHING_MM: f64 = 25.4 / 64.0;

/// Bow, ends, twist, straight edge, in this order.
pub(super) fn in_words(
    axes: &Axes,
    bows: &[Option<Bow>; 2],
    ends: Option<&[End; 2]>,
    twist: Option<&Twist>,
    straight_edge: Option<&StraightEdge>,
) -> Vec<String> {
    let mut words = Vec::new();
    for d in [1, 0] {
        let plane = axes.plane_name(d);
        match &bows[d] {
            None => words.push(format!(
                "{plane}: can't tell, no face that shows it was seen to both ends"
            )),
            Some(bow) if bow.pm_mm > CANT_TELL_MM => words.push(format!(
                "{plane}: can't tell, ± {}",
                fraction_of_inch(bow.pm_mm, 32)
            )),
            Some(bow) if bow.mm.abs() >= NOTHING_MM.max(bow.pm_mm) => words.push(format!(
                "bow {} {} at {} from its {}",
                fraction_of_inch(bow.mm, 32),
                axes.way_name(d, bow.mm > 0.0),
                fraction_of_inch(bow.at_mm, 2),
                axes.end_names()[0]
            )),
            Some(_) => {}
        }
    }
    if words.is_empty() {
        words.push("straight".to_string());
    }
    words.push(match ends {
        None => "ends: can't tell".to_string(),
        Some(ends) if ends.iter().all(|e| e.words == "home") => "ends home".to_string(),
        Some([first, last]) => {
            format!("{} {}, {} {}", first.name, first.words, last.name, last.words)
        }
    });
    words.push(match twist {
        None => "twist: can't tell".to_string(),
        Some(t) if (t.pm_deg.to_radians() * axes.width_mm) > CANT_TELL_MM => {
            format!("twist: can't tell, ± {:.1}°", t.pm_deg)
        }
        Some(t) if t.over_width_mm.abs() < NOTHING_MM || t.deg.abs() <= t.pm_deg => "out of wind".to_string(),
        Some(t) => format!("twisted {:.1}°", t.deg.abs()),
    });
    words.extend(straight_edge.map(|edge| straight_edge_words(axes, edge)));
    words
}

fn straight_edge_words(axes: &Axes, edge: &StraightEdge) -> String {
    let own = fraction_of_inch(edge.reference_mm, 32);
    let mut words = if edge.pm_mm > CANT_TELL_MM {
        return format!(
            "straight edge: can't tell, ± {}",
            fraction_of_inch(edge.pm_mm, 32)
        );
    } else if edge.mm < NOTHING_MM.max(edge.pm_mm) {
        "straight edge shows nothing".to_string()
    } else {
        format!(
            "straight edge shows {} from {}",
            fraction_of_inch(edge.mm, 32),
            axes.side_name(edge.from_above)
        )
    };
    if own != "0" {
        words.push_str(&format!(", the reference's own is {own}"));
    }
    words
}
