//! One transaction: readings, what the model made of them, and what is to be told.

use rusqlite::TransactionBehavior;

use super::Store;
use super::alarms::{self, Alarm};
use super::checkpoint::{self, Checkpoint};
use super::entries;
use super::error::StoreError;
use super::events::{self, StoredEvent};
use super::forwarding::{self, Forwarded};
use super::heard::{self, Listened};
use super::outbox::{self, MAX_OUTBOX_BYTES, MAX_OUTBOX_ROWS, Message};
use super::readings::{self, Recorded};

/// What is to be written together. After an error it can be committed again as it is.
#[derive(Debug, Clone, Default)]
pub struct Batch {
    /// Readings and signs; the running numbers of those that the model took ascend from commit to commit.
    pub readings: Vec<Recorded>,
    /// Events, in the order in which they were raised.
    pub events: Vec<StoredEvent>,
    /// Messages to be sent.
    pub messages: Vec<Message>,
    /// Numbers of messages that the broker acknowledged.
    pub sent: Vec<i64>,
    /// Alarms as they stand now, each in place of what was there under its id.
    pub alarms: Vec<Alarm>,
    /// Numbers of entries that this batch takes up.
    pub consumed: Vec<i64>,
    /// States of benches, each in place of the one before.
    pub checkpoints: Vec<Checkpoint>,
    /// What was forwarded.
    pub forwarded: Forwarded,
    /// What was heard of people by the broker.
    pub listened: Listened,
}

/// What a commit did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Committed {
    /// Places in [`Batch::readings`] of those that the record had already; they changed nothing.
    pub known_readings: Vec<usize>,
    /// Places in [`Batch::events`] of those that the record had already.
    pub known_events: Vec<usize>,
    /// The number of each message of [`Batch::messages`] in the outbox, in their order.
    pub message_ids: Vec<i64>,
    /// Messages that gave way because the outbox was full.
    pub dropped_messages: u64,
}

impl Store {
    /// Writes a batch: all of it, synced to the disk, or nothing.
    ///
    /// # Errors
    /// The disk's troubles, or [`StoreError::Bug`] if a new reading's running number is not above those of the commits
    /// before; then nothing was written.
    pub fn commit(&mut self, batch: &Batch) -> Result<Committed, StoreError> {
        let outcome = self.try_commit(batch);
        if outcome.is_err() {
            self.series.forget();
        } else if self.log.is_none() {
            // by now there is one
            self.is_in_place();
        }
        outcome
    }

    fn try_commit(&mut self, batch: &Batch) -> Result<Committed, StoreError> {
        let at = |error| StoreError::of(&self.path, error);
        let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate).map_err(at)?;
        let fed_before = readings::newest_fed(&tx).map_err(at)?;
        let written = readings::write(&tx, &mut self.series, &batch.readings).map_err(at)?;
        if let Some(fed) = written.lowest_fed.filter(|fed| *fed <= fed_before) {
            // a replay reads commit by commit and would pass over it
            let invariant = format!("reading number {fed} came after number {fed_before} was committed");
            return Err(StoreError::Bug { path: self.path.clone(), invariant });
        }
        let known_events = events::write(&tx, &batch.events).map_err(at)?;
        outbox::remove(&tx, &batch.sent).map_err(at)?;
        let outgoing = outbox::write(&tx, &batch.messages, MAX_OUTBOX_ROWS, MAX_OUTBOX_BYTES).map_err(at)?;
        alarms::write(&tx, &batch.alarms).map_err(at)?;
        entries::consume(&tx, &batch.consumed).map_err(at)?;
        checkpoint::write(&tx, &batch.checkpoints).map_err(at)?;
        forwarding::write(&tx, &batch.forwarded).map_err(at)?;
        heard::write(&tx, &batch.listened).map_err(at)?;
        tx.commit().map_err(at)?;
        Ok(Committed {
            known_readings: written.known,
            known_events,
            message_ids: outgoing.ids,
            dropped_messages: outgoing.dropped,
        })
    }
}
