//! What all of a picture is drawn with: its measures, colours, and texts.

use std::fmt::Display;

use bloom_model::time::Time;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::super::{Chart, ChartError, Ink};

/// `plotters` works in whole pixels; so many of them make one of the picture's.
pub(super) const FINE: u32 = 3;
/// Text, px.
pub(super) const TEXT_PX: f64 = 12.0;
/// Mean width of a letter as a share of the text's height.
pub(super) const LETTER: f64 = 0.56;
/// Room for the numbers at the left, px.
pub(super) const LEFT_PX: u32 = 40;
/// Room at the right, for the half of a tick's words, px.
pub(super) const RIGHT_PX: u32 = 20;
/// One line of the legend, px.
pub(super) const LEGEND_PX: u32 = 18;

pub(super) const NIGHT: RGBColor = RGBColor(0xE3, 0xE6, 0xEC);
pub(super) const RULE: RGBColor = RGBColor(0xD8, 0xD4, 0xCC);
pub(super) const PAPER: RGBColor = RGBColor(0xFB, 0xF9, 0xF4);
pub(super) const GREY: RGBColor = RGBColor(0x55, 0x55, 0x55);

pub(super) type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

impl Ink {
    pub(super) const fn colour(self) -> RGBColor {
        match self {
            Self::Black => RGBColor(0, 0, 0),
            Self::Orange => RGBColor(0xE6, 0x9F, 0x00),
            Self::SkyBlue => RGBColor(0x56, 0xB4, 0xE9),
            Self::Green => RGBColor(0x00, 0x9E, 0x73),
            Self::Blue => RGBColor(0x00, 0x72, 0xB2),
            Self::Vermillion => RGBColor(0xD5, 0x5E, 0x00),
            Self::Purple => RGBColor(0xCC, 0x79, 0xA7),
        }
    }
}

pub(super) fn fault(error: impl Display) -> ChartError {
    ChartError(error.to_string())
}

pub(super) fn fine(px: u32) -> i32 {
    (px * FINE) as i32
}

pub(super) fn text(px: f64, colour: &RGBColor, horizontal: HPos, vertical: VPos) -> TextStyle<'static> {
    // `plotters` writes sizes divided by 1.24
    ("sans-serif", px * f64::from(FINE) * 1.24).into_font().color(colour).pos(Pos::new(horizontal, vertical))
}

/// Hours from the left end of a chart.
pub(super) fn hours(chart: &Chart, time: Time) -> f64 {
    time.hours_since(chart.from)
}

/// The outline of a square.
pub(super) fn square((x, y): (i32, i32), ink: Ink) -> PathElement<(i32, i32)> {
    let half = fine(4);
    let corners = [(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)];
    PathElement::new(
        corners.map(|(across, down)| (x + across, y + down)),
        ink.colour().stroke_width(FINE * 3 / 2),
    )
}
