//! Something the grower should know, with the evidence for it. Its sentence is worded in `bloom-text`, and so is the payload that is
//! published: nothing here is prose.

mod kind;
mod trouble;
mod why;

use std::fmt::Display;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

pub use self::kind::{EventClass, EventKind, EventPlace, EventRow, LifeStep};
pub use self::trouble::{ClockTrouble, Lost, RecordFault, SiteTrouble};
pub use self::why::{Doubt, FullyOpen, GivenUp, GrowsAgain, HasClosed, NotOpening, ToldBy, Unwatched};
use crate::climate::Beyond;
use crate::forecast::Outlook;
use crate::heat::HottestAir;
use crate::quantity::Quantity;
use crate::seeing::Cause;
use crate::sign::Sign;
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

/// One event.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// BLOOM/EVENT/ordinal, BENCH/EVENT/time where there is no bloom, or SITE/EVENT/time where there is no bench.
    pub id: String,
    /// The instant it speaks of.
    pub time: Time,
    /// The site's name.
    pub site: Arc<str>,
    /// The bench; absent for an event of the site itself.
    pub bench: Option<Arc<str>>,
    /// Accession or label of the plant.
    pub plant: Option<Arc<str>>,
    /// The bloom's id, once a bud is established.
    pub bloom: Option<Arc<str>>,
    /// What happened.
    pub kind: EventKind,
    /// What it asks of a person.
    pub severity: Severity,
    /// The evidence.
    pub details: Details,
    /// Ids of standing alarms that this event ends.
    pub ends: Vec<String>,
    /// When an alarm ends by itself; `None` if only an event or a person ends it.
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

/// Evidence by kind of event, as its payload shows it. A figure that is not known is left out, never written as zero. What only the
/// sentence says, or the payload says in words, is not written.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Details {
    /// `test`.
    Test {},
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
    /// `stood-down`.
    StoodDown {
        /// Why.
        #[serde(skip)]
        why: NotOpening,
    },
    /// `look`.
    Look {
        /// What is odd.
        #[serde(skip)]
        doubt: Doubt,
    },
    /// `full-open`.
    FullOpen(FullOpenDetails),
    /// `receptive-ending`.
    ReceptiveEnding {
        /// When pollination is worth trying.
        receptive: Window,
    },
    /// `pollen-shed`.
    Collect {
        /// When to collect.
        collect: Window,
        /// When it is most likely shed.
        #[serde(skip)]
        likely: Time,
    },
    /// `closed`.
    Closed {
        /// What tells.
        #[serde(skip)]
        by: HasClosed,
        /// So long after the crack, h, where one is known.
        #[serde(skip)]
        after_h: Option<f64>,
    },
    /// `aborted`.
    GivenUp {
        /// Why.
        #[serde(skip)]
        why: GivenUp,
    },
    /// `fruit-ripe`.
    FruitRipe {},
    /// `spent`.
    Spent {},
    /// `sign-booked`.
    Sign(SignDetails),
    /// `sign-booked` of a sign that was sent, without a time of its own, while the service did not listen: it counts for nothing until a
    /// person says when it was.
    UndatedSign {
        /// The sign as it was sent.
        #[serde(serialize_with = "as_written")]
        #[schemars(with = "String")]
        sign: Sign,
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
        /// What befell it.
        #[serde(skip)]
        trouble: SiteTrouble,
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

/// Evidence of `opening-tonight`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct OpeningDetails {
    /// Which quantity told: `rim-range`, `tip-range`, `spadix-temperature` or `sign`.
    #[serde(serialize_with = "as_written")]
    #[schemars(with = "String")]
    pub told_by: ToldBy,
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
    /// What holds at the moment.
    #[serde(skip)]
    pub moment: OpeningMoment,
}

/// An opening at an instant, for the sentence of its alarm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpeningMoment {
    /// The instant.
    pub now: Time,
    /// Advance over the plant's own recent level, m.
    pub advance_m: f64,
    /// Rate, m/h.
    pub rate_m_h: f64,
    /// A ranger shows it.
    pub seen: bool,
    /// When it will be fully open, while it is not.
    pub full_open: Option<FullOpenTimes>,
    /// What is to be done when.
    pub hours: OpenHours,
    /// A pollination is recorded.
    pub pollinated: bool,
    /// Its pollen was collected.
    pub collected: bool,
    /// The alarm takes the place of another one, and what was told by that was no opening.
    pub takes_the_place: bool,
}

/// The hours of an open bloom, as of an instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpenHours {
    /// When pollination is worth trying.
    pub receptive: Window,
    /// The best of these hours in the next night that has any; `None` where they are over.
    pub best: Option<Window>,
    /// When to collect pollen.
    pub collect: Window,
}

/// Evidence of `full-open`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FullOpenDetails {
    /// When pollination is worth trying.
    pub receptive: Window,
    /// What tells that it is fully open.
    #[serde(skip)]
    pub by: FullyOpen,
    /// First crack, as estimated.
    #[serde(skip)]
    pub began: Time,
    /// A pollination is recorded.
    #[serde(skip)]
    pub pollinated: bool,
    /// What is to be done when.
    #[serde(skip)]
    pub hours: OpenHours,
}

/// Evidence of `sign-booked`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SignDetails {
    /// The sign as it was recorded.
    #[serde(serialize_with = "as_written")]
    #[schemars(with = "String")]
    pub sign: Sign,
    /// What is forecast with it, where it tells of a bud.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<Outlook>,
    /// It is so many of its kind, and the bloom keeps no more of them.
    #[serde(skip)]
    pub too_many: Option<usize>,
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

fn as_written<S: Serializer>(value: &impl Display, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(value)
}

fn as_named<S: Serializer>(quantities: &[Quantity], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(quantities.iter().map(|quantity| quantity.name()))
}

/// Rounded to a number of decimals, so that a figure carries no digits that it does not know.
pub(crate) fn rounded(value: f64, decimals: i32) -> f64 {
    let factor = 10_f64.powi(decimals);
    (value * factor).round() / factor + 0.0
}
