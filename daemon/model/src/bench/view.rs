//! What a bench is like now, for its topic `now`.

use std::borrow::Cow;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};

use super::Bench;
use super::raise::rounded;
use crate::event::{DegreeDayFigures, FullOpenTimes, GrowthFigures, Window};
use crate::forecast::ToldOutlook;
use crate::opening::Evidence;
use crate::quantity::by::ByVariable;
use crate::quantity::{Quantity, Variable};
use crate::spec::Units;
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
    /// The newest value of each quantity that a bench may have limits for.
    #[serde(flatten)]
    pub climate: ClimateNow,
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
    /// The chance that it is an opening, 0 to 1, while it opens before its side ranger.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probability_opening: Option<f64>,
    /// Since when it has been fully open, while it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_open_since: Option<Time>,
    /// When to pollinate, while open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub receptive: Option<Window>,
}

/// The newest value of each quantity that a bench may have limits for, by its field's name, such as `temperature_c`.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ClimateNow(ByVariable<Option<f64>>);

impl ClimateNow {
    /// Of what is measured, and what is derived from it.
    fn of(newest: impl Fn(Quantity) -> Option<f64>) -> Self {
        let mut now = ByVariable::default();
        for (variable, _) in Variable::limited() {
            now[variable] = match variable {
                Variable::Measured(quantity) => newest(quantity),
                Variable::Derived(derived) => {
                    let [temperature_c, humidity_pct] = derived.parts().map(&newest);
                    temperature_c.zip(humidity_pct).and_then(|(t, h)| derived.of_air(t, h))
                }
            };
        }
        Self(now)
    }

    /// The newest value, in the unit of its field.
    pub fn value(&self, of: Variable) -> Option<f64> {
        self.0[of]
    }

    /// What is measured: whoever reads the state derives the rest.
    fn measured() -> impl Iterator<Item = Variable> {
        let limited = Variable::limited().map(|(variable, _)| variable);
        limited.filter(|variable| matches!(variable, Variable::Measured(_)))
    }
}

impl Serialize for ClimateNow {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let known = Self::measured().filter_map(|of| Some((of.field(), self.value(of)?)));
        serializer.collect_map(known)
    }
}

impl JsonSchema for ClimateNow {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "ClimateNow".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let mut properties = Schema::default();
        for of in Self::measured() {
            let words = format!("The newest {}, {}.", of.words(), of.measure().unit(Units::Metric));
            let figure = json_schema!({ "type": "number", "format": "double", "description": words });
            properties.insert(of.field().to_owned(), figure.to_value());
        }
        let mut schema = json_schema!({ "type": "object" });
        schema.insert("properties".to_owned(), properties.to_value());
        schema
    }
}

impl Bench {
    /// The evidence on which the opening stands, if there is one.
    pub fn opening_evidence(&self) -> Option<&Evidence> {
        self.opening().map(|opening| &opening.evidence)
    }

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
            climate: ClimateNow::of(newest),
            growth: self.growth_figures(now),
            rim_position_cm: self.state.rim.newest().map(|sample| rounded(sample.position_m * 100.0, 1)),
            heat: self.heat_figures(),
            outlook: bloom
                .filter(|_| in_bud)
                .and_then(|bloom| bloom.outlook)
                .map(|(forecast_at, outlook)| ToldOutlook { forecast_at, outlook }),
            full_open: self.full_open_now(now),
            probability_opening: self.probability_opening(),
            full_open_since: opening.and_then(|opening| opening.full_since),
            receptive: opening.map(|opening| opening.receptive(&self.spec.profile)),
        })
    }
}
