//! Evidence of a sensor that says nothing, or nothing of use.

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

use super::why::Unwatched;
use crate::quantity::Quantity;
use crate::seeing::Cause;
use crate::time::Time;

/// Evidence of the sensor events.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SensorDetails {
    /// Which quantities: those that went at the same time, for one cause is one event.
    #[serde(serialize_with = "as_named")]
    #[schemars(with = "Vec<String>")]
    pub quantities: Vec<Quantity>,
    /// The newest reading of the first, or for `sensor-stuck` the start of the frozen run.
    pub since: Time,
    /// That reading's value, in the quantity's unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// Nothing else of the bench speaks.
    #[serde(skip)]
    pub all: bool,
    /// What nobody watches meanwhile.
    #[serde(skip)]
    pub unwatched: Option<Unwatched>,
}

/// Evidence of `edge-not-seen` and `edge-not-seen-over`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct EdgeDetails {
    /// What shows it: `impossible-figures`, `target-jumped`, `nothing-to-follow`, `readings-far-apart`, `no-swelling-no-sway`.
    pub why: &'static str,
    /// Since when.
    pub since: Time,
    /// The newest figure of the side ranger, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// Share of figures that lie where no edge can be, percent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub impossible_pct: Option<f64>,
    /// By how much the target jumped, or moved in two days, cm; above zero towards the ranger.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moved_cm: Option<f64>,
    /// Time between readings, min.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub interval_min: Option<f64>,
    /// The ranger's own noise as learnt, mm, no less than 0.7.
    pub noise_mm: f64,
    /// Chance that it opens today or tonight if it opens at all, 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub chance_today: Option<f64>,
    /// What shows it, with its figure.
    #[serde(skip)]
    pub cause: Cause,
    /// What nobody watches meanwhile.
    #[serde(skip)]
    pub unwatched: Option<Unwatched>,
    /// Where it is over: an edge is still waited for.
    #[serde(skip)]
    pub waited_for: bool,
}

fn as_named<S: Serializer>(quantities: &[Quantity], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(quantities.iter().map(|quantity| quantity.name()))
}
