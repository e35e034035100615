//! What the house is like at one moment: the one thing that the page and whoever else shows the present reads.
//!
//! The keeper lays the facts out every few seconds, and at once after an event, when what they tell is committed; whoever shows them
//! never asks the keeper and never makes it wait. Their schemas are part of what `/api/openapi.json` promises.

mod edge;
mod working;

use std::sync::Arc;

use bloom_model::bench::{Bench, BenchView};
use bloom_model::event::Severity;
use bloom_model::forecast::OpeningDates;
use bloom_model::heat::HottestAir;
use bloom_model::quantity::{Role, Variable};
use bloom_model::spec::{Band, Bands, Limits};
use bloom_model::time::Time;
use chrono::TimeDelta;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use crate::store::Alarm;
pub use edge::EdgeFacts;
pub use working::{BrokerFacts, ClockDoubt, IntakeFacts, StoreFacts, WorkingFacts};

/// The house at one moment.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HouseFacts {
    /// The moment, by the site's clock.
    pub time: Time,
    /// The site's name.
    pub site: Arc<str>,
    /// Since when the service runs.
    pub since: Time,
    /// The number of this run of the service.
    pub run: u64,
    /// Nothing of it is real.
    pub rehearsal: bool,
    /// The alarms that stand: those that nobody took note of first, among them the gravest first, then the newest.
    pub alarms: Vec<AlarmFacts>,
    /// The air where it is hottest for people; absent while no bench's air is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hottest: Option<HottestAir>,
    /// The benches, in the order of the configuration.
    pub benches: Vec<BenchFacts>,
    /// How the service itself fares.
    pub working: WorkingFacts,
}

/// An alarm that stands.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct AlarmFacts {
    /// The event's id.
    pub id: String,
    /// The bench; absent for an alarm of the site itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bench: Option<Arc<str>>,
    /// The event's name, such as `opening-tonight`.
    pub event: String,
    /// How grave it is.
    pub severity: Severity,
    /// The instant that the event speaks of.
    pub raised: Time,
    /// One sentence: what, and what to do.
    pub message: String,
    /// How often it has been repeated.
    pub repeats: u32,
    /// When a person took note of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub acknowledged: Option<Time>,
    /// Who did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub acknowledged_by: Option<String>,
    /// Nobody said who: it is repeated again from then on, unless a sign of the bench is recorded before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub comes_back: Option<Time>,
    /// Somebody comes: its repeats wait until then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coming: Option<Time>,
    /// Who comes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coming_by: Option<String>,
}

/// A bench.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BenchFacts {
    /// Its id.
    pub bench: Arc<str>,
    /// Its plant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plant: Option<Arc<str>>,
    /// The kind of plant.
    pub taxon: String,
    /// The newest reading of any of its sensors.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub newest_reading: Option<Time>,
    /// Its sensors have said nothing for longer than the configuration allows.
    pub silent: bool,
    /// Its sensors that have fallen silent or repeat one value, by the names of their quantities, such as `tip-range`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sensors_out: Vec<&'static str>,
    /// Each quantity that a bench may have limits for, against them; of those that are not of the air only what is measured or limited.
    pub climate: Vec<ClimateFacts>,
    /// Newest values, rates, stage, forecast; absent before the first reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub state: Option<BenchView>,
    /// What the forecast that was told last says of the night after it, while in bud; not where the bud has most likely stopped.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tonight: Option<Tonight>,
    /// The edge since the first crack, while it is open; for the page, which draws it.
    #[serde(skip)]
    pub edge: Option<EdgeFacts>,
}

/// The chance of opening that a forecast gave.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Tonight {
    /// The forecast's time.
    pub said: Time,
    /// Chance that it opens before the next morning, given that it opens, 0 to 1.
    pub probability: f64,
}

/// One quantity against its limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ClimateFacts {
    /// Which.
    #[serde(skip)]
    pub of: Variable,
    /// Which, with its unit.
    #[schemars(extend("enum" = limited_fields()))]
    pub quantity: &'static str,
    /// The newest value, in the unit that the quantity's name says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// From and to: outside is a warning.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limits: Option<(f64, f64)>,
    /// From and to: outside is an alarm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub alarm_limits: Option<(f64, f64)>,
    /// Where the value lies; absent without a value, or without limits.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lies: Option<Lies>,
}

fn limited_fields() -> Vec<&'static str> {
    Variable::limited().map(|(variable, _)| variable.field()).collect()
}

/// Where a value lies against its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Lies {
    /// Inside.
    Within,
    /// Below the lower limit.
    Below,
    /// Above the upper limit.
    Above,
    /// Below the lower limit of an alarm.
    FarBelow,
    /// Above the upper limit of an alarm.
    FarAbove,
}

impl HouseFacts {
    /// The bench of that id.
    pub fn bench(&self, id: &str) -> Option<&BenchFacts> {
        self.benches.iter().find(|bench| *bench.bench == *id)
    }

