//! What all of a picture is drawn with: its measures, colours, and texts. Lengths are pixels of the picture's natural size.

use bloom_model::time::Time;
use maud::{Markup, html};

use super::super::{Chart, Ink};

/// The height of a text.
pub(super) const TEXT_PX: f64 = 12.0;
/// Mean width of a letter as a share of the text's height.
const LETTER: f64 = 0.56;
/// Room for the numbers at the left.
pub(super) const LEFT_PX: f64 = 40.0;
/// Room at the right, for the half of a tick's words.
pub(super) const RIGHT_PX: f64 = 20.0;
/// One line of the legend.
pub(super) const LEGEND_PX: f64 = 18.0;

pub(super) const BLACK: &str = "#000000";
pub(super) const NIGHT: &str = "#E3E6EC";
pub(super) const RULE: &str = "#D8D4CC";
pub(super) const PAPER: &str = "#FBF9F4";
pub(super) const GREY: &str = "#555555";
/// How much of its colour a band has.
pub(super) const LIGHT: f64 = 0.35;
/// The strokes and gaps of a dashed line.
pub(super) const DASHES: &str = "4 3";

impl Ink {
    pub(super) const fn colour(self) -> &'static str {
        match self {
            Self::Black => BLACK,
            Self::Orange => "#E69F00",
            Self::SkyBlue => "#56B4E9",
            Self::Green => "#009E73",
            Self::Blue => "#0072B2",
            Self::Vermillion => "#D55E00",
            Self::Purple => "#CC79A7",
        }
    }
}

/// Where a text's own point is along it.
#[derive(Clone, Copy)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// And across it.
#[derive(Clone, Copy)]
pub(super) enum Baseline {
    Above,
    Centre,
    Below,
}

/// A text at a point; `Above` lies over the point, `Below` hangs from it.
pub(super) fn text(
    words: &str,
    (x, y): (f64, f64),
    colour: &str,
    anchor: Anchor,
    baseline: Baseline,
) -> Markup {
    let anchor = match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let down = match baseline {
        Baseline::Above => -0.2 * TEXT_PX,
        Baseline::Centre => 0.35 * TEXT_PX,
        Baseline::Below => 0.85 * TEXT_PX,
    };
    html! {
        text x=(px(x)) y=(px(y + down)) fill=(colour) font-size=(TEXT_PX) text-anchor=(anchor) { (words) }
    }
}

/// About how long a text will be.
pub(super) fn length_of(words: &str) -> f64 {
    words.chars().count() as f64 * TEXT_PX * LETTER
}

/// A length, to the tenth of a pixel.
pub(super) fn px(length: f64) -> String {
    let tenths = format!("{length:.1}");
    tenths.strip_suffix(".0").map_or_else(|| tenths.clone(), str::to_owned)
}

/// The points of a line, as SVG lists them.
pub(super) fn points(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut list = String::new();
    for (x, y) in points {
        if !list.is_empty() {
            list.push(' ');
        }
        list.push_str(&px(x));
        list.push(',');
        list.push_str(&px(y));
    }
    list
}

/// Hours from the left end of a chart.
pub(super) fn hours(chart: &Chart, time: Time) -> f64 {
    time.hours_since(chart.from)
}

/// The outline of a square around a point.
pub(super) fn square((x, y): (f64, f64), ink: Ink) -> Markup {
    html! {
        rect x=(px(x - 4.0)) y=(px(y - 4.0)) width="8" height="8" fill="none" stroke=(ink.colour()) stroke-width="1.5" {}
    }
}
