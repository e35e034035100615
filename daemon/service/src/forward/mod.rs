//! Forwarding to InfluxDB 2: a second reader of the record, in a thread of its own, that never holds anything up.
//!
//! The record's cursor ([`crate::store::Forwarded`]) says what was sent. What waits is read in the order of time, turned into
//! lines ([`line`]), and sent in batches; only what the server has taken counts as sent. A batch that is cut short by a crash
//! or an outage is sent again, and says the same: the server keys by series and time.

mod forwarder;
mod line;
mod server;

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use bloom_model::condition::Delays;

pub use forwarder::Forwarder;
pub use line::Labels;
pub use server::try_server;

use crate::config::{Config, ReadingsToConfig};
use crate::notify::Pace;
use crate::store::Forwarded;

/// Where to, as whom, and how fast.
#[derive(Debug, Clone)]
pub struct ForwarderSpec {
    /// The server, `http://HOST:PORT`.
    pub url: String,
    /// The organization that owns the bucket.
    pub organization: String,
    /// The bucket.
    pub bucket: String,
    /// The file with the token, read anew for every batch: a token that is put right needs no restart.
    pub token_file: PathBuf,
    /// What every line is labelled with.
    pub labels: Labels,
    /// Pauses and patience.
    pub pace: Pace,
    /// Lines in one request at most.
    pub lines_at_once: usize,
    /// Nothing was taken for so long though something waits: a warning. All was taken, and nothing was refused, for so long: it is over.
    pub behind: Delays,
}

impl ForwarderSpec {
    /// As configured.
    pub fn new(to: &ReadingsToConfig, config: &Config) -> Self {
        let plants: HashMap<_, _> = config
            .benches
            .iter()
            .filter_map(|bench| Some((Arc::clone(&bench.spec.id), bench.spec.plant.clone()?)))
            .map(|(bench, plant)| (bench, plant.to_string()))
            .collect();
        Self {
            url: to.database.clone(),
            organization: to.organization.clone(),
            bucket: to.bucket.clone(),
            token_file: to.token_file.clone(),
            labels: Labels::new(&config.site.name, plants),
            pace: Pace {
                longest_retry: Duration::from_secs(300),
                look: Duration::from_secs(10),
                ..Pace::default()
            },
            lines_at_once: 5_000,
            behind: Delays { begin: Duration::from_mins(15), end: Duration::from_mins(5) },
        }
    }

    /// What the record's cursor belongs to: another server, organization or bucket gets the whole record.
    pub fn destination(&self) -> String {
        format!("{} organization {:?} bucket {:?}", self.url, self.organization, self.bucket)
    }
}

/// What the keeper hears of the forwarder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ForwarderNews {
    /// The server has taken this.
    Forwarded(Forwarded),
    /// Something waits, and nothing has been taken for long.
    Behind {
        /// For how long.
        lasting: Duration,
        /// What happened, where, and what to do.
        why: String,
    },
    /// All has been taken again.
    Over {
        /// How long ago it began.
        lasting: Duration,
    },
}
