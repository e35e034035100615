//! The record's promises, each attacked.

mod book;
mod copy;
mod days;
mod faults;
mod feeding;
mod file;
mod forwarding;
mod hours;
mod import;
mod kill;
mod outgoing;
mod power;
mod record;
mod seal;
mod series;

use std::path::PathBuf;

use bloom_model::event::Severity;
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use tempfile::TempDir;

use super::{
    Batch, Depth, Importance, Message, Reader, Recorded, Replayed, Retells, Store, StoredEvent, Which,
};

/// A directory that goes with the test, and the place of a store in it.
fn place() -> (TempDir, PathBuf) {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("anthesisd.db");
    (directory, path)
}

/// The same in memory, where there is such a place: for hundreds of stores of which no sync need be waited for.
fn place_in_memory() -> (TempDir, PathBuf) {
    let memory = std::path::Path::new("/dev/shm");
    let directory = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.unwrap();
    let path = directory.path().join("anthesisd.db");
    (directory, path)
}

/// So many seconds into the night of a bloom.
fn at(seconds: i64) -> Time {
    Time::from_unix_ms(1_811_880_000_000 + seconds * 1000)
}

fn measured(bench: &str, seconds: i64, quantity: Quantity, value: f64, fed: Option<u64>) -> Recorded {
    let observed = Observed::Value(quantity, value);
    Recorded { bench: bench.into(), time: at(seconds), observed, note: None, by: None, fed }
}

fn signed(bench: &str, seconds: i64, sign: &str, fed: Option<u64>) -> Recorded {
    let observed = Observed::Sign(sign.parse().unwrap());
    Recorded { bench: bench.into(), time: at(seconds), observed, note: None, by: None, fed }
}

fn raised(id: &str, seconds: i64, after_fed: u64) -> StoredEvent {
    StoredEvent {
        id: id.to_owned(),
        bench: Some("east-3".into()),
        time: at(seconds),
        kind: "morning".to_owned(),
        severity: Severity::Notice,
        payload: format!("{{\"id\":\"{id}\"}}"),
        after_fed,
    }
}

fn message(payload: &str, importance: Importance, displaces: Option<&str>) -> Message {
    Message {
        topic: "anthesis/saltmarsh/east-3/event".to_owned(),
        payload: payload.to_owned(),
        retain: false,
        importance,
        displaces: displaces.map(str::to_owned),
    }
}

fn of_readings(readings: Vec<Recorded>) -> Batch {
    Batch { readings, ..Batch::default() }
}

/// Everything that the record holds of a bench.
fn recorded(reader: &Reader, bench: &str, which: Which) -> Vec<Recorded> {
    let mut all = Vec::new();
    reader.readings(bench, which, at(-1_000_000_000), at(1_000_000_000), |row| all.push(row)).unwrap();
    all
}

fn replayed(store: &Store, since: u64) -> Vec<Replayed> {
    let mut all = Vec::new();
    store.replay_since(since, |item| all.push(item)).unwrap();
    all
}
