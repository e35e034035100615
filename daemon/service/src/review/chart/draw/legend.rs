//! The legend of a picture.

use plotters::element::DashedPathElement;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::super::{Chart, ChartError, Ink, Stroke};
use super::pen::{Area, FINE, LEFT_PX, LEGEND_PX, LETTER, NIGHT, TEXT_PX, fault, fine, square, text};

/// A sample of each band and line with its words, in as many lines as it takes.
pub(super) struct Legend {
    entries: Vec<(u32, u32, String, Sample)>,
    pub(super) lines: u32,
}

#[derive(Clone, Copy)]
enum Sample {
    Band(Ink),
    Line(Ink, Stroke),
    Night,
}

impl Legend {
    const SAMPLE_PX: u32 = 22;

    pub(super) fn lay_out(chart: &Chart, width: u32) -> Self {
        let lines = chart.lines.iter().map(|line| (line.words.clone(), Sample::Line(line.ink, line.stroke)));
        let bands = chart.bands.iter().map(|band| (band.words.clone(), Sample::Band(band.ink)));
        let night = (!chart.nights.is_empty()).then(|| ("night".to_owned(), Sample::Night));
        let mut entries = Vec::new();
        let (mut x, mut line) = (LEFT_PX, 0);
        for (words, sample) in lines.chain(bands).chain(night) {
            let needs = Self::SAMPLE_PX + 6 + (words.chars().count() as f64 * TEXT_PX * LETTER) as u32 + 20;
            if x + needs > width && x > LEFT_PX {
                (x, line) = (LEFT_PX, line + 1);
            }
            entries.push((x, line * LEGEND_PX, words, sample));
            x += needs;
        }
        Self { entries, lines: line + 1 }
    }

    pub(super) fn draw(&self, root: &Area<'_>) -> Result<(), ChartError> {
        for (x, y, words, sample) in &self.entries {
            let (left, right, middle) = (fine(*x), fine(x + Self::SAMPLE_PX), fine(y + LEGEND_PX / 2));
            let swatch = [(left, middle - fine(5)), (right, middle + fine(5))];
            match sample {
                Sample::Band(ink) => root.draw(&Rectangle::new(swatch, ink.colour().mix(0.35).filled())),
                Sample::Night => root.draw(&Rectangle::new(swatch, NIGHT.filled())),
                Sample::Line(ink, stroke) => {
                    let style = ink.colour().stroke_width(2 * FINE);
                    let ends = [(left, middle), (right, middle)];
                    match stroke {
                        Stroke::Solid => root.draw(&PathElement::new(ends, style)),
                        Stroke::Dashed => root.draw(&DashedPathElement::new(ends, fine(4), fine(3), style)),
                        Stroke::Squares => root.draw(&square(((left + right) / 2, middle), *ink)),
                    }
                }
            }
            .map_err(fault)?;
            let style = text(TEXT_PX, &BLACK, HPos::Left, VPos::Center);
            root.draw(&Text::new(words.clone(), (right + fine(6), middle), style)).map_err(fault)?;
        }
        Ok(())
    }
}
