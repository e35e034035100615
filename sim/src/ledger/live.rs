//! Living through days: the model and the store as the keeper uses them, with the readings' own time.

use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Instant;

use anthesisd::config;
use anthesisd::keeper::written_state;
use anthesisd::store::{Batch, Checkpoint, Store, StoredEvent};
use bloom_model::bench::STATE_VERSION;
use bloom_model::reading::{BenchNumber, Observed, Reading, Taken};
use bloom_model::site::Site;
use bloom_model::time::Time;
use bloom_text::Payload;
use serde::{Deserialize, Serialize};

use super::data::{BENCHES, Benches, QUANTITIES, ROUND_MS, Stamps, days_ago};
use super::{Fault, Plan, recorded, system};

/// Rounds in a commit: a minute.
const ROUNDS_A_COMMIT: i64 = 6;
/// Commits between checkpoints, after which older rows are sealed: an hour.
const COMMITS_A_CHECKPOINT: i64 = 60;

/// What it cost.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub struct Lived {
    /// Readings in the record.
    pub readings: u64,
    /// Days lived through.
    pub days: u32,
    /// Length of the file in the end.
    pub file_bytes: u64,
    /// Length of its write-ahead log in the end.
    pub log_bytes: u64,
    /// Bytes handed to the file system from the second day on.
    pub written_bytes: u64,
    /// The longest piece of sealing.
    pub longest_step_ms: f64,
    /// The most memory that was resident.
    pub peak_mib: f64,
}

impl Lived {
    pub(super) fn written_a_day(&self) -> f64 {
        self.written_bytes as f64 / f64::from(self.days.saturating_sub(1).max(1))
    }
}

/// Lives through days in a process of its own, so that the memory is that of nothing else.
pub(super) fn in_a_child(config: &Path, plan: &Plan) -> Result<Lived, Fault> {
    let output = Command::new(std::env::current_exe()?)
        .args(["live", "--days", &plan.days.to_string(), "--stamps"])
        .arg(match plan.stamps {
            Stamps::Whole => "whole",
            Stamps::Arrival => "arrival",
        })
        .arg("--config")
        .arg(config)
        .output()?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).into_owned().into());
    }
    Ok(serde_json::from_slice(&output.stdout)?)
}

/// Lives through days.
///
/// # Errors
/// The configuration's or the store's troubles.
pub fn live(config: &Path, days: u32, stamps: Stamps) -> Result<Lived, Fault> {
    let config = config::read(config).map_err(|faults| faults.to_string())?;
    let mut site =
        Site::new(config.site.clone(), config.benches.iter().map(|bench| bench.spec.clone()).collect());
    let mut store = Store::open(&config.store_path)?;
    let mut benches = Benches::new(BENCHES, stamps, days);
    let start_ms = days_ago(days);
    let (mut fed, mut written_before, mut longest_step_ms) = (0, 0, 0.0_f64);
    // to the minute before a checkpoint: a start from here has the most to tell the model again
    let commits = i64::from(days) * 1_440 - 1;
    for commit in 0..commits {
        let mut batch = Batch::default();
        let mut events = Vec::new();
        for round in commit * ROUNDS_A_COMMIT..(commit + 1) * ROUNDS_A_COMMIT {
            let mut number = 0;
            benches.round(round, |bench, time, values| {
                for (quantity, value) in QUANTITIES.into_iter().zip(values) {
                    let observed = Observed::Value(quantity, value);
                    let taken =
                        site.take(&Reading { bench: BenchNumber(number), time, observed }, &mut events);
                    let mut row = recorded(&bench.id, time, quantity, value);
                    if taken == Taken::ByTheModel {
                        fed += 1;
                        row.fed = Some(fed);
                    }
                    batch.readings.push(row);
                }
                number += 1;
            });
        }
        for event in events {
            batch.events.push(StoredEvent {
                payload: serde_json::to_string(&Payload::of(&event, site.spec()))?,
                kind: event.kind.name().to_owned(),
                id: event.id,
                bench: event.bench,
                time: event.time,
                severity: event.severity,
                after_fed: fed,
            });
        }
        let checkpoint = commit % COMMITS_A_CHECKPOINT == COMMITS_A_CHECKPOINT - 1;
        if checkpoint {
            batch.checkpoints = states(&site, fed)?;
        }
        store.commit(&batch)?;
        if checkpoint {
            let now = Time::from_unix_ms(start_ms + (commit + 1) * ROUNDS_A_COMMIT * ROUND_MS);
            let mut more = true;
            while more {
                let started = Instant::now();
                more = store.seal_step(now)?;
                longest_step_ms = longest_step_ms.max(started.elapsed().as_secs_f64() * 1e3);
            }
        }
        // the first day makes the file, and is not like the others
        if commit == 1_439 && days > 1 {
            written_before = system::written()?;
        }
    }
    Ok(Lived {
        readings: commits.unsigned_abs() * super::READINGS_A_DAY / 1_440,
        days,
        file_bytes: system::length(&config.store_path),
        log_bytes: system::log_length(&config.store_path),
        written_bytes: system::written()? - written_before,
        longest_step_ms,
        peak_mib: system::peak_mib(std::process::id())?,
    })
}

fn states(site: &Site, fed: u64) -> Result<Vec<Checkpoint>, Fault> {
    let mut states = Vec::new();
    for (bench, place) in site.benches().zip(0..) {
        if let Some(state) = site.state_of(BenchNumber(place)) {
            states.push(Checkpoint {
                bench: Arc::clone(&bench.spec().id),
                state: written_state(state)?,
                version: STATE_VERSION,
                fed,
            });
        }
    }
    Ok(states)
}
