//! What a bench is like now, for the state topic.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Serialize;

use super::Bench;
use super::say::rounded;
use crate::event::{DegreeDayFigures, FullOpenTimes, GrowthFigures, Window};
use crate::forecast::ToldOutlook;
use crate::quantity::Quantity;
use crate::time::Time;

/// The newest of everything. What is not known is left out.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BenchView {
    /// The newest instant of any reading.
    pub time: Time,
    /// The bench.
    pub bench: Arc<str>,
    /// The plant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plant: Option<Arc<str>>,
    /// The bloom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bloom: Option<Arc<str>>,
    /// Its stage, or `resting` where there is no bloom.
    pub stage: &'static str,
    /// Air temperature, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// Relative humidity, %.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub humidity_pct: Option<f64>,
    /// Height and growth.
    #[serde(flatten)]
    pub growth: GrowthFigures,
    /// Advance of the rim from where its ranger first saw it, cm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rim_position_cm: Option<f64>,
    /// Heat since the bud was seen.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub heat: Option<DegreeDayFigures>,
    /// The forecast that was told last, while in bud.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<ToldOutlook>,
    /// Full opening, while opening.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_open: Option<FullOpenTimes>,
    /// Since when it has been fully open, while it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_open_since: Option<Time>,
    /// When to pollinate, while open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub receptive: Option<Window>,
}

impl Bench {
    /// What the bench is like now; `None` before its first reading.
    pub fn view(&self) -> Option<BenchView> {
        let now = self.state.newest?;
        let bloom = self.state.bloom.as_ref();
        let stage = bloom.map(|bloom| bloom.stage);
        let in_bud = stage.is_some_and(|stage| stage.in_bud());
        let opening = bloom.filter(|bloom| bloom.stage.is_open()).and_then(|bloom| bloom.opening.as_ref());
        let newest = |quantity| self.state.sensors.newest(quantity).map(|held| held.value);
        Some(BenchView {
            time: now,
            bench: Arc::clone(&self.spec.id),
            plant: self.spec.plant.clone(),
            bloom: bloom.map(|bloom| Arc::clone(&bloom.id)),
            stage: stage.map_or("resting", |stage| stage.name()),
            temperature_c: newest(Quantity::Temperature),
            humidity_pct: newest(Quantity::Humidity),
            growth: self.growth_figures(now),
            rim_position_cm: self.state.rim.newest().map(|sample| rounded(sample.position_m * 100.0, 1)),
            heat: self.heat_figures(),
            outlook: bloom
                .filter(|_| in_bud)
                .and_then(|bloom| bloom.outlook)
                .map(|(forecast_at, outlook)| ToldOutlook { forecast_at, outlook }),
            full_open: self.full_open_now(now),
            full_open_since: opening.and_then(|opening| opening.full_since),
            receptive: opening.map(|opening| opening.receptive(&self.spec.profile)),
        })
    }
}
