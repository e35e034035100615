//! Committing, and going on while the store fails.
//!
//! Two classes. Events, alarms and what is to be told are on the disk, synced, before they leave the house, and wait at most
//! [`STORE_PATIENCE`] for it: a store that fails or hangs longer than that is passed by, and takes them under the same ids when
//! it is back. Readings without an event are on the disk a minute after they came, and kept in memory, up to a bound, while
//! the store fails; what goes beyond the bound is counted and told.

use std::time::{Duration, Instant};

use bloom_model::condition::{Change, Condition, Delays};
use bloom_model::event::{EventKind, Lost, Severity, SiteTrouble};
use bloom_model::time::Time;
use tracing::{error, info, warn};

use super::{Keeper, KeeperError};
use crate::facts::StoreFacts;
use crate::notify::STORE_PATIENCE;
use crate::store::{Committed, Importance, Message, StoreError};

/// While the store fails: the next try comes after this long.
const RETRY_AFTER: Duration = Duration::from_secs(5);
/// A store that has failed for so long is told of. Shorter troubles heal: a backup holds it, a disk is slow.
const TOLD_AFTER: Duration = Duration::from_secs(60);
/// One that was told of is well again when it has taken everything for so long: a disk at its end comes and goes.
const WELL_AFTER: Duration = Duration::from_secs(120);
/// While the store fails: readings kept at most, some 25 MB; beyond them the oldest are dropped.
const READINGS_KEPT: usize = 200_000;
/// Likewise events; alarms that stand are kept beside them.
const EVENTS_KEPT: usize = 5_000;
/// Likewise messages, the least important first; alarms never.
const MESSAGES_KEPT: usize = 5_000;
/// While the store fails: what is new is offered to those who tell it this often.
const OFFERED_EVERY: Duration = Duration::from_secs(1);

/// A store that cannot be written.
#[derive(Debug)]
pub(super) struct Failing {
    since: Time,
    /// It stands once the event that tells it was raised. By the clock that nobody can set; tries and offers are paced by [`Instant`].
    fails: Condition<Duration>,
    tried: Instant,
    offered: Instant,
    /// What went beyond the bounds.
    dropped: Lost,
}

impl Failing {
    /// How long it has failed, told or not.
    fn lasted(&self, now: Duration) -> Duration {
        now.saturating_sub(self.fails.held_since().unwrap_or(now))
    }
}

impl Keeper {
    /// Commits what is gathered; if that fails, it is kept and tried again.
    pub(super) fn try_commit(&mut self) {
        match self.commit() {
            Ok(()) => self.end_of_failing(),
            Err(why) => self.store_fails(&why, false),
        }
    }

    /// Commits what is gathered, and hands over what is to be told.
    ///
    /// # Errors
    /// The store's troubles; then everything is kept as it was, and offered to those who tell it if they last.
    pub(super) fn commit(&mut self) -> Result<(), KeeperError> {
        self.last_commit = Instant::now();
        self.note_listened();
        // before, for a disk may also hang
        self.offer();
        self.store_works();
        let committed = self.store.commit(&self.batch);
        self.store_rests();
        self.committed(&committed?)
    }

    /// What a commit brings along.
    pub(super) fn committed(&mut self, committed: &Committed) -> Result<(), KeeperError> {
        if committed.dropped_messages > 0 {
            warn!(
                dropped = committed.dropped_messages,
                "the outbox is full: the oldest messages that are no alarms gave way; the broker has been away for long"
            );
        }
        let checkpointed = !self.batch.checkpoints.is_empty();
        self.sealing |= checkpointed;
        self.store.note_told(&self.batch, EventKind::Test.name());
        self.voice.hand_over(&self.batch, &committed.message_ids);
        self.alarms_go_out(&committed.message_ids);
        let told = !self.batch.messages.is_empty() || !self.batch.sent.is_empty();
        self.batch = Default::default();
        self.urgent = false;
        self.answer_people();
        self.answer_bookings();
        if told {
            self.voice.wake();
        }
        // after the commit that it belongs to, so that it is never ahead of a record that is whole
        if self.store.mirror_is_due(checkpointed) { self.write_mirror() } else { Ok(()) }
    }

    /// While the store fails: tells what cannot wait, keeps within the bounds, and tries again now and then.
    pub(super) fn bear_with_the_store(&mut self) {
        self.keep_within_bounds();
        // a broker hands over no more than some that nobody answers: they are in memory, as readings are
        self.answer_people();
        let Some(failing) = &mut self.failing else { return };
        if failing.offered.elapsed() >= OFFERED_EVERY {
            failing.offered = Instant::now();
            self.offer();
        }
        let due = |failing: &Failing| {
            failing.tried.elapsed() >= RETRY_AFTER || (failing.fails.is_ending() && self.urgent)
        };
        match self.failing.as_ref().is_some_and(due) {
            true if self.store.is_away() => self.try_take_up(false),
            true => self.try_commit(),
            false => {}
        }
    }

