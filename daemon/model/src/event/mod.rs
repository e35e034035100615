//! Something the grower should know, with the evidence for it. Its sentence is worded in `bloom-text`, and so is the payload that is
//! published: nothing here is prose.

mod air;
mod answer;
mod bud;
mod kind;
mod opening;
mod sensor;
mod sign;
#[cfg(test)]
mod tests;
mod trouble;
mod why;

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Serialize;

pub use self::air::{ClimateDetails, HeatDetails};
pub use self::answer::{Answer, AnswerDetails, WhyNothing};
pub use self::bud::{
    BudSeenDetails, DegreeDayFigures, GrowthFigures, MorningDetails, SlowingDetails, SlowingOverDetails,
};
pub use self::kind::{Details, EventClass, EventKind, EventPlace, EventRow, LifeStep};
pub use self::opening::{FullOpenDetails, FullOpenTimes, OpenHours, OpeningDetails, OpeningMoment, Window};
pub use self::sensor::{EdgeDetails, SensorDetails};
pub use self::sign::SignDetails;
pub use self::trouble::{ClockTrouble, Lost, RecordFault, SiteTrouble};
pub use self::why::{
    Doubt, FullyOpen, GivenUp, GrowsAgain, HasClosed, NotOpening, Revision, ToldBy, Unwatched,
};
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

/// Rounded to a number of decimals, so that a figure carries no digits that it does not know.
pub(crate) fn rounded(value: f64, decimals: i32) -> f64 {
    let factor = 10_f64.powi(decimals);
    (value * factor).round() / factor + 0.0
}
