//! Something the grower should know, with the evidence for it.

mod kind;

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Serialize;

pub use self::kind::{EventClass, EventKind, EventPlace, EventRow, LifeStep};
use crate::forecast::Outlook;
use crate::time::Time;

/// How much an event asks of a person.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Good to know.
    Notice,
    /// To be looked at in working hours.
    Warning,
    /// To be acted on now; repeated until a person acknowledges it or it ends.
    Alarm,
}

impl Severity {
    /// The word in messages and in the store.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Notice => "notice",
            Self::Warning => "warning",
            Self::Alarm => "alarm",
        }
    }
}

/// One event. As JSON it is the payload that deploy/PROGRAMS.md describes; the fields that only the service needs are left out of it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Event {
    /// One sentence for a phone: what, and what to do. First, for a client may show no more than the beginning.
    pub message: String,
    /// BLOOM/EVENT/ordinal, BENCH/EVENT/time where there is no bloom, or SITE/EVENT/time where there is no bench.
    pub id: String,
    /// The instant it speaks of.
    pub time: Time,
    /// The site's name.
    pub site: Arc<str>,
    /// The bench; absent for an event of the site itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bench: Option<Arc<str>>,
    /// Accession or label of the plant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plant: Option<Arc<str>>,
    /// The bloom's id, once a bud is established.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bloom: Option<Arc<str>>,
    /// What happened.
    #[serde(rename = "event")]
    pub kind: EventKind,
    /// What it asks of a person.
    pub severity: Severity,
    /// The evidence.
    #[serde(flatten)]
    pub details: Details,
    /// Ids of standing alarms that this event ends.
    #[serde(skip)]
    pub ends: Vec<String>,
    /// When an alarm ends by itself; `None` if only an event or a person ends it.
    #[serde(skip)]
    pub stands_until: Option<Time>,
}

/// A span of instants that holds full opening with a chance of 80 %.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, serde::Deserialize, JsonSchema)]
pub struct FullOpenTimes {
    /// One in ten is earlier.
    pub earliest: Time,
    /// As likely earlier as later.
    pub likely: Time,
    /// One in ten is later.
    pub latest: Time,
}

impl FullOpenTimes {
    /// The same, to the minute, of what had not been at an instant.
    pub fn no_sooner_than(self, now: Time) -> Self {
        let Self { earliest, likely, latest } = self;
        let [earliest, likely, latest] = [earliest, likely, latest].map(|at| at.max(now).to_the_minute());
        Self { earliest, likely, latest }
    }
}

/// A window of time in which to act.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, serde::Deserialize, JsonSchema)]
pub struct Window {
    /// Its beginning.
    pub from: Time,
    /// Its end.
    pub until: Time,
}

/// Evidence by kind of event. A figure that is not known is left out, never written as zero.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Details {
    /// Nothing beside the message.
    None {},
    /// `bud-seen`.
    BudSeen(BudSeenDetails),
    /// `morning`.
    Morning(MorningDetails),
    /// `slowing`.
    Slowing(SlowingDetails),
    /// `slowing-over`.
    SlowingOver(SlowingOverDetails),
    /// `opening-tonight`.
    Opening(OpeningDetails),
    /// `stood-down`, `look`, `closed`, `aborted`, `fruit-ripe`: why.
    Reason {
        /// The evidence in words.
        reason: String,
    },
    /// `full-open` and `receptive-ending`.
    Receptive {
        /// When pollination is worth trying.
        receptive: Window,
    },
    /// `pollen-shed`.
    Collect {
        /// When to collect.
        collect: Window,
    },
    /// `sign-booked`.
    Sign {
        /// The sign as it was recorded.
        sign: String,
        /// What is forecast with it, where it tells of a bud.
        #[serde(flatten, skip_serializing_if = "Option::is_none")]
        outlook: Option<Outlook>,
    },
    /// `sign-booked` of a sign that was sent, without a time of its own, while the service did not listen: it counts for nothing until a
    /// person says when it was.
    UndatedSign {
        /// The sign as it was sent.
        sign: String,
        /// It was sent after this; absent where nothing is known of it.
        #[serde(skip_serializing_if = "Option::is_none")]
        sent_from: Option<Time>,
        /// And before this.
        sent_until: Time,
    },
    /// `climate`, `climate-over`.
    Climate(ClimateDetails),
    /// `heat`, `heat-over`.
    Heat(HeatDetails),
    /// `sensor-silent`, `sensor-stuck`, `sensor-back`.
    Sensor(SensorDetails),
    /// `edge-not-seen`, `edge-not-seen-over`.
    Edge(EdgeDetails),
    /// What befell the site itself: `intake-down`, `clock-untrusted`, `readings-behind`, and each when it is over.
    Trouble {
        /// What is affected: a port, a pipe, the clock, a section of the configuration.
        what: String,
        /// Since when.
        since: Time,
    },
}

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
    /// Why, in words.
    pub reason: String,
    /// Growth over the last day, cm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub growth_cm_day: Option<f64>,
    /// The forecast that takes the place of the one that was told with the slowing.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<Outlook>,
}

/// Evidence of `opening-tonight`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct OpeningDetails {
    /// Which quantity told: `rim-range`, `tip-range` or a sign.
    pub told_by: &'static str,
    /// Advance over the plant's own recent level, cm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub advance_cm: Option<f64>,
    /// Rate now, cm/h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_cm_hour: Option<f64>,
    /// The plant's own rate before, cm/h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub baseline_cm_hour: Option<f64>,
    /// Spadix warmer than the air by this much, K, where heat is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spadix_above_air_k: Option<f64>,
    /// First crack, as estimated.
    pub began: Time,
    /// The rim came back from a gap already far out.
    pub found_open: bool,
    /// When it will be fully open, or once it is, when that was expected.
    pub full_open: FullOpenTimes,
    /// Since when it has been fully open; in an alarm that stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_since: Option<Time>,
    /// When to pollinate, counted from `began`.
    pub receptive: Window,
}

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
}

/// Evidence of the sensor events.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SensorDetails {
    /// Which quantities: those that went at the same time, for one cause is one event.
    pub quantities: Vec<&'static str>,
    /// The newest reading of the first, or for `sensor-stuck` the start of the frozen run.
    pub since: Time,
    /// That reading's value, in the quantity's unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
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
}

/// Rounded to a number of decimals, so that a figure carries no digits that it does not know.
pub(crate) fn rounded(value: f64, decimals: i32) -> f64 {
    let factor = 10_f64.powi(decimals);
    (value * factor).round() / factor + 0.0
}
