//! The keeper's loop: hear, tell the model, commit, send.

use std::time::{Duration, Instant};

use bloom_model::time::Time;
use tokio::sync::{mpsc, watch};
use tracing::{info, warn};

use super::{Booking, COMMIT_AT, ENTRIES_EVERY, Keeper, KeeperError, STATES_EVERY};
use crate::forward::ForwarderNews;
use crate::intake::IntakeNews;
use crate::notify::{BrokerNews, Heard};
use crate::store::Batch;
use crate::watchdog::{Stage, Watch};

/// Readings without an event are committed after this long.
const COMMIT_EVERY: Duration = Duration::from_secs(60);
/// The benches' states are written down this often.
const CHECKPOINT_EVERY: Duration = Duration::from_secs(3_600);

/// What the keeper hears.
#[derive(Debug)]
pub struct Ears {
    /// Of the lines and recordings.
    pub intakes: mpsc::Receiver<IntakeNews>,
    /// Of the broker.
    pub broker: mpsc::Receiver<BrokerNews>,
    /// What people published.
    pub people: mpsc::Receiver<Heard>,
    /// What people book on the page.
    pub bookings: mpsc::Receiver<Booking>,
    /// Of the copy to the InfluxDB.
    pub forwarder: mpsc::Receiver<ForwarderNews>,
}

impl Keeper {
    /// Works until `stop` says so, then commits what is left with the benches' states.
    ///
    /// # Errors
    /// If the last commit fails.
    pub async fn work(
        mut self,
        mut ears: Ears,
        mut stop: watch::Receiver<bool>,
        watch: &Watch,
    ) -> Result<(), KeeperError> {
        let model = watch.stage("keeper");
        self.store_stage = Some(watch.stage("store"));
        self.store_rests();
        model.moves();
        loop {
            self.tend()?;
            let wait = self.next_wake().saturating_duration_since(Instant::now());
            tokio::select! {
                biased;
                () = stopped(&mut stop) => break,
                Some(news) = ears.intakes.recv() => self.hear_intake(news),
                Some(news) = ears.broker.recv() => self.hear_broker(news),
                Some(booking) = ears.bookings.recv() => self.hear_booking(booking),
                Some(heard) = ears.people.recv(), if self.people.has_room() => self.people.gather(heard),
                Some(news) = ears.forwarder.recv() => self.hear_forwarder(news),
                () = tokio::time::sleep(wait) => {}
            }
            // the lines first, and all that they have brought: nothing that anybody sends may hold an opening back
            self.hear_lines(&mut ears.intakes);
            model.moves();
            self.hear_people(&mut ears.people, &mut ears.broker);
        }
        self.hear_the_last(&mut ears, &model);
        self.pass_time();
        self.commit_the_last()?;
        info!(readings = self.fed, "the record is written to its last reading");
        Ok(())
    }

    /// What came before the stop and was not heard yet.
    fn hear_the_last(&mut self, ears: &mut Ears, model: &Stage) {
        while let Ok(news) = ears.intakes.try_recv() {
            self.hear_intake(news);
        }
        model.moves();
        // what is left of people's messages is answered to nobody, and comes again after the next start
        self.hear_all_of_broker(&mut ears.broker);
        while let Ok(news) = ears.forwarder.try_recv() {
            self.hear_forwarder(news);
        }
        while let Ok(booking) = ears.bookings.try_recv() {
            self.hear_booking(booking);
        }
    }

    /// What has come in by the lines, up to a commit's worth.
    fn hear_lines(&mut self, intakes: &mut mpsc::Receiver<IntakeNews>) {
        let most = self.batch.readings.len() + COMMIT_AT;
        while self.batch.readings.len() < most {
            match intakes.try_recv() {
                Ok(news) => self.hear_intake(news),
                Err(_) => break,
            }
        }
    }

    /// All that the plants, the house and the standing alarms are due by now.
    pub(super) fn pass_time(&mut self) -> Time {
        let now = self.clocks();
        let mut events = Vec::new();
        self.site.pass_time(now.time, &mut events);
        self.raise_all(events);
        self.look_at_house(now);
        self.repeat_alarms(now.time);
        now.time
    }

    /// Everything that is due by the clock.
    fn tend(&mut self) -> Result<(), KeeperError> {
        let now = self.pass_time();
        if self.last_entries.elapsed() >= ENTRIES_EVERY {
            self.last_entries = Instant::now();
            self.take_entries();
        }
        if self.last_checkpoint.elapsed() >= CHECKPOINT_EVERY {
            self.checkpoint()?;
        }
        let due = self.urgent
            || self.people.answers_are_due()
            || self.store.mirror_waits()
            || self.batch.readings.len() >= COMMIT_AT
            || (self.last_commit.elapsed() >= COMMIT_EVERY && self.something_waits());
        if self.failing.is_some() {
            self.bear_with_the_store();
        } else if due {
            self.try_commit();
        }
        if self.last_states.elapsed() >= STATES_EVERY {
            self.last_states = Instant::now();
            self.tell_states(now);
        }
        self.look_at_record()?;
        self.seal();
        Ok(())
    }

    /// A piece of the sealing, if there is any to do. What has come in is heard before the next piece.
    fn seal(&mut self) {
        if !self.sealing {
            return;
        }
        match self.store.seal_step(self.now()) {
            Ok(more) => self.sealing = more,
            Err(error) => {
                warn!(
                    "older readings cannot be sealed for now: {error}; the next try comes with the next checkpoint"
                );
                self.sealing = false;
            }
        }
    }

    /// Whether the batch holds anything beside what is urgent.
    pub(super) fn something_waits(&self) -> bool {
        let Batch { readings, sent, alarms, forwarded, .. } = &self.batch;
        !(readings.is_empty() && sent.is_empty() && alarms.is_empty() && forwarded.is_empty())
    }

    fn next_wake(&self) -> Instant {
        if self.sealing {
            return Instant::now();
        }
        if self.people.waits() {
            return Instant::now();
        }
        let mut wake = (self.last_entries + ENTRIES_EVERY).min(self.last_states + STATES_EVERY);
        if let Some(answer) = self.people.next_answer() {
            wake = wake.min(answer);
        }
        if self.clock.is_machine()
            && let Some(due) = [self.site.next_due(), self.standing.next_due(), self.house.test_due()]
                .into_iter()
                .flatten()
                .min()
        {
            let ahead = (due - self.now()).to_std().unwrap_or_default();
            wake = wake.min(Instant::now() + ahead);
        }
        wake
    }
}

async fn stopped(stop: &mut watch::Receiver<bool>) {
    // an error means that whoever could say stop is gone, and that is a stop too
    let _ = stop.wait_for(|stop| *stop).await;
}