    /// The alarms of that bench that stand.
    pub fn alarms_of(&self, bench: &str) -> impl Iterator<Item = &AlarmFacts> {
        self.alarms.iter().filter(move |alarm| alarm.bench.as_deref() == Some(bench))
    }
}

impl AlarmFacts {
    /// Of a row of the store, with what it says now.
    pub fn of(alarm: &Alarm, said: &Value) -> Self {
        let message = said.get("message").and_then(Value::as_str);
        Self {
            id: alarm.event_id.clone(),
            bench: alarm.bench.clone(),
            event: alarm.kind.clone(),
            severity: alarm.severity,
            raised: alarm.raised,
            message: message.unwrap_or(&alarm.kind).to_owned(),
            repeats: alarm.repeats,
            acknowledged: alarm.acknowledged,
            acknowledged_by: alarm.acknowledged_by.clone(),
            comes_back: alarm.acknowledged.and(alarm.next_repeat),
            coming: alarm.coming.as_ref().map(|coming| coming.until),
            coming_by: alarm.coming.as_ref().and_then(|coming| coming.by.clone()),
        }
    }
}

impl BenchFacts {
    /// Of a bench whose view is at hand.
    pub fn of(bench: &Bench, state: Option<BenchView>, now: Time, silent_after: TimeDelta) -> Self {
        let spec = bench.spec();
        let newest_reading = bench.newest_measured();
        let tonight = state
            .as_ref()
            .and_then(|state| state.outlook)
            .and_then(|told| Some(Tonight { said: told.forecast_at, probability: told.tonight(now)? }));
        Self {
            bench: Arc::clone(&spec.id),
            plant: spec.plant.clone(),
            taxon: spec.profile.taxon.clone(),
            newest_reading,
            silent: newest_reading.is_none_or(|newest| now - newest > silent_after),
            sensors_out: bench
                .faults()
                .flat_map(|fault| &fault.quantities)
                .map(|quantity| quantity.name())
                .collect(),
            climate: climate(state.as_ref(), &spec.limits),
            tonight,
            edge: state
                .as_ref()
                .filter(|state| state.receptive.is_some())
                .and_then(|_| EdgeFacts::of(bench, now)),
            state,
        }
    }

    /// When it opens by the forecast that was told last, while in bud; not where the bud has most likely stopped.
    pub fn opens(&self) -> Option<OpeningDates> {
        self.state.as_ref()?.outlook?.outlook.dates()
    }

    /// The stage as /api and /metrics name it, `resting` where there is no bloom.
    pub fn stage(&self) -> &'static str {
        self.state.as_ref().map_or("resting", |state| state.stage)
    }
}

fn climate(state: Option<&BenchView>, limits: &Limits) -> Vec<ClimateFacts> {
    let value_of = |of| state.and_then(|state| state.climate.value(of));
    let all = Variable::limited().map(|(of, _)| ClimateFacts::new(of, value_of(of), limits[of]));
    all.filter(|facts| facts.of.role() == Role::Air || facts.value.is_some() || facts.is_limited()).collect()
}

impl ClimateFacts {
    /// A value against its limits.
    pub fn new(of: Variable, value: Option<f64>, bands: Bands) -> Self {
        let lies = value.and_then(|value| lies(value, bands.warning, bands.alarm));
        let (limits, alarm_limits) = (ends(bands.warning), ends(bands.alarm));
        Self { of, quantity: of.field(), value, limits, alarm_limits, lies }
    }

    /// Whether the bench has limits for it.
    pub fn is_limited(&self) -> bool {
        self.limits.is_some() || self.alarm_limits.is_some()
    }
}

fn ends(band: Option<Band>) -> Option<(f64, f64)> {
    band.map(|band| (band.from, band.to))
}

fn lies(value: f64, limits: Option<Band>, alarm_limits: Option<Band>) -> Option<Lies> {
    match (limits, alarm_limits) {
        (None, None) => None,
        (_, Some(alarm)) if value < alarm.from => Some(Lies::FarBelow),
        (_, Some(alarm)) if value > alarm.to => Some(Lies::FarAbove),
        (Some(limits), _) if value < limits.from => Some(Lies::Below),
        (Some(limits), _) if value > limits.to => Some(Lies::Above),
        _ => Some(Lies::Within),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_lies_within_beyond_or_far_beyond_its_limits() {
        let band = |from, to| Some(Band { from, to });
        let of = |value| lies(value, band(18.0, 35.0), band(15.0, 42.0));
        assert_eq!(of(18.0), Some(Lies::Within), "limits belong to the inside");
        assert_eq!(of(17.9), Some(Lies::Below));
        assert_eq!(of(14.9), Some(Lies::FarBelow));
        assert_eq!(of(35.1), Some(Lies::Above));
        assert_eq!(of(42.1), Some(Lies::FarAbove));
        assert_eq!(lies(99.0, None, None), None, "what has no limits is not judged");
        assert_eq!(lies(17.0, None, band(15.0, 42.0)), Some(Lies::Within));
    }
}
