//! The service played over recordings: what it would have told by its own clock, with lines that fell silent, tests and repeats.
//!
//! It is the keeper itself, with the clock of a played machine, a record that is thrown away, and no broker. A recording does not say
//! by which line a reading came: all benches hang on one. Nobody takes note of an alarm, so it is repeated until it is over.

use std::num::NonZeroU32;
use std::path::Path;
use std::sync::Arc;

use bloom_model::reading::Reading;
use bloom_model::site::Site;
use bloom_model::time::Time;
use bloom_model::watch::Intake;
use chrono::TimeDelta;
use tokio::sync::watch;
use tracing::subscriber::{DefaultGuard, NoSubscriber, set_default};

use super::{COMMIT_AT, Keeper, KeeperError, Outgoing, Record, Voice};
use crate::clock::{PlayedMachine, Source};
use crate::intake::IntakeNews;
use crate::notify::topics::Topics;
use crate::notify::{Direct, Taken};
use crate::store::Importance;

/// The service looks at least this often: what is due is told no later than this after it is due.
const LOOKS_EVERY: TimeDelta = TimeDelta::seconds(10);

/// A service that is played.
pub struct Play {
    keeper: Keeper,
    machine: PlayedMachine,
    /// What it says is the play's outcome, and is not logged beside.
    _unlogged: DefaultGuard,
}

impl Play {
    /// Switches the machine on at an instant, with a record of its own in `folder`, and all benches on a line of that name.
    ///
    /// # Errors
    /// If the record cannot be begun there.
    pub fn begin(
        site: Site,
        folder: &Path,
        line: &str,
        test_every_days: Option<NonZeroU32>,
        at: Time,
    ) -> Result<Self, KeeperError> {
        let unlogged = set_default(NoSubscriber::new());
        let machine = PlayedMachine::at(at);
        let record = Record::open(&folder.join("played.db"), at, None)?;
        let outgoing = Outgoing {
            wake: watch::channel(0).0,
            states: watch::channel(Arc::new(Vec::new())).0,
            direct: Direct::default(),
            taken: Taken::default(),
        };
        let topics = Topics::new("played", &site.spec().name);
        let voice = Voice::new(topics, Some(outgoing), None, record.run(), at, false);
        let intakes = vec![Intake::of_line(line.to_owned())];
        let clock = Arc::new(machine.clock());
        let keeper = Keeper::take_up(record, site, clock, voice, intakes, test_every_days)?;
        Ok(Self { keeper, machine, _unlogged: unlogged })
    }

    /// Readings come at the instants at which they were measured; gives what is told until the last of them, a JSON object each: events,
    /// and repeats of alarms.
    ///
    /// # Errors
    /// If the record cannot be written.
    pub fn hear(&mut self, readings: Vec<Reading>) -> Result<Vec<String>, KeeperError> {
        let mut told = Vec::new();
        for reading in readings {
            while let Some(ahead) =
                Some(reading.time - self.machine.wall()).filter(|ahead| *ahead > TimeDelta::zero())
            {
                self.machine.pass(ahead.min(LOOKS_EVERY));
                self.keeper.pass_time();
                self.gather(&mut told)?;
            }
            self.keeper.hear_intake(IntakeNews::Readings { intake: 0, readings: vec![reading], refused: 0 });
            self.gather(&mut told)?;
        }
        Ok(told)
    }

    /// Takes what is to leave the house, and lets the record take the rest.
    fn gather(&mut self, told: &mut Vec<String>) -> Result<(), KeeperError> {
        if !self.keeper.urgent && self.keeper.batch.readings.len() < COMMIT_AT {
            return Ok(());
        }
        let is_event = |topic: &str| topic.ends_with("/event");
        let messages = self.keeper.batch.messages.drain(..);
        told.extend(
            messages
                .filter(|message| message.importance != Importance::State && is_event(&message.topic))
                .map(|message| message.payload),
        );
        self.keeper.commit()
    }
}