    /// A try is under way, or the record cannot be had from now on: the next comes after a while.
    pub(super) fn bear_from_now(&mut self) {
        let (tried, now, since) = (Instant::now(), self.clock.monotonic(), self.now());
        let failing = self.failing.get_or_insert_with(|| Failing {
            since,
            fails: Condition::coming(now),
            tried,
            offered: tried,
            dropped: Lost::default(),
        });
        failing.tried = tried;
        failing.fails.see(true, now);
    }

    /// The record as whoever shows the house sees it.
    pub(super) fn store_facts(&self) -> StoreFacts {
        let failing = self.failing.as_ref();
        StoreFacts {
            failing_since: failing.filter(|failing| !failing.fails.is_ending()).map(|failing| failing.since),
            readings_waiting: self.batch.readings.len(),
            readings_dropped: failing.map_or(0, |failing| failing.dropped.readings),
        }
    }

    /// The broker has a message that the store had not taken: it need not go by the outbox.
    pub(super) fn told_directly(&mut self, message: &Message) {
        self.alarm_is_told_directly(message);
        self.batch.messages.retain(|waiting| waiting != message);
    }

    /// Offers what waits for the store to those who tell it when the store has had its time.
    pub(super) fn offer(&mut self) {
        let failing = self.failing.as_ref().filter(|failing| !failing.fails.is_ending());
        let now = self.clock.monotonic();
        let failed_for = failing.map_or(Duration::ZERO, |failing| failing.lasted(now));
        let patience = if self.store.is_away() { Duration::ZERO } else { STORE_PATIENCE };
        self.voice.offer(&self.batch, patience.saturating_sub(failed_for));
    }

    /// The store cannot be written or had; `at_once` where that is told without waiting whether it heals.
    pub(super) fn store_fails(&mut self, why: &KeeperError, at_once: bool) {
        let monotonic = self.clock.monotonic();
        if self.failing.is_none() {
            error!(
                "{why}; readings are kept in memory, alarms go out without the store after {} s, and the next try comes in \
                 {} s",
                STORE_PATIENCE.as_secs(),
                RETRY_AFTER.as_secs()
            );
        }
        self.bear_from_now();
        let Some(failing) = &mut self.failing else { return };
        let lasts = failing.lasted(monotonic) >= TOLD_AFTER;
        if let (true, false, KeeperError::Store(why @ StoreError::Damaged { .. })) =
            (lasts, self.store.is_away(), why)
        {
            // no write will mend it: another can be put in its place while the watch goes on
            self.store.let_go(why.clone());
        }
        let since = failing.since;
        let begin = if at_once { Duration::ZERO } else { TOLD_AFTER };
        if failing.fails.turn(monotonic, Delays { begin, end: WELL_AFTER }).is_some() {
            let trouble = SiteTrouble::NotRecorded { fault: why.fault(), in_full: why.to_string() };
            self.tell_of_store(trouble, since);
        }
    }

    pub(super) fn end_of_failing(&mut self) {
        let Some(failing) = &mut self.failing else { return };
        let now = self.clock.monotonic();
        let seconds = failing.lasted(now).as_secs();
        let change = failing.fails.look(false, now, Delays { begin: TOLD_AFTER, end: WELL_AFTER });
        if failing.fails.stands() {
            // looked at again as often as while it failed
            failing.tried = Instant::now();
            return;
        }
        let Some(Failing { since, dropped, .. }) = self.failing.take() else { return };
        let Lost { readings, events, messages } = dropped;
        info!(seconds, readings, events, messages, "the store can be written again; so much was dropped");
        if let Some(Change::Over { .. }) = change {
            self.tell_of_store(SiteTrouble::RecordedAgain(dropped), since);
        }
    }

    pub(super) fn tell_of_store(&mut self, trouble: SiteTrouble, since: Time) {
        self.tell_of_trouble(trouble, self.store.path().display().to_string(), since);
    }

    fn keep_within_bounds(&mut self) {
        let Some(failing) = &mut self.failing else { return };
        let batch = &mut self.batch;
        let over = batch.readings.len().saturating_sub(READINGS_KEPT);
        for dropped in batch.readings.drain(..over) {
            dropped.fed.into_iter().for_each(|fed| self.bookings.is_dropped(fed));
        }
        failing.dropped.readings += over;
        let over = batch.events.len().saturating_sub(EVENTS_KEPT);
        let mut left = over;
        batch.events.retain(|event| {
            let dropped = left > 0 && event.severity != Severity::Alarm;
            left -= usize::from(dropped);
            !dropped
        });
        failing.dropped.events += over - left;
        for importance in [Importance::State, Importance::Event] {
            let over = batch.messages.len().saturating_sub(MESSAGES_KEPT);
            let mut left = over;
            batch.messages.retain(|message| {
                let dropped = left > 0 && message.importance == importance;
                left -= usize::from(dropped);
                !dropped
            });
            failing.dropped.messages += over - left;
        }
    }
}

#[cfg(test)]
mod tests;
