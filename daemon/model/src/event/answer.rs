//! Evidence of the answer to whoever took note of alarms, or said that somebody comes.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Serialize;

use crate::time::Time;

/// Evidence of `acknowledged`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct AnswerDetails {
    /// Ids of the alarms that it bears on; none where nothing came of it.
    pub alarms: Vec<String>,
    /// Who, as they gave it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Somebody comes by then: repeats wait until this instant, and nothing is acknowledged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coming: Option<Time>,
    /// Nobody said who took note of an opening: its alarm is repeated again from this instant on, unless a sign of the bench is recorded before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub comes_back: Option<Time>,
    /// What came of it.
    #[serde(skip)]
    pub answer: Answer,
    /// It is so many of the answers of this hour that changed nothing or said that somebody comes, and the last of them.
    #[serde(skip)]
    pub too_many: Option<usize>,
}

/// What came of an acknowledgement. Alarms are named by the words that their messages begin with.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// These are acknowledged, or wait for whoever comes.
    Taken {
        /// The alarms.
        of: Vec<String>,
        /// Others stand there, told too short a time before to have been meant: they go on.
        unread: Vec<String>,
    },
    /// Nothing came of it.
    Nothing(WhyNothing),
}

/// Why nothing came of an acknowledgement.
#[derive(Debug, Clone, PartialEq)]
pub enum WhyNothing {
    /// No alarm stands there.
    NoneStands {
        /// Places where alarms stand that nobody took note of.
        elsewhere: Vec<Arc<str>>,
    },
    /// These were told too short a time before to have been read.
    JustTold(Vec<String>),
    /// It was sent while nobody listened, perhaps before these were told.
    SentBefore(Vec<String>),
    /// Whoever comes would come too late: repeats wait until `latest` at most.
    TooFarAhead {
        /// The latest that repeats wait.
        latest: Time,
    },
}
