//! The keeper: the one thread that owns the model and the write side of the store.
//!
//! Readings come in from the intakes, are told to the model and gathered into a batch. An event is committed at once, synced,
//! with the readings behind it and the messages that tell it; readings without an event once a minute, for flash wears by the
//! commit. Only what is committed leaves the house, as long as the store works.

mod anew;
mod answers;
mod away;
mod booked;
#[cfg(test)]
mod clock_tests;
mod commit;
mod forwarding;
#[cfg(test)]
mod heat;
#[cfg(test)]
mod house;
mod looking;
mod outgoing;
mod people;
mod play;
mod record;
mod restore;
#[cfg(test)]
mod silence_tests;
mod state;
mod watching;
mod work;

use std::collections::BTreeMap;
use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::{Duration, Instant};

use bloom_model::bench::STATE_VERSION;
use bloom_model::event::RecordFault;
use bloom_model::reading::{BenchNumber, Observed, Reading, Taken};
use bloom_model::sign::Sign;
use bloom_model::site::Site;
use bloom_model::time::Time;
use bloom_model::watch::{HouseWatch, Input, Intake};
use chrono::TimeDelta;
use tracing::warn;

use crate::clock::Clock;
use crate::intake::IntakeNews;
use crate::intake::decoder::MOST_AHEAD;
use crate::notify::BrokerNews;
use crate::notify::standing::Standing;
use crate::store::{Batch, Checkpoint, Recorded, StoreError};
use crate::watchdog::Stage;
use answers::Answers;
use booked::Bookings;
pub use booked::{Booked, Booking};
use commit::Failing;
pub use looking::{Looking, look_through};
pub use outgoing::{Outgoing, Voice};
use people::People;
pub use play::Play;
pub use record::Record;
pub use restore::{as_mirrored, as_recorded};
pub use state::{StateError, read_state, written_state};
pub use work::Ears;

/// Readings gathered at most before they are committed, however young.
const COMMIT_AT: usize = 5_000;
/// What commands put into the store is looked for this often.
const ENTRIES_EVERY: Duration = Duration::from_secs(1);
/// Readings ahead of the machine's clock are said this often.
const BETWEEN_AHEAD: Duration = Duration::from_secs(3_600);
/// The newest values are told this often; after an event at once.
const STATES_EVERY: Duration = Duration::from_secs(10);
/// A recording that has been quiet for this long is taken for the present: from then on time passes by itself.
const PRESENT_AFTER: Duration = Duration::from_secs(60);
/// An event of an instant further past than this is kept and not told: nobody can act on it.
const TOLD_WITHIN: TimeDelta = TimeDelta::hours(24);

/// Why the keeper could not go on.
#[derive(Debug, thiserror::Error)]
pub enum KeeperError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A fault of our own.
    #[error("a bench's state cannot be written down: {0}")]
    State(#[from] postcard::Error),
}

impl KeeperError {
    /// What of the record is in the way.
    const fn fault(&self) -> RecordFault {
        match self {
            Self::Store(why) => why.fault(),
            Self::State(_) => RecordFault::Program,
        }
    }
}

/// The keeper of one site.
pub struct Keeper {
    store: Record,
    site: Site,
    clock: Arc<Clock>,
    voice: Voice,
    standing: Standing,
    /// The watch over intakes, silences, clock and tests.
    house: HouseWatch,
    batch: Batch,
    store_stage: Option<Stage>,
    /// The running number of the newest reading that the model took.
    fed: u64,
    urgent: bool,
    heard: Instant,
    last_commit: Instant,
    last_checkpoint: Instant,
    /// The ten minutes of the site's time in which the opening alarms were last said anew.
    said_anew: i64,
    /// When a reading ahead of the machine's clock was last said.
    said_ahead: Option<Instant>,
    last_entries: Instant,
    last_states: Instant,
    bookings: Bookings,
    failing: Option<Failing>,
    people: People,
    /// What was answered to people lately.
    answers: Answers,
    /// Alarms whose messages are committed and that the broker has yet to take, by the numbers of these.
    under_way: BTreeMap<i64, String>,
    looking: Looking,
    /// While rows are being sealed, after each checkpoint.
    sealing: bool,
}

impl Keeper {
    /// Takes up the work where the record says it was left; or its mirror, where the record cannot be had.
    ///
    /// # Errors
    /// A fault of our own.
    pub fn take_up(
        record: impl Into<Record>,
        site: Site,
        clock: Arc<Clock>,
        voice: Voice,
        intakes: Vec<Intake>,
        test_every_days: Option<NonZeroU32>,
    ) -> Result<Self, KeeperError> {
        let now = Instant::now();
        let house = HouseWatch::new(&site, intakes, clock.is_machine(), clock.monotonic());
        let record: Record = record.into();
        // where it cannot be had, nothing is known of it
        let (listened, known) = record.listened().unwrap_or_default();
        let people = People::restore(listened, known, clock.now());
        let mut keeper = Self {
            fed: 0,
            store: record,
            site,
            clock,
            voice,
            standing: Standing::default(),
            house,
            batch: Batch::default(),
            store_stage: None,
            urgent: false,
            heard: now,
            last_commit: now,
            last_checkpoint: now,
            said_anew: i64::MIN,
            said_ahead: None,
            last_entries: now.checked_sub(ENTRIES_EVERY).unwrap_or(now),
            last_states: now.checked_sub(STATES_EVERY).unwrap_or(now),
            bookings: Bookings::default(),
            failing: None,
            people,
            answers: Answers::default(),
            under_way: BTreeMap::new(),
            looking: Looking::default(),
            sealing: false,
        };
        keeper.begin(test_every_days)?;
        Ok(keeper)
    }

