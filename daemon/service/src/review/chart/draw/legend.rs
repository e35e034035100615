//! The legend of a picture.

use maud::{Markup, html};

use super::super::{Chart, Ink, Stroke};
use super::pen::{
    Anchor, BLACK, Baseline, DASHES, LEFT_PX, LEGEND_PX, LIGHT, NIGHT, length_of, px, square, text,
};

/// A sample of each band and line with its words, in as many lines as it takes.
pub(super) struct Legend {
    entries: Vec<Entry>,
    pub(super) lines: u32,
}

struct Entry {
    x: f64,
    /// The middle of its line.
    y: f64,
    words: String,
    sample: Sample,
}

#[derive(Clone, Copy)]
enum Sample {
    Band(Ink),
    Line(Ink, Stroke),
    Night,
}

impl Legend {
    const SAMPLE_PX: f64 = 22.0;

    pub(super) fn lay_out(chart: &Chart, width: u32) -> Self {
        let lines = chart.lines.iter().map(|line| (line.words.clone(), Sample::Line(line.ink, line.stroke)));
        let bands = chart.bands.iter().map(|band| (band.words.clone(), Sample::Band(band.ink)));
        let night = (!chart.nights.is_empty()).then(|| ("night".to_owned(), Sample::Night));
        let mut entries = Vec::new();
        let (mut x, mut line) = (LEFT_PX, 0);
        for (words, sample) in lines.chain(bands).chain(night) {
            let needs = Self::SAMPLE_PX + 6.0 + length_of(&words) + 20.0;
            if x + needs > f64::from(width) && x > LEFT_PX {
                (x, line) = (LEFT_PX, line + 1);
            }
            let y = (f64::from(line) + 0.5) * LEGEND_PX;
            entries.push(Entry { x, y, words, sample });
            x += needs;
        }
        Self { entries, lines: line + 1 }
    }

    pub(super) fn drawn(&self) -> Markup {
        html! { @for entry in &self.entries { (entry.drawn()) } }
    }
}

impl Entry {
    fn drawn(&self) -> Markup {
        let (left, right, middle) = (self.x, self.x + Legend::SAMPLE_PX, self.y);
        let swatch = |colour: &str, opacity: f64| {
            html! {
                rect x=(px(left)) y=(px(middle - 5.0)) width=(Legend::SAMPLE_PX) height="10" fill=(colour) fill-opacity=(opacity) {}
            }
        };
        let stroke = |ink: Ink, dashes: Option<&str>| {
            html! {
                line x1=(px(left)) y1=(px(middle)) x2=(px(right)) y2=(px(middle)) stroke=(ink.colour()) stroke-width="2"
                    stroke-dasharray=[dashes] {}
            }
        };
        html! {
            @match self.sample {
                Sample::Band(ink) => (swatch(ink.colour(), LIGHT)),
                Sample::Night => (swatch(NIGHT, 1.0)),
                Sample::Line(ink, Stroke::Solid) => (stroke(ink, None)),
                Sample::Line(ink, Stroke::Dashed) => (stroke(ink, Some(DASHES))),
                Sample::Line(ink, Stroke::Squares) => (square(((left + right) / 2.0, middle), ink)),
            }
            (text(&self.words, (right + 6.0, middle), BLACK, Anchor::Start, Baseline::Centre))
        }
    }
}
