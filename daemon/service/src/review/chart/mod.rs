//! Pictures of a course in time, as SVG: what is to be seen is a value ([`Chart`]), [`Chart::svg`] draws it.
//!
//! Nothing here knows of benches or records. The vertical axis has numbers with a unit, the horizontal one local time, with
//! nights shaded. A gap in what is known is a gap in what is drawn. Lines differ in colour and in stroke, and a legend names
//! them; the colours are those of Okabe & Ito 2008 (Color Universal Design), which colour-blind eyes can tell apart.

mod axis;
mod draw;

use bloom_model::time::Time;
use chrono_tz::Tz;
use maud::Markup;

use crate::drawing::Drawing;

/// A colour of Okabe & Ito's palette.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// #000000
    Black,
    /// #E69F00
    Orange,
    /// #56B4E9
    SkyBlue,
    /// #009E73
    Green,
    /// #0072B2
    Blue,
    /// #D55E00
    Vermillion,
    /// #CC79A7
    Purple,
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// Unbroken.
    Solid,
    /// Short dashes, for what is laid over.
    Dashed,
    /// Squares without a line between them: measured by hand.
    Squares,
}

/// A line through values; `None` interrupts it.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its words in the legend.
    pub words: String,
    /// Its colour.
    pub ink: Ink,
    /// How it is drawn.
    pub stroke: Stroke,
    /// Its values, in the order of time.
    pub values: Vec<(Time, Option<f64>)>,
}

/// A band between two values at each time; `None` interrupts it.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Its words in the legend.
    pub words: String,
    /// Its colour, drawn lightly.
    pub ink: Ink,
    /// Lower and upper edge, in the order of time.
    pub edges: Vec<(Time, Option<(f64, f64)>)>,
}

/// A level across the whole chart, dashed, with its words on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Its words.
    pub words: String,
    /// Where.
    pub value: f64,
}

/// An instant across the whole chart, with a drawing above it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// What the plant looks like from then on.
    pub drawing: Drawing,
    /// What happened.
    pub words: String,
    /// When.
    pub time: Time,
}

/// What is to be seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// What it shows, for those who do not see it.
    pub label: String,
    /// The unit of the vertical axis.
    pub unit: &'static str,
    /// The beginning of the horizontal axis.
    pub from: Time,
    /// Its end.
    pub until: Time,
    /// The zone of its clocks.
    pub zone: Tz,
    /// Shaded spans.
    pub nights: Vec<(Time, Time)>,
    /// Values that the vertical axis holds in any case.
    pub holds: Vec<f64>,
    /// Bands, drawn first.
    pub bands: Vec<Band>,
    /// Lines.
    pub lines: Vec<Line>,
    /// Levels.
    pub levels: Vec<Level>,
    /// Instants.
    pub marks: Vec<Mark>,
}

/// Width and height of a chart where it is shown at its natural size, px.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Width.
    pub width: u32,
    /// Height of the plot and its axes; a legend of more than one line comes on top of it.
    pub height: u32,
}

impl Size {
    /// For a screen or a sheet of paper.
    pub const WIDE: Self = Self { width: 900, height: 250 };
    /// For a phone.
    pub const NARROW: Self = Self { width: 380, height: 250 };
    /// For a screen or a sheet of paper, where one picture matters most.
    pub const WIDE_LARGE: Self = Self { width: 900, height: 400 };
    /// The same for a phone.
    pub const NARROW_LARGE: Self = Self { width: 380, height: 360 };
}

impl Chart {
    /// Whether there is anything to be seen.
    pub fn is_empty(&self) -> bool {
        !self.lines.iter().any(|line| line.values.iter().any(|(_, value)| value.is_some()))
            && !self.bands.iter().any(|band| band.edges.iter().any(|(_, edges)| edges.is_some()))
    }

    /// Draws it. The picture has a view box and no size of its own: whoever places it gives the width.
    pub fn svg(&self, size: Size) -> Markup {
        draw::svg(self, size)
    }
}
