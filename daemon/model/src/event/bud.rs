//! Evidence of a bud: that it is there, how it grows, that it slows.

use schemars::JsonSchema;
use serde::Serialize;

use super::why::GrowsAgain;
use crate::forecast::Outlook;

/// Evidence of `bud-seen`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BudSeenDetails {
    /// Height at that time, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_m: Option<f64>,
    /// Growth per day, cm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub growth_cm_day: Option<f64>,
    /// What told: a ranger, the tape, a sign.
    pub told_by: &'static str,
    /// A bud that was given up is watched again.
    #[serde(skip)]
    pub taken_up: bool,
    /// The forecast.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<Outlook>,
}

/// Growth as known at an instant.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, JsonSchema)]
pub struct GrowthFigures {
    /// Height, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_m: Option<f64>,
    /// Growth over the last day, cm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub growth_cm_day: Option<f64>,
    /// Its standard deviation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub growth_cm_day_sd: Option<f64>,
    /// Growth over the last hour, cm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub growth_cm_hour: Option<f64>,
    /// Its standard deviation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub growth_cm_hour_sd: Option<f64>,
}

/// Degree-days with what they were counted by.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DegreeDayFigures {
    /// The total since the bud was seen, °C·d.
    pub degree_days: f64,
    /// Method, thresholds and cutoff.
    pub degree_days_by: String,
    /// Days of record behind the total.
    pub degree_days_covered: f64,
}

/// The daily bulletin.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MorningDetails {
    /// Height and growth.
    #[serde(flatten)]
    pub growth: GrowthFigures,
    /// Heat.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub heat: Option<DegreeDayFigures>,
    /// The forecast.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<Outlook>,
}

/// Evidence of `slowing`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SlowingDetails {
    /// Growth over the last day, cm.
    pub growth_cm_day: f64,
    /// The peak it fell from, cm a day.
    pub peak_cm_day: f64,
    /// The forecast.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<Outlook>,
}

/// Evidence of `slowing-over`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SlowingOverDetails {
    /// Why.
    #[serde(skip)]
    pub why: GrowsAgain,
    /// Growth over the last day, cm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub growth_cm_day: Option<f64>,
    /// The forecast that takes the place of the one that was told with the slowing.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<Outlook>,
}
