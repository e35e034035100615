//! What really happened: written when the season is drawn, for scoring and for truth files.

use bloom_model::event::Window;
use bloom_model::time::Time;
use serde::{Deserialize, Serialize};

use crate::rim::OpeningShape;

/// What becomes of a bud.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// It opens.
    Opens,
    /// It stops growing and never opens.
    Stops,
    /// It was a leaf.
    Leaf,
}

/// An advance of the rim that came back by itself.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Passing {
    /// From its first movement until it is back.
    #[serde(flatten)]
    pub window: Window,
    /// How far it went, m.
    pub advance_m: f64,
}

/// A side ranger that no longer sees the plant.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SideLost {
    /// Since when.
    pub time: Time,
    /// How much further away than the closed edge the wall stands, or nearer the barrier, m.
    pub apart_m: f64,
}

/// A ranger that no longer hangs where it hung.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Knock {
    /// When.
    pub time: Time,
    /// `tip-range` or `rim-range`.
    pub quantity: &'static str,
    /// Change of the distance to everything it looks at, m; positive is further away.
    pub step_m: f64,
}

/// The truth of a season. Lengths in metres, instants in UTC.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// The seed it was drawn from.
    pub seed: u64,
    /// The bench.
    pub bench: String,
    /// IANA name of the zone whose clocks the plant keeps.
    pub timezone: &'static str,
    /// What became of the bud.
    pub outcome: Outcome,
    /// First instant of the record.
    pub start: Time,
    /// Last instant of the record.
    pub end: Time,
    /// The bud came through the soil.
    pub emerged: Time,
    /// Growth was fastest.
    pub fastest: Time,
    /// The peak of growth, cm a day.
    pub peak_cm_day: f64,
    /// Growth fell below half of its peak for good, before the crack.
    pub slowing_began: Option<Time>,
    /// Growth ended without an opening.
    pub growth_ended: Option<Time>,
    /// First visible pulling-away of the spathe.
    pub crack: Option<Time>,
    /// The rim has reached its full advance.
    pub full_open: Option<Time>,
    /// The rim begins to come back.
    pub closing_begins: Option<Time>,
    /// It has come back.
    pub closed: Option<Time>,
    /// The spadix begins to fall.
    pub collapses: Option<Time>,
    /// Height at the crack, or at the end of growth, m.
    pub final_height_m: f64,
    /// Advance of the rim from crack to full opening, m.
    pub full_advance_m: Option<f64>,
    /// The course of the opening.
    pub opening_shape: Option<OpeningShape>,
    /// Swelling of the bud towards the side ranger, mm a day.
    pub swelling_mm_day: f64,
    /// The gap of the day before.
    pub gap_that_closes: Option<Passing>,
    /// Hot afternoons on which the spathe hung slack.
    pub slack: Vec<Passing>,
    /// Bracts that peeled before the edge, each from its first movement until it fell.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bracts: Vec<Passing>,
    /// The troubles that were on.
    pub troubles: Vec<&'static str>,
    /// When the side ranger stopped seeing the plant for good, if it did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub side_lost: Option<SideLost>,
    /// Mounts that were knocked.
    pub knocks: Vec<Knock>,
    /// Spans without power.
    pub power_cuts: Vec<Window>,
    /// Spans in which a person stood in a beam.
    pub people: Vec<Window>,
}