    /// What time it is for the site.
    fn now(&self) -> Time {
        let now = self.clock.now();
        match *self.clock {
            Clock::Machine(_) => now,
            Clock::Readings(_) => {
                let quiet = self.heard.elapsed().saturating_sub(PRESENT_AFTER);
                now + TimeDelta::from_std(quiet).unwrap_or_default()
            }
        }
    }

    fn hear_intake(&mut self, news: IntakeNews) {
        match news {
            IntakeNews::Readings { intake, readings, refused } => {
                self.hear_readings(intake, readings, refused)
            }
            IntakeNews::Up { intake } => self.watch(Input::IntakeUp { intake }),
            IntakeNews::Down { intake, why } => self.watch(Input::IntakeDown { intake, why }),
            // a recording's end is no trouble; its intake logs it
            IntakeNews::Ended { .. } => {}
        }
    }

    fn hear_readings(&mut self, intake: usize, mut taken: Vec<Reading>, mut refused: u64) {
        self.heard = Instant::now();
        let (came, readings) = (self.clocks(), taken.len());
        let latest = self.clock.is_machine().then(|| came.time + MOST_AHEAD);
        taken.retain(|reading| {
            if latest.is_some_and(|latest| reading.time > latest) {
                refused += 1;
                self.warn_of_ahead(intake, reading);
                return false;
            }
            self.take(reading, None, None)
        });
        self.watch_at(came, Input::Came { intake, readings, refused, taken: &taken });
    }

    fn hear_broker(&mut self, news: BrokerNews) {
        self.voice.pass_on(&news);
        match news {
            BrokerNews::Delivered(id) => {
                // written down with the next commit: until then the row is only sent again after a restart
                self.batch.sent.push(id);
                self.alarm_is_delivered(id);
            }
            BrokerNews::ToldDirectly(message) => self.told_directly(&message),
            BrokerNews::Connected { resumed } => {
                self.broker_is_there(resumed);
                // a broker that was set up anew has lost what it kept, and an alarm must be found there by whoever comes later
                self.tell_lists();
            }
            BrokerNews::Listening => self.broker_is_heard(),
            // the publisher logs it
            BrokerNews::Disconnected { why, heard_ago } => self.broker_is_gone(why, heard_ago),
        }
    }

    /// A reading of a recording beside live lines that lies ahead of the machine's clock: it would take the house's time along, and
    /// all that comes after it would be late.
    fn warn_of_ahead(&mut self, intake: usize, reading: &Reading) {
        if self.said_ahead.is_none_or(|said| said.elapsed() >= BETWEEN_AHEAD) {
            self.said_ahead = Some(Instant::now());
            let bench = self.bench_id(reading.bench).unwrap_or_default();
            warn!(
                "a reading of {bench} by {} lies ahead of the machine's clock, at {}, and is refused; set the clock of what wrote it, \
                 or read recordings of other times with `replay` or `import`",
                self.house.intakes().get(intake).map_or("a recording", Intake::name),
                reading.time
            );
        }
    }

    /// One reading: told to the model, put to the batch. Says whether the model heard it: what is late or comes again is for the
    /// record only, and shows of no sensor that it works.
    fn take(&mut self, reading: &Reading, note: Option<String>, by: Option<String>) -> bool {
        let Some(bench) = self.bench_id(reading.bench) else { return false };
        let by_hand = match reading.observed {
            Observed::Value(quantity, _) => quantity.by_hand(),
            Observed::Sign(_) => true,
        };
        // a recording that is sent again brings old signs and tape measurements; the model must not hear them twice
        if by_hand && self.store.was_fed(&bench, reading.time, reading.observed).unwrap_or(false) {
            return false;
        }
        self.clock.hear(reading.time);
        let mut events = Vec::new();
        self.site.pass_time(reading.time, &mut events);
        self.raise_all(std::mem::take(&mut events));
        let fed = match self.site.take(reading, &mut events) {
            Taken::ByTheModel => {
                self.fed += 1;
                Some(self.fed)
            }
            Taken::ByTheRecord => None,
        };
        self.batch.readings.push(Recorded {
            bench: Arc::clone(&bench),
            time: reading.time,
            observed: reading.observed,
            note,
            by,
            fed,
        });
        self.raise_all(events);
        if let (Some(_), Observed::Sign(Sign::Plain(_) | Sign::MountMoved(_))) = (fed, reading.observed) {
            // after what it raises and ends
            self.somebody_was_there(&bench, reading.time);
        }
        fed.is_some()
    }

    fn bench_id(&self, bench: BenchNumber) -> Option<Arc<str>> {
        self.site.benches().nth(usize::from(bench.0)).map(|bench| Arc::clone(&bench.spec().id))
    }

    fn checkpoint(&mut self) -> Result<(), KeeperError> {
        self.last_checkpoint = Instant::now();
        self.batch.checkpoints = self.states()?;
        Ok(())
    }

    /// The benches' states as they are.
    fn states(&self) -> Result<Vec<Checkpoint>, KeeperError> {
        let mut states = Vec::new();
        for place in 0..self.site.benches().len() {
            let number = BenchNumber(u16::try_from(place).unwrap_or(u16::MAX));
            if let (Some(bench), Some(state)) = (self.bench_id(number), self.site.state_of(number)) {
                states.push(Checkpoint {
                    bench,
                    state: written_state(state)?,
                    version: STATE_VERSION,
                    fed: self.fed,
                });
            }
        }
        Ok(states)
    }

    fn store_works(&self) {
        if let Some(stage) = &self.store_stage {
            stage.moves();
        }
    }

    fn store_rests(&self) {
        if let Some(stage) = &self.store_stage {
            stage.idles();
        }
    }
}
