//! Evidence of an opening, and the hours that follow from it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::sign::as_written;
use super::why::{FullyOpen, ToldBy};
use crate::time::Time;

/// A span of instants that holds full opening with a chance of 80 %.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Window {
    /// Its beginning.
    pub from: Time,
    /// Its end.
    pub until: Time,
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
