//! Evidence of air that is outside its limits, for plants or for people.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Serialize;

use crate::climate::Beyond;
use crate::heat::HottestAir;
use crate::time::Time;

/// Evidence of `climate` and `climate-over`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ClimateDetails {
    /// The name of the quantity, such as `temperature` or `vapour-pressure-deficit`.
    pub of: &'static str,
    /// The value, in `unit`.
    pub value: f64,
    /// Its unit, such as `Cel` or `kPa`.
    pub unit: &'static str,
    /// The limit crossed.
    pub limit: f64,
    /// Since when it has been outside.
    pub since: Time,
    /// The same to all its digits, with its side.
    #[serde(skip)]
    pub beyond: Beyond,
    /// Where it is over: what is still outside, short of an alarm.
    #[serde(skip)]
    pub still: Option<Beyond>,
}

/// Evidence of `heat` and `heat-over`: the air of the bench where it is hottest.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HeatDetails {
    /// The class of the US National Weather Service's chart, `danger` or `extreme-danger`; absent below them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level: Option<&'static str>,
    /// The bench where it is hottest.
    pub hottest_bench: Arc<str>,
    /// The heat index, °C, no more than the end of its scale.
    pub heat_index_c: f64,
    /// Whether it lies above the scale.
    pub above_scale: bool,
    /// Air temperature, °C.
    pub temperature_c: f64,
    /// Relative humidity, %.
    pub humidity_pct: f64,
    /// The limit that was passed, °C of heat index.
    pub limit_c: f64,
    /// The same to all its digits, with its class.
    #[serde(skip)]
    pub air: HottestAir,
}
