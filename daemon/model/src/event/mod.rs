//! Something the grower should know, with the evidence for it. Its sentence is worded in `bloom-text`, and so is the payload that is
//! published: nothing here is prose.

mod air;
mod bud;
mod kind;
mod opening;
mod sensor;
mod trouble;
mod why;

use std::fmt::Display;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

pub use self::air::{ClimateDetails, HeatDetails};
pub use self::bud::{
    BudSeenDetails, DegreeDayFigures, GrowthFigures, MorningDetails, SlowingDetails, SlowingOverDetails,
};
pub use self::kind::{EventClass, EventKind, EventPlace, EventRow, LifeStep};
pub use self::opening::{FullOpenDetails, FullOpenTimes, OpenHours, OpeningDetails, OpeningMoment, Window};
pub use self::sensor::{EdgeDetails, SensorDetails};
pub use self::trouble::{ClockTrouble, Lost, RecordFault, SiteTrouble};
pub use self::why::{
    Doubt, FullyOpen, GivenUp, GrowsAgain, HasClosed, NotOpening, Revision, ToldBy, Unwatched,
};
use crate::forecast::Outlook;
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
    /// `full-open-revised`.
    FullOpenRevised {
        /// When it will be fully open, as it is known now.
        full_open: FullOpenTimes,
        /// What has changed.
        #[serde(skip)]
        revision: Revision,
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

fn as_written<S: Serializer>(value: &impl Display, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(value)
}

/// Rounded to a number of decimals, so that a figure carries no digits that it does not know.
pub(crate) fn rounded(value: f64, decimals: i32) -> f64 {
    let factor = 10_f64.powi(decimals);
    (value * factor).round() / factor + 0.0
}
