//! How the service itself fares: its lines, its record, its clock.

use bloom_model::time::Time;
use schemars::JsonSchema;
use serde::Serialize;

use bloom_model::event::ClockTrouble;

/// How the service itself fares.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct WorkingFacts {
    /// Readings that the model has taken since the record began.
    pub readings_taken: u64,
    /// What readings come by, in the order of the configuration.
    pub intakes: Vec<IntakeFacts>,
    /// The record.
    pub store: StoreFacts,
    /// The broker that carries messages to people; absent where none is configured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub broker: Option<BrokerFacts>,
    /// Why the time of day is not to be trusted; absent while it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clock_doubt: Option<ClockDoubt>,
}

/// A serial line, a recording or a pipe.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct IntakeFacts {
    /// The port or the file.
    pub intake: String,
    /// Readings that came by it in this run.
    pub readings: u64,
    /// Lines and records of it that were refused in this run.
    pub refused: u64,
    /// Since when it has been out: its port is gone, or nothing has come by it for too long. Absent while it works.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub out_since: Option<Time>,
    /// Why it cannot be read; absent where its port is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

/// The broker.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct BrokerFacts {
    /// Since when it has been away, or not been reached in this run; absent while it is connected.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub away_since: Option<Time>,
    /// Why, and what to do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// Messages that it has yet to take.
    pub messages_waiting: u64,
}

/// The record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct StoreFacts {
    /// Since when it cannot be written; absent while it can.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub failing_since: Option<Time>,
    /// Readings in memory that it has yet to take: a minute's while all is well.
    pub readings_waiting: usize,
    /// Readings that did not fit into memory since it began to fail, and are lost.
    pub readings_dropped: usize,
}

/// Why the time of day is not to be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ClockDoubt {
    /// It lies before the newest reading, or before this version was made.
    NotSet,
    /// It was set forward or back.
    Stepped,
    /// No time server has confirmed it since the start.
    NotSynchronised,
}

impl From<ClockTrouble> for ClockDoubt {
    fn from(doubt: ClockTrouble) -> Self {
        match doubt {
            ClockTrouble::NotSet => Self::NotSet,
            ClockTrouble::Stepped(_) => Self::Stepped,
            ClockTrouble::NotSynchronised => Self::NotSynchronised,
        }
    }
}
